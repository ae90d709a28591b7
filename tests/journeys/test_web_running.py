"""A plant at work in the browser: its logs brought, mapped and watched; wrong files refused."""

from __future__ import annotations

import runpy
import zipfile
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from tests.journeys.plant_logs import write_logs
from tests.journeys.steps import field, opened, saved

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Locator, Page
    from tests.journeys.conftest import Workbench

pytestmark = pytest.mark.browser
SAMPLES = (
    "feed_flow [m3/h]", "feed_solids [%]", "polymer_flow [L/h]", "polymer_strength [%]",
    "filtrate_solids [mg/L]", "filtrate_flow [m3/h]", "feed_temperature [degC]",
    "wash_flow [m3/h]", "drive_power [kW]", "cake_solids [%]",
)  # fmt: skip


def _bring(page: Page, file: Path, number: int) -> Locator:
    page.set_input_files("#log-file", file)
    form = page.locator(f'[data-map-of="{number}"]')
    form.wait_for()
    return form


def _read(page: Page) -> None:
    page.locator("#results section.week").wait_for()
    page.locator("#running-watch .documents").wait_for()


def _serious(browser: Browser, address: str) -> list[object]:
    """Serious findings of the accessibility scan, whose script needs a page that lets it in."""
    from axe_playwright_python.sync_playwright import Axe

    context = browser.new_context(bypass_csp=True)
    page = context.new_page()
    page.goto(address)
    page.evaluate("() => document.querySelectorAll('details').forEach(d => (d.open = true))")
    found = Axe().run(page).response["violations"]
    context.close()
    return [
        (each["id"], [node["target"] for node in each["nodes"]][:4])
        for each in found
        if each["impact"] in ("serious", "critical")
    ]


def test_logs_tell_how_the_plant_is_doing(
    page: Page, browser: Browser, workbench: Workbench, tmp_path: Path
) -> None:
    """Two logs are brought; a wrong unit is said beside its column and mended; the watch says what
    drifted, most likely why and what to do first, and hands out the operator's page. After a
    restart of the server the same stands there again by itself. No request leaves the machine."""
    study = opened(page, "running")
    assert "No log has been read" in page.locator("#results").inner_text()
    press, laboratory = write_logs(tmp_path)
    form = _bring(page, press, 1)
    flow = form.locator('[data-title^="feed flow"]')
    assert flow.locator("select").input_value() == "feed_flow"
    flow.locator("input:not([type])").fill("kPa")
    form.locator("[data-map-keep]").click()
    flow.locator(".fault").wait_for(state="visible")
    assert "kPa" in flow.locator(".fault").inner_text()
    flow.locator("input:not([type])").fill("m3/h")
    form.locator("[data-map-keep]").click()
    # The laboratory's values are missing still, and the promise is about them.
    page.locator("#running-watch [data-task-faults]:not([hidden])").wait_for()
    form = _bring(page, laboratory, 2)
    form.locator('[data-title="DS of the skip"] select').select_option("cake_solids")
    form.locator("[data-map-keep]").click()
    _read(page)
    words = page.locator("#results").inner_text()
    # Aged polymer leads; causes that look like it are named with it, and what decides.
    assert "Cannot be told apart yet: polymer solution aged" in words
    assert "What decides it" in words
    assert "promise" in words
    assert "cost" in words.lower()
    assert page.locator("#results .picture svg").count() >= 3
    with page.expect_download() as started:
        page.locator("#running-watch a[href$='operator.pdf']").click()
    assert started.value.path().read_bytes().startswith(b"%PDF")
    assert {url.split("/")[2] for url in workbench.sent} == {f"127.0.0.1:{workbench.port}"}
    assert _serious(browser, page.url) == []
    workbench.kill()
    workbench.start()
    page.goto(f"/studies/{study}/running")
    _read(page)
    assert "polymer solution aged" in page.locator("#results").inner_text()


def test_columns_stay_while_the_study_moves_on(page: Page, tmp_path: Path) -> None:
    """What was said of a log's columns stays when the study is edited elsewhere meanwhile."""
    study = opened(page, "running")
    form = _bring(page, write_logs(tmp_path)[0], 1)
    rows = form.locator(".map-row input:not([type])").count()
    assert rows > 5
    other = page.context.new_page()
    other.goto(f"/studies/{study}/sludge")
    other.locator(field("sludge.0.flow")).fill("15 m3/d")
    other.locator(field("sludge.0.flow")).press("Enter")
    saved(other, 2)
    other.close()
    page.bring_to_front()
    saved(page, 2)
    assert form.locator(".map-row input:not([type])").count() == rows


def test_watch_is_cancelled(page: Page, tmp_path: Path) -> None:
    """Reading is cancelled in the middle: it says so, the log and its columns stay, and it can be
    started again."""
    opened(page, "running")
    form = _bring(page, write_logs(tmp_path)[0], 1)
    form.locator("[data-map-keep]").click()
    page.locator("#running-watch [data-task-stop]").click()
    page.locator("#running-watch [data-task-step]").get_by_text("Stopped.").wait_for()
    assert page.locator("#running-watch [data-task-start]").is_visible()
    assert page.locator(".log").count() == 1


def _bomb(path: Path) -> None:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as book:
        book.writestr("[Content_Types].xml", "<Types/>")
        book.writestr("xl/worksheets/sheet1.xml", b"0" * 80_000_000)


