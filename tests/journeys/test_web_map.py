"""The operating point moved on its map."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from tests.journeys.steps import opened

if TYPE_CHECKING:
    from playwright.sync_api import Page

pytestmark = pytest.mark.browser
PRESS = True


@pytest.mark.slow
def test_operating_point_is_moved(page: Page) -> None:
    """The point is dragged on the map and moved by keys: speed and cake follow at more than twenty
    readings a second, and the study stays as it was. Where the design stands, at the edge of what
    runs, the page shows what was worked out there."""
    study = opened(page, "press", "soy")
    handle = page.locator(".map .handle")
    handle.wait_for(timeout=150_000)
    before = page.locator('[data-read="screw_speed"]').inner_text()
    for name in ("cake_solids", "capture", "power", "margin"):
        assert float(page.locator(f'[data-read="{name}"]').inner_text().replace("\u2212", "-"))
    handle.scroll_into_view_if_needed()
    box = handle.locator("circle").last.bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 40, y - 25, steps=8)
    page.mouse.up()
    moved = page.locator('[data-read="screw_speed"]').inner_text()
    assert moved != before
    rate = page.evaluate(
        """() => {
          const svg = document.querySelector('.map svg'), box = svg.getBoundingClientRect();
          const at = (type, k) => svg.dispatchEvent(new PointerEvent(type, {pointerId: 1,
            clientX: box.left + box.width / 2 + k, clientY: box.top + box.height / 2}));
          svg.setPointerCapture = () => {};
          at('pointerdown', 0);
          const start = performance.now();
          for (let k = 0; k < 200; k++) at('pointermove', k % 60);
          const seconds = (performance.now() - start) / 1000;
          at('pointerup', 0);
          return 200 / seconds;
        }"""
    )
    assert rate > 20
    handle.focus()
    page.keyboard.press("ArrowLeft")
    assert "cake solids" in (handle.get_attribute("aria-valuetext") or "")
    record = page.evaluate("id => fetch(`/api/studies/${id}`).then(r => r.json())", study)
    assert record["version"] == 1
