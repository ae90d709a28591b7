"""What must not be lost: a killed server, two windows, reloads, and files that are not what they
claim to be."""

from __future__ import annotations

import time
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from tests.journeys.steps import opened, saved, text_of

if TYPE_CHECKING:
    from playwright.sync_api import Page
    from tests.journeys.conftest import Workbench

pytestmark = pytest.mark.browser

FLOW = '[data-place="sludge.0.flow"]:not([data-part])'
HOURS = '[data-place="production.hours_per_day"]:not([data-part])'
SITE = '[data-place="site"]'


def test_killed_server_loses_nothing(page: Page, workbench: Workbench) -> None:
    """The server is killed in the middle: what was confirmed is there after the restart, what was
    typed meanwhile waits in the browser, is said to be unsaved, and is saved by itself then."""
    study = opened(page)
    page.fill(SITE, "confirmed before")
    saved(page, 2)
    workbench.kill()
    page.fill(FLOW, "17 m3/d")
    page.locator("#state.bad").wait_for()
    assert "trying again" in page.locator("#state").inner_text()
    workbench.start()
    saved(page, 3)
    text = text_of(page, study)
    assert "confirmed before" in text
    assert "17 m3/d" in text


def test_killed_at_any_moment(page: Page, workbench: Workbench) -> None:
    """Killed right after each confirmation, three times over: every confirmed edit is there."""
    study = opened(page)
    session = page.evaluate("() => fetch('/api/session').then(r => r.json())")
    for number in range(3):
        status = page.evaluate(
            """async ([id, base, token]) => {
              const edits = [{place: "site", typed: `site ${base}`}];
              const headers = {"content-type": "application/json", "x-cakewright-token": token};
              const body = JSON.stringify({base, edits});
              return (await fetch(`/api/studies/${id}`, {method: "PATCH", headers, body})).status;
            }""",
            [study, number + 1, session["token"]],
        )
        assert status == 200
        workbench.kill()
        workbench.start()
        assert f'site = "site {number + 1}"' in text_of(page, study)


def test_two_windows_on_one_study(page: Page) -> None:
    """Another window's edit appears by itself; edits of two places merge; the same place is
    refused with words beside the field, and both texts are kept."""
    study = opened(page)
    other = page.context.new_page()
    other.goto(page.url)
    page.fill(SITE, "from the first window")
    saved(page, 2)
    other.wait_for_function(
        "() => document.querySelector('[data-place=\"site\"]').value === 'from the first window'"
    )
    other.evaluate("() => Object.defineProperty(document, 'hidden', {get: () => true})")
    page.fill(HOURS, "12 h/d")
    saved(page, 3)
    other.fill(HOURS, "14 h/d")
    box = other.locator('[data-field="production.hours_per_day"]')
    box.locator(".fault").wait_for(state="visible")
    assert "changed elsewhere" in box.locator(".fault").inner_text()
    assert '"12 h/d"' in text_of(page, study)
    page.goto(f"/studies/{study}/history")
    assert "14 h/d" in (page.locator("details pre").first.text_content() or "")


def test_reload_and_back_in_the_middle(page: Page) -> None:
    """A page left the moment something was typed: it is there when the page is opened again."""
    study = opened(page)
    page.fill(FLOW, "19 m3/d")
    page.reload()
    page.wait_for_function(
        "() => document.querySelector('[data-place=\"sludge.0.flow\"]').value === '19 m3/d'"
    )
    saved(page, 2)
    page.goto(f"/studies/{study}/line")
    page.go_back()
    assert page.input_value(FLOW) == "19 m3/d"
    assert "19 m3/d" in text_of(page, study)


@pytest.mark.parametrize(
    ("name", "data", "words"),
    [
        ("photo.toml", b"\x89PNG\r\n\x1a\n\0\0", "is not UTF-8"),
        ("binary.toml", b"a\0b", "binary"),
        ("huge.toml", b"# " + b"x" * 2_100_000, "at most"),
    ],
)
def test_wrong_study_files_are_refused_in_words(
    page: Page, tmp_path: Path, name: str, data: bytes, words: str
) -> None:
    """A picture, a binary and a flood chosen as a study file: a sentence, and nothing is kept."""
    page.goto("/")
    before = page.evaluate("() => fetch('/api/studies').then(r => r.json())")
    file = tmp_path / name
    file.write_bytes(data)
    page.set_input_files("#study-file", file)
    problem = page.locator("#home-problem")
    problem.wait_for(state="visible")
    assert words in problem.inner_text()
    assert page.evaluate("() => fetch('/api/studies').then(r => r.json())") == before


def test_own_file_comes_back_byte_for_byte(page: Page, tmp_path: Path) -> None:
    """A file with foreign line endings, a byte-order mark and comments is imported, looked at,
    and exported unchanged."""
    from cakewright.storage.studies import demo_text

    data = b"\xef\xbb\xbf" + demo_text("valley").replace("\n", "\r\n").encode()
    file = tmp_path / "mine.toml"
    file.write_bytes(data)
    page.goto("/")
    page.set_input_files("#study-file", file)
    page.wait_for_url("**/sludge")
    page.wait_for_selector(".head-figure")
    study = page.url.split("/")[4]
    page.goto(f"/studies/{study}/text")
    page.get_by_role("button", name="Save the text").click()
    with page.expect_download() as started:
        page.get_by_role("link", name="Download it").click()
    assert started.value.path().read_bytes() == data


def test_text_with_a_fault_leads_to_its_line(page: Page) -> None:
    """The text page lists faults by line; the line button marks the line in the text."""
    study = opened(page)
    page.goto(f"/studies/{study}/text")
    box = page.locator("#whole-text")
    box.fill(box.input_value().replace('"8 m3"', '"8 barrels of beer"'))
    page.get_by_role("button", name="Save the text").click()
    page.locator(".loose li").wait_for()
    page.locator(".loose button").first.click()
    marked = box.evaluate("b => b.value.slice(b.selectionStart, b.selectionEnd)")
    assert marked == 'skip_volume = "8 barrels of beer"'


def test_nothing_waits_long(page: Page) -> None:
    """Leaving a page with the server gone says so instead of hanging silently."""
    opened(page)
    page.route("**/edit", lambda route: route.abort())
    page.fill(SITE, "never arrives")
    page.locator("#state.bad").wait_for()
    started = time.monotonic()
    page.unroute("**/edit")
    saved(page, 2)
    assert time.monotonic() - started < 10
