"""A study in the browser: from the first run to the report, with faults, undo and units."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest
from tests.journeys.steps import field, opened, saved

if TYPE_CHECKING:
    from playwright.sync_api import Page
    from tests.journeys.conftest import Workbench

pytestmark = pytest.mark.browser


def _headline(page: Page, name: str) -> str:
    figure = page.locator(".head-figure", has=page.locator("dt", has_text=name))
    return figure.locator(".head-number").inner_text()


def test_first_run_to_report(page: Page, workbench: Workbench) -> None:
    """A new user opens a demonstration, sees bands arrive, and takes the report away; nothing
    is asked of any other machine on the way."""
    study = opened(page)
    page.wait_for_selector(".head-strip svg")
    assert re.search(r"multi-disc screw press", page.locator(".sentence").inner_text())
    for chapter in ("bench", "suitability", "press", "line", "cost", "guarantee", "running"):
        page.goto(f"/studies/{study}/{chapter}")
        assert page.locator("main h1").count() == 1
    page.goto(f"/studies/{study}/report")
    with page.expect_download() as started:
        page.locator(".documents a[href$='report.pdf']").click()
    assert started.value.suggested_filename.endswith("report.pdf")
    assert started.value.path().read_bytes().startswith(b"%PDF")
    assert {url.split("/")[2] for url in workbench.sent} == {f"127.0.0.1:{workbench.port}"}


def test_an_edit_moves_the_headline(page: Page) -> None:
    """A dearer outlet: the cost in the headline rises at once, and its band follows."""
    study = opened(page)
    page.goto(f"/studies/{study}/cost")
    page.wait_for_selector(".head-strip svg")
    before = float(_headline(page, "cost of dry"))
    page.fill(field("prices.disposal"), "158 EUR/t")
    saved(page, 2)
    assert float(_headline(page, "cost of dry")) > before
    page.wait_for_selector(".head-strip svg")
    assert float(_headline(page, "cost of dry")) > before


def test_fault_beside_its_field_and_mended(page: Page) -> None:
    """A wrong unit is said beside its field with what is allowed; what was typed stays, and the
    right value takes the fault away."""
    opened(page)
    box = page.locator('[data-field="sludge.0.flow"]')
    page.fill(field("sludge.0.flow"), "14 kg")
    box.locator(".fault").wait_for(state="visible")
    words = box.locator(".fault").inner_text()
    assert "is a mass" in words
    assert "m3/d" in words
    assert page.locator(".sentence").inner_text() == "1 fault stands in the way of an answer."
    assert page.input_value(field("sludge.0.flow")) == "14 kg"
    page.reload()
    assert page.input_value(field("sludge.0.flow")) == "14 kg"
    page.fill(field("sludge.0.flow"), "15 m3/d")
    box.locator(".fault").wait_for(state="hidden")
    page.wait_for_selector(".head-figure")


def test_undo_and_redo(page: Page) -> None:
    """Undo brings the old value back into the field and the headline; redo the new one."""
    opened(page)
    peak = field("production.peak_factor")
    old = page.input_value(peak)
    page.fill(peak, "1.6")
    saved(page, 2)
    page.get_by_role("button", name="Undo").click()
    saved(page, 3)
    assert page.input_value(peak) == old
    page.get_by_role("button", name="Redo").click()
    saved(page, 4)
    assert page.input_value(peak) == "1.6"


def test_units_switch_changes_what_is_shown_and_not_what_is_kept(page: Page) -> None:
    """US units change the headline and echo each input; the text of the study stays as written."""
    study = opened(page)
    before = page.evaluate("id => fetch(`/api/studies/${id}/text`).then(r => r.text())", study)
    page.get_by_role("button", name="US", exact=True).click()
    page.locator('[data-field="sludge.0.flow"] .echo').wait_for()
    assert "gpm" in page.locator('[data-field="sludge.0.flow"] .echo').inner_text()
    after = page.evaluate("id => fetch(`/api/studies/${id}/text`).then(r => r.text())", study)
    assert after == before


def test_figure_shows_its_formula_and_source(page: Page) -> None:
    """A figure reached by keyboard opens a card with its formula, numbers and source; Escape
    closes it."""
    opened(page)
    figure = page.locator("#headline button.figure").first
    page.keyboard.press("Tab")
    figure.focus()
    page.keyboard.press("Shift+Tab")
    page.keyboard.press("Tab")
    card = page.locator("#card")
    card.wait_for(state="visible")
    assert "=" in card.locator(".equation").first.inner_text()
    assert card.locator(".origin").count() >= 2
    page.keyboard.press("Escape")
    card.wait_for(state="hidden")


def test_variant_side_by_side(page: Page) -> None:
    """A variant is made, changed and put beside the first: the changed input is listed and the
    cost differs."""
    study = opened(page)
    page.get_by_role("button", name="Make a variant").click()
    page.wait_for_url(lambda url: study not in url and "/sludge" in url)
    variant = page.url.split("/")[4]
    page.goto(f"/studies/{variant}/cost")
    page.fill(field("prices.disposal"), "99 EUR/t")
    saved(page, 3 if page.locator("#state", has_text="version 2").count() else 2)
    page.goto(f"/compare?left={study}&right={variant}")
    assert "99 EUR/t" in page.locator(".inputs-differ").inner_text()
    row = page.locator(".side-by-side tr", has=page.locator("th", has_text="cost of dry"))
    assert row.locator(".difference").inner_text().startswith("+")


def test_a_table_is_sorted_and_copied_without_formulas(page: Page) -> None:
    """By keyboard a column is sorted, and says so; the copy holds the cells, and a name that a
    spreadsheet would run as a formula arrives as text."""
    opened(page)
    page.context.grant_permissions(["clipboard-read", "clipboard-write"])
    page.fill(field("sludge.0.name"), "=1+1")
    saved(page, 2)
    figure = page.locator("#results figure", has_text="=1+1").first
    figure.locator("thead button.sort").first.focus()
    page.keyboard.press("Enter")
    assert figure.locator("thead th").first.get_attribute("aria-sort") == "ascending"
    names = figure.locator("tbody tr > :first-child").all_inner_texts()
    assert [name.strip().lower() for name in names] == sorted(n.strip().lower() for n in names)
    figure.get_by_role("button", name="Copy table").click()
    figure.get_by_role("button", name="Copied").wait_for()
    rows = [
        line.split("\t") for line in page.evaluate("navigator.clipboard.readText()").split("\n")
    ]
    assert "'=1+1" in rows[0]
    assert {len(row) for row in rows} == {len(rows[0])}
    assert not any(cell.startswith(("=", "+", "@")) for row in rows for cell in row)


def test_a_sorted_table_stays_sorted_when_new_figures_arrive(page: Page) -> None:
    """An edit elsewhere replaces the tables: the order and the button in focus stay."""
    opened(page)
    figure = page.locator("#results figure", has=page.locator("button.sort")).first
    head = figure.locator("thead th").nth(1)
    for _ in range(2):
        head.locator("button.sort").focus()
        page.keyboard.press("Enter")
    page.evaluate("document.getElementById('results').firstElementChild.dataset.old = 'yes'")
    page.fill(field("production.peak_factor"), "1.61")
    head.locator("button.sort").focus()
    saved(page, 2)
    page.wait_for_function(
        "() => document.getElementById('results').firstElementChild.dataset.old !== 'yes'"
    )
    assert head.get_attribute("aria-sort") == "descending"
    assert head.locator("button.sort").evaluate("it => it === document.activeElement")
