"""The workbook calculates: a coloured input reaches the answers, and they are the program's."""

from __future__ import annotations

import re
import shutil
import subprocess
from collections.abc import Mapping
from dataclasses import replace
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import openpyxl
import pytest

from cakewright.jobs import decision
from cakewright.jobs.carbon import carbon_of
from cakewright.jobs.chain import made_on, other_draws
from cakewright.jobs.choice import Choice
from cakewright.jobs.draws import StudyDraws
from cakewright.jobs.evaluate import evaluate
from cakewright.jobs.findings import Findings
from cakewright.jobs.money import money_of, running_costs
from cakewright.jobs.money_findings import money_findings
from cakewright.reports.workbook import write_workbook
from cakewright.storage.studies import demo_text
from cakewright.study import Study, parse_study

CELL = re.compile(r"(?:'([^']+)'!)?\$?([A-Z]{1,3})\$?(\d+)(?::\$?([A-Z]{1,3})\$?(\d+))?")
FIXED = "fixed by the program"
CHANGES = 20


class Kept:
    """What the program worked with, beside its findings."""

    study: Study
    draws: StudyDraws
    choice: Choice
    findings: Findings


@pytest.fixture(scope="module")
def kept() -> Kept:
    """The soy works evaluated once, without the press physics."""
    found = Kept()
    told = money_findings

    def spied(study: Study, draws: StudyDraws, feed: Any, choice: Choice, *rest: Any) -> Any:
        found.study, found.draws, found.choice = study, draws, choice
        return told(study, draws, feed, choice, *rest)

    study = parse_study(demo_text("soy"))
    study = replace(study, words={**study.words, "sampling.samples": 64})
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(decision, "money_findings", spied)
        found.findings = evaluate(study, with_press=False)
    return found


@pytest.fixture(scope="module")
def data(kept: Kept) -> bytes:
    """Its workbook."""
    return write_workbook(kept.findings)


def _named(book: Any, sheet: str, cell: str) -> set[tuple[str, str]]:
    """Cells a formula names."""
    content = book[sheet][cell]
    found: set[tuple[str, str]] = set()
    if content.data_type != "f":
        return found
    for match in CELL.finditer(content.value):
        where = match.group(1) or sheet
        if match.group(4):
            area = book[where][match.group(0).split("!")[-1].replace("$", "")]
            found |= {(where, c.coordinate) for row in area for c in row}
        else:
            found.add((where, match.group(2) + match.group(3)))
    return found


def _reached(book: Any, start: set[tuple[str, str]]) -> set[tuple[str, str]]:
    seen: set[tuple[str, str]] = set()
    todo = list(start)
    while todo:
        at = todo.pop()
        if at not in seen:
            seen.add(at)
            todo += _named(book, *at)
    return seen


def _results(book: Any) -> set[tuple[str, str]]:
    """The headline of the answer, and the sums of carbon."""
    answer, carbon = book["Answer"], book["Carbon"]
    start = next(r for r in range(1, 40) if answer[f"A{r}"].value == "headline") + 1
    stop = next(r for r in range(start, 60) if not answer[f"A{r}"].value)
    rows = [
        cell.row
        for cell in carbon["A"]
        if cell.value in ("in all", "biogenic CO2, apart: not in the sum")
    ]
    return {("Answer", f"B{r}") for r in range(start, stop)} | {("Carbon", f"D{r}") for r in rows}


def test_every_coloured_input_reaches_an_answer(data: bytes) -> None:
    """What is coloured is reached from headline or carbon; the rest says that it is fixed."""
    book = openpyxl.load_workbook(BytesIO(data))
    reached, sheet = _reached(book, _results(book)), book["Inputs"]
    rows = [r for r in range(4, sheet.max_row + 1) if sheet[f"K{r}"].value]
    plain = sheet["A5"].font.color.rgb
    coloured = [r for r in rows if sheet[f"B{r}"].font.color.rgb != plain]
    lost = [sheet[f"K{r}"].value for r in coloured if ("Inputs", f"B{r}") not in reached]
    assert lost == []
    assert len(coloured) >= 55
    for row in rows:
        fixed = sheet[f"D{row}"].value == FIXED
        assert fixed == (row not in coloured), sheet[f"K{row}"].value
        where = sheet[f"K{row}"].value
        assert not (fixed and ("Inputs", f"B{row}") in reached), where


def _changes(kept: Kept) -> dict[str, np.ndarray]:
    """Twenty random changes of all tabled inputs and of prices and factors at once."""
    decide = kept.findings.decide
    assert decide is not None
    response = decide.response
    assert response is not None
    random = np.random.default_rng(5)
    values = {
        place: point + half * np.append(0.0, random.uniform(-1.0, 1.0, CHANGES))
        for place, point, half in zip(response.places, response.point, response.half, strict=True)
        if _follows(response, place)
    }
    for place in PRICED:
        scale = np.append(1.0, random.uniform(0.5, 1.6, CHANGES))
        values[place] = kept.draws[place][0] * scale
    return values


