"""Money and carbon sheets: live from the inputs to the cost per dry solids, and they agree."""

from __future__ import annotations

from dataclasses import replace
from io import BytesIO

import numpy_financial
import openpyxl
import pytest
from tests.unit.reports.test_workbook import Recalculated, find

from cakewright.jobs.evaluate import evaluate
from cakewright.jobs.findings import Findings
from cakewright.reports.numbers import Units
from cakewright.reports.workbook import write_workbook
from cakewright.storage.studies import demo_text
from cakewright.study import Study, parse_study

PRICES = """
interest = "8 %"
interest_is = "nominal"
inflation = "2 %"
power_rise = "3 %"
residual = "10 %"
"""


def study() -> Study:
    """The soy works at nominal interest, with power that gets dearer and a residual worth."""
    text = demo_text("soy").replace("[prices]\n", f"[prices]\n{PRICES}")
    found = parse_study(text)
    return replace(found, words={**found.words, "sampling.samples": 64})


@pytest.fixture(scope="module")
def findings() -> Findings:
    """The study evaluated without the press physics."""
    return evaluate(study(), with_press=False)


@pytest.fixture(scope="module")
def book(findings: Findings) -> Recalculated:
    """Its workbook, to be worked out anew."""
    return Recalculated(write_workbook(findings))


@pytest.mark.parametrize("units", list(Units))
def test_money_and_carbon_recompute(findings: Findings, units: Units) -> None:
    """Every formula of both sheets gives its stored result, and the sheets say they agree."""
    book = Recalculated(write_workbook(findings, units))
    seen = 0
    for sheet, cell in book.formulas():
        if sheet not in ("Money", "Carbon"):
            continue
        stored, fresh = book.cached[sheet][cell].value, book.value(sheet, cell)
        seen += 1
        if isinstance(stored, str):
            assert fresh == stored == "yes", f"{sheet}!{cell}"
        else:
            assert fresh == pytest.approx(stored, rel=1e-9), f"{sheet}!{cell}"
    assert seen > 120


def test_present_worth_is_that_of_a_financial_library(
    findings: Findings, book: Recalculated
) -> None:
    """Interest, annuity and yearly sum of the sheet against numpy-financial, flow by flow."""
    rate = 1.08 / 1.02 - 1.0
    real = book.value("Money", f"C{find(book, 'Money', 'real interest i')}")
    assert real == pytest.approx(rate, rel=1e-12)
    years = int(book.value("Money", f"C{find(book, 'Money', 'life n, whole years')}"))
    bought = book.value("Money", f"C{find(book, 'Money', 'equipment')}")
    works = book.value("Money", f"C{find(book, 'Money', 'instruments, electrics, pipes, room')}")
    # Published factors: erected 1.39, engineering and construction 0.66, fee and contingency 0.15.
    whole = (bought * (1.39 + 0.66) + works) * 1.15
    flows = [-whole - 0.05 * bought] + [0.0] * years
    for name in findings.decide.money.rises if findings.decide else ():
        cost = book.value("Money", f"C{find(book, 'Money', f'{name}, a year')}")
        grown = 1.03 if name == "power" else 1.0
        for year in range(1, years + 1):
            flows[year] -= cost * grown**year
    flows[years] += whole * 0.10
    worth = -numpy_financial.npv(rate, flows)
    row = find(book, "Money", "present worth, whole life")
    assert book.value("Money", f"C{row}") == pytest.approx(worth, rel=1e-9)
    annual = -numpy_financial.pmt(rate, years, worth)
    dry = book.value("Money", f"C{find(book, 'Money', 'dry solids of a year')}")
    each = book.value("Money", f"C{find(book, 'Money', 'per dry solids')}")
    assert each == pytest.approx(annual / dry, rel=1e-9)


def test_a_changed_price_reaches_the_whole(findings: Findings) -> None:
    """Twice the interest in the inputs lowers the present worth; the sheet then says no."""
    book = Recalculated(write_workbook(findings))
    row = find(book, "Money", "present worth, whole life")
    before = book.value("Money", f"C{row}")
    given = find(book, "Inputs", "prices.interest", 11)
    book.change("Inputs", f"B{given}", 2 * book.book["Inputs"][f"B{given}"].value)
    assert book.value("Money", f"C{row}") < 0.9 * before
    assert book.value("Money", f"C{find(book, 'Money', 'agrees')}") == "no"


def test_a_changed_factor_reaches_the_carbon(findings: Findings) -> None:
    """A grid with no emission takes the power out of the sum and leaves the biogenic part."""
    book = Recalculated(write_workbook(findings))
    row = next(
        r
        for r in range(find(book, "Carbon", "CO2 equivalent by item"), 200)
        if book.book["Carbon"][f"A{r}"].value == "power"
    )
    whole = find(book, "Carbon", "in all")
    before, power = book.value("Carbon", f"D{whole}"), book.value("Carbon", f"D{row}")
    given = find(book, "Inputs", "carbon.grid", 11)
    book.change("Inputs", f"B{given}", 0.0)
    assert power > 1.0
    assert book.value("Carbon", f"D{whole}") == pytest.approx(before - power, rel=1e-9)
    apart = find(book, "Carbon", "biogenic CO2, apart: not in the sum")
    beside = book.value("Carbon", f"D{apart}")
    assert beside == pytest.approx(book.cached["Carbon"][f"D{apart}"].value, rel=1e-9)


def test_factors_carry_source_and_mark(book: Recalculated) -> None:
    """The polymer's factor is marked as recalled, the haulage's has its source."""
    polymer = [c.value for c in book.book["Carbon"][find(book, "Carbon", "polymer")]]
    haulage = [c.value for c in book.book["Carbon"][find(book, "Carbon", "haulage")]]
    assert "from memory" in polymer
    assert "L86" in haulage


def test_typed_notes_stay_texts(findings: Findings) -> None:
    """A factor's note that begins like a formula is written as text."""
    carbon = findings.decide.carbon if findings.decide else None
    assert carbon is not None
    assert findings.decide is not None
    factor = replace(carbon.factors[0], note="=1+1 typed")
    evil = replace(carbon, factors=(factor, *carbon.factors[1:]), notes=("=2+2 typed",))
    data = write_workbook(replace(findings, decide=replace(findings.decide, carbon=evil)))
    cells = [
        cell
        for row in openpyxl.load_workbook(BytesIO(data))["Carbon"].iter_rows()
        for cell in row
        if isinstance(cell.value, str) and "typed" in cell.value
    ]
    assert len(cells) == 2
    assert all(cell.data_type == "s" for cell in cells)
