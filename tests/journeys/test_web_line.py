"""Weeks of the line played on demand, and the guarantee's documents taken away."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from tests.journeys.steps import opened

if TYPE_CHECKING:
    from playwright.sync_api import Page

pytestmark = pytest.mark.browser


@pytest.mark.slow
def test_weeks_are_played_on_demand(page: Page) -> None:
    """The week is played only when asked for: cancelled at once, started again, watched across a
    reload; the figure and the risk of overflow appear, and an edit puts them away again."""
    opened(page, "line")
    page.wait_for_selector(".head-strip svg")
    panel = page.locator("#weeks")
    panel.get_by_role("button", name="Play the weeks").click()
    panel.get_by_role("button", name="Cancel").click()
    panel.get_by_role("button", name="Play the weeks").click()
    panel.locator("progress").wait_for(state="visible")
    page.reload()
    assert panel.locator("progress").is_visible()
    shown = page.locator("section.week")
    shown.wait_for(timeout=150_000)
    assert "% of weeks" in shown.inner_text()
    assert shown.locator(".picture svg").count() == 1
    page.fill('[data-place="outlet.distance"]:not([data-part])', "31 km")
    shown.wait_for(state="detached")
    panel.get_by_role("button", name="Play the weeks").wait_for()


def test_guarantee_documents_are_taken_away(page: Page) -> None:
    """Guarantee sheet and test protocol come as PDF and as one web page with the promises in it."""
    study = opened(page, "guarantee")
    for name, start in (("guarantee.pdf", b"%PDF"), ("protocol.html", b"<!doctype html>")):
        with page.expect_download() as started:
            page.locator(f".documents a[href$='{name}']").click()
        data = started.value.path().read_bytes()
        assert data.lower().startswith(start.lower())
    assert b"cake solids" in data
    page.goto(f"/studies/{study}/report")
    assert page.locator(".documents a[href$='workbook.xlsx']").count() == 1