def test_wrong_huge_and_hostile_logs_are_refused_in_words(page: Page, tmp_path: Path) -> None:
    """An empty file, a picture called a log, a workbook that unpacks to far too much, a cut-off
    table and a kind that is not read: each is refused in words, and nothing of it is kept."""
    opened(page, "running")
    files = {
        "empty.csv": (b"", "is empty"),
        "photo.parquet": (b"\x89PNG\r\n\x1a\n" + bytes(500), "not a readable Parquet"),
        "bomb.xlsx": (b"", "unpacks to"),
        "notes.docx": (b"PK", "logs are read from"),
        "lines.jsonl": (b"not json\n" * 20, "no line of"),
    }
    for name, (data, words) in files.items():
        path = tmp_path / name
        path.write_bytes(data)
        if name == "bomb.xlsx":
            _bomb(path)
        page.set_input_files("#log-file", path)
        page.locator("#log-said p").get_by_text(words).wait_for()
        assert str(tmp_path.parent) not in page.locator("#log-said").inner_text()
    page.reload()
    assert page.locator(".log").count() == 0


def test_acceptance_test_is_judged(page: Page) -> None:
    """Samples pasted from a spreadsheet are judged by what the study guarantees; rubbish among
    them is said with its place, and what was pasted stays in the box."""
    opened(page, "running")
    page.locator("#running-test summary").click()
    head = "\t".join(["run", "minutes", *SAMPLES]) + "\n"
    rows = "".join(
        f"{run}\t{minute}\t10.5\t1.7\t440\t0.3\t1200\t10.4\t20\t0.8\t5.2\t{17 + 0.1 * run}\n"
        for run in range(1, 7)
        for minute in range(0, 320, 40)
    )
    page.fill("#test-samples", head + rows.replace("1.7", "thick", 1))
    page.locator("[data-test-judge]").click()
    page.locator("#running-test [data-task-faults] li").first.wait_for()
    assert "thick" in page.locator("#running-test [data-task-faults]").inner_text()
    assert page.input_value("#test-samples").startswith("run\tminutes")
    page.fill("#test-samples", head + rows)
    page.locator("[data-test-judge]").click()
    page.locator("#results section.test-answer").wait_for()
    assert "The test" in page.locator("#results .test-answer").inner_text()
    with page.expect_download() as started:
        page.locator("#running-test a[href$='acceptance.pdf']").click()
    assert started.value.path().read_bytes().startswith(b"%PDF")


LIMITS = {
    "screw_speed": ("0.7 1/min", "2 1/min", "1.2 1/min"),
    "polymer_dose": ("6 kg/t", "14 kg/t", "9.5 kg/t"),
}
PASTE = """(cell, text) => {
  const data = new DataTransfer();
  data.setData("text/plain", text);
  cell.dispatchEvent(new ClipboardEvent("paste", {clipboardData: data, bubbles: true}));
}"""


def _measured(sheet: str, folder: Path) -> list[str]:
    """Invented readings of the planned runs, as a spreadsheet copies them, titles first."""
    made = runpy.run_path(str(Path(__file__).parents[2] / "examples/running/make_trials.py"))
    (folder / "runs.csv").write_text(sheet, encoding="utf-8")
    made["main"](folder / "runs.csv", folder)
    return (folder / "results.csv").read_text().replace(";", "\t").splitlines()


def test_tuning_runs_are_planned_filled_in_and_judged(
    page: Page, workbench: Workbench, tmp_path: Path
) -> None:
    """A wrong limit is said at its setting; the runs are planned, filled in by pasting, kept while
    the server is away, and judged: the best setting, what it saves and the next run. What was
    measured is not planned over; put away, it can still be downloaded."""
    study = opened(page, "running")
    page.get_by_role("link", name="plan runs").click()
    for key, typed in LIMITS.items():
        row = page.locator(f'[data-setting="{key}"]')
        row.locator("[data-typed=tried]").check()
        for name, value in zip(("low", "high", "today"), typed, strict=True):
            row.locator(f"[data-typed={name}]").fill(value.replace("14 kg/t", "14 km"))
    page.locator("[data-plan]").click()
    fault = page.locator('[data-fault-of="polymer_dose"]')
    fault.wait_for()
    assert "14 km" in fault.inner_text()
    page.fill('[data-setting="polymer_dose"] [data-typed=high]', "14 kg/t")
    page.locator("[data-plan]").click()
    grid = page.locator("#tuning-grid")
    grid.locator("input").first.wait_for()
    assert grid.locator("tbody tr").count() == 2**2 + 2 * 2 + 5
    sheet = page.evaluate("p => fetch(p).then(r => r.text())", page.url + "/runs.csv")
    lines = _measured(sheet, tmp_path)
    grid.locator("input").first.evaluate(PASTE, "\n".join(lines))
    grid.locator("th", has_text="cake flow").wait_for()
    workbench.kill()
    cell = grid.locator("tbody tr").first.get_by_label("cake solids, run 1")
    cell.fill("thick")
    page.locator("#state.bad", has_text="trying again").wait_for()
    workbench.start()
    page.locator("#state:not(.bad)").wait_for()
    page.locator("[data-judge]").click()
    grid.locator("td.wrong").wait_for()
    assert "thick" in page.locator("#tuning-runs [data-task-faults]").inner_text()
    cell.fill("18.2")
    page.locator("[data-judge]").click()
    answer = page.locator("#tuning-results section.answer")
    answer.wait_for()
    assert "next run" in answer.inner_text()
    with page.expect_download() as started:
        page.locator("a[href$='tuning.pdf']").click()
    assert started.value.path().read_bytes().startswith(b"%PDF")
    page.locator("[data-plan]").click()
    page.locator("#tuning-fault", has_text="put them away first").wait_for()
    page.locator("[data-put-away]").click()
    page.locator("#tuning-away a").wait_for()
    path = f"/studies/{study}/running/tuning/runs.csv?away=true"
    assert "18.2" in page.evaluate("p => fetch(p).then(r => r.text())", path)