PRICED = (
    *(f"prices.{k}" for k in ("power", "polymer", "water", "labour", "disposal", "haulage")),
    *("prices.filtrate", "prices.interest", "prices.maintenance", "prices.installation"),
    *("prices.spares", "outlet.distance", "carbon.grid", "carbon.compost_ch4"),
)


def _follows(response: Any, place: str) -> bool:
    index = response.places.index(place)
    return any(index in row[:2] for row in response.rows)


def _own(kept: Kept, values: Mapping[str, np.ndarray]) -> dict[str, np.ndarray]:
    """The program's own answers in the units shown: machine and sizes of the line kept."""
    draws = other_draws(kept.draws, values, CHANGES + 1)
    priced = kept.choice.best
    made = made_on(kept.study, draws, priced)
    bill = priced.bill
    money = money_of(kept.study, bill, made.yearly, draws)
    costs = running_costs(kept.study, bill, made.yearly, draws)
    carbon = carbon_of(kept.study, "", "", made.yearly, made.feed, draws)
    yearly, performance = made.yearly, made.option.performance
    return {
        "cake solids": 100.0 * performance.samples("cake_solids"),
        "capture": 100.0 * performance.samples("capture"),
        "polymer": 1000.0 * performance.samples("polymer_dose"),
        "run hours": 24.0 * made.plan.figures["run_hours_per_day"].samples,
        "power use, whole line": yearly.energy / yearly.dry_solids / 3600.0,
        "water, whole line": 1000.0 * yearly.water / yearly.dry_solids,
        "running cost, a year": np.asarray(sum(c for c, _ in costs.values())),
        "cost of dry solids": 1000.0 * money.per_dry_solids,
        "in all": 1000.0 * carbon.total.samples,
    }


@pytest.mark.nightly
def test_a_spreadsheet_program_gives_the_programs_own_answers(
    kept: Kept, data: bytes, tmp_path: Path
) -> None:
    """Twenty random changes of all inputs at once, recomputed, within the error told."""
    office = shutil.which("soffice")
    if office is None:
        pytest.skip("no spreadsheet program (soffice) on this machine")
    values = _changes(kept)
    own = _own(kept, values)
    for change in range(CHANGES + 1):
        book = openpyxl.load_workbook(BytesIO(data))
        sheet = book["Inputs"]
        rows = {sheet[f"K{r}"].value: r for r in range(4, sheet.max_row + 1)}
        for place, samples in values.items():
            cell = sheet[f"B{rows[place]}"]
            _, slope, offset = _linear(str(sheet[f"N{rows[place]}"].value))
            cell.value = float(samples[change]) * slope + offset
        book.save(tmp_path / f"changed{change}.xlsx")
    names = sorted(str(p) for p in tmp_path.glob("changed*.xlsx"))
    made = tmp_path / "made"
    profile = f"-env:UserInstallation=file://{tmp_path}/profile"
    subprocess.run(
        [office, profile, "--headless", "--convert-to", "xlsx", "--outdir", str(made), *names],
        check=True,
        capture_output=True,
        timeout=280,
    )
    worst: dict[str, float] = {}
    for change in range(CHANGES + 1):
        book = openpyxl.load_workbook(made / f"changed{change}.xlsx", data_only=True)
        for name, expected in own.items():
            got, error = _shown(book, name, kept)
            gap = abs(got / expected[change] - 1.0)
            worst[name] = max(gap, worst.get(name, 0.0))
            assert gap <= (error if change else 1e-6), (change, name, got, expected[change])
    assert max(worst.values()) > 1e-5


def _linear(formula: str) -> tuple[str, float, float]:
    """Cell, slope and offset of "the value shown, back to SI"."""
    match = re.fullmatch(r"=\(?(B\d+)(?:-(-?[\d.e-]+)\))?/([\d.e+-]+)", formula)
    assert match, formula
    return match.group(1), float(match.group(3)), float(match.group(2) or 0.0)


def _shown(book: Any, name: str, kept: Kept) -> tuple[float, float]:
    """What the sheet says, and the largest relative error it tells for it."""
    if name == "in all":
        sheet = book["Carbon"]
        row = next(c.row for c in sheet["A"] if c.value == name)
        return float(sheet[f"D{row}"].value), _told(book, kept)
    sheet = book["Answer"]
    row = next(c.row for c in sheet["A"] if c.value == name)
    words = str(sheet[f"I{row}"].value)
    match = re.search(r"±([\d.e+-]+) %", words)
    return float(sheet[f"B{row}"].value), float(match.group(1)) / 100 if match else 0.0


def _told(book: Any, kept: Kept) -> float:
    """Largest error of the answers of the chosen kind."""
    label = kept.choice.best.option.kind.label
    sheet = book["Tables"]
    errors = [
        row[4].value
        for row in sheet.iter_rows()
        if row[0].value == label and isinstance(row[4].value, int | float)
    ]
    return max(errors) / 100
