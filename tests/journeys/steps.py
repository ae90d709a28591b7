"""What most journeys in the browser do: open a demonstration, wait until an edit is kept."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from playwright.sync_api import Page

__all__ = ["field", "opened", "saved", "text_of"]


def opened(page: Page, chapter: str = "sludge", demo: str = "soy") -> str:
    """A new study from a demonstration, at a chapter; its id."""
    page.goto("/")
    page.get_by_role("button", name=f"Open “{demo}”").click()
    page.wait_for_url("**/sludge")
    study = page.url.split("/")[4]
    if chapter != "sludge":
        page.goto(f"/studies/{study}/{chapter}")
    return study


def field(place: str) -> str:
    """Selector of the field of one key."""
    return f'[data-place="{place}"]:not([data-part])'


def saved(page: Page, version: int) -> None:
    """Wait until a version is kept."""
    page.wait_for_function(
        "n => document.getElementById('state').textContent.startsWith(`saved, version ${n}`)",
        arg=version,
    )


def text_of(page: Page, study: str) -> str:
    """The study's text as the server has it."""
    return str(page.evaluate("id => fetch(`/api/studies/${id}/text`).then(r => r.text())", study))
