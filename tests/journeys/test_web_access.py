"""Everybody can use it: an accessibility scan, the keyboard, a narrow phone, a dark room."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from tests.journeys.steps import opened

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page
    from tests.journeys.conftest import Workbench

pytestmark = pytest.mark.browser

PAGES = (
    "sludge", "bench", "suitability", "press", "line", "cost", "guarantee", "running", "report",
    "text", "history", "running/tuning",
)  # fmt: skip


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_no_serious_finding(browser: Browser, workbench: Workbench, scheme: str) -> None:
    """The scan of every page in light and dark has no serious or critical finding."""
    from axe_playwright_python.sync_playwright import Axe

    context = browser.new_context(
        base_url=workbench.address,
        color_scheme="dark" if scheme == "dark" else "light",
        bypass_csp=True,  # The scanner puts its own script into the page.
    )
    page = context.new_page()
    study = opened(page)
    page.wait_for_selector(".head-strip svg")
    found = []
    pages = ("/", f"/compare?left={study}&right={study}", *PAGES)
    # Colours are what differs in the dark: a few pages carry them all.
    for path in pages if scheme == "light" else ("/", "sludge", "suitability", "line"):
        page.goto(path if path.startswith("/") else f"/studies/{study}/{path}")
        if path in ("cost", "guarantee"):
            page.locator("#results section").first.wait_for(timeout=90_000)
        for each in Axe().run(page).response["violations"]:
            if each["impact"] in ("serious", "critical"):
                found.append((path, each["id"], [n["target"] for n in each["nodes"]][:4]))
    context.close()
    assert found == []


def test_narrow_phone(browser: Browser, workbench: Workbench) -> None:
    """At 360 px no page is wider than the screen, and the headline stays in view."""
    context = browser.new_context(
        base_url=workbench.address, viewport={"width": 360, "height": 740}, has_touch=True
    )
    page = context.new_page()
    study = opened(page)
    page.wait_for_selector(".head-strip svg")
    for path in ("/", *PAGES):
        page.goto(path if path.startswith("/") else f"/studies/{study}/{path}")
        assert page.evaluate("() => document.documentElement.scrollWidth") <= 360, path
    page.goto(f"/studies/{study}/line")
    page.evaluate("() => window.scrollTo(0, 1500)")
    box = page.locator("#headline").bounding_box()
    assert box is not None
    assert box["y"] == pytest.approx(0, abs=1)
    assert box["height"] < 740 * 0.3
    context.close()


def test_by_keyboard_alone(page: Page) -> None:
    """Skip link, a field reached by tab, its explanation opened and the undo shortcut: no mouse."""
    opened(page)
    page.wait_for_selector(".head-strip svg")
    page.keyboard.press("Tab")
    assert page.evaluate("() => document.activeElement.textContent") == "Skip to the page"
    page.focus('[data-place="site"]')
    page.keyboard.press("Control+A")
    page.keyboard.type("by keyboard")
    page.wait_for_function(
        "() => document.getElementById('state').textContent.includes('version 2')"
    )
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    assert page.locator("#f-site-more").is_visible()
    page.keyboard.press("Control+Z")
    page.wait_for_function(
        "() => document.querySelector('[data-place=\"site\"]').value === 'Soy works (invented)'"
    )
