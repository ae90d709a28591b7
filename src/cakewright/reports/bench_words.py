"""Bench numbers as people read them."""

from __future__ import annotations

from cakewright.quantities import Basis, CalculationLine, Mark, Term, house_name
from cakewright.quantities.formula import with_numbers
from cakewright.reports.book import anchor
from cakewright.reports.chapters.annex import recomputes
from cakewright.reports.content import Calculation, Cell
from cakewright.reports.marks import badge
from cakewright.reports.numbers import Units, plain_text, power_text, shown, shown_unit, unit_text

__all__ = ["basis_cell", "calculation", "label", "per_tonne", "percent", "range_text", "unit_of",
           "value_text"]  # fmt: skip

_CURRENCY = "money"


def label(name: str) -> str:
    """Words of a house name, with a capital."""
    words = house_name(name).label
    return words[:1].upper() + words[1:]


def unit_of(name: str, units: Units) -> str:
    """Unit of a house name as text."""
    return unit_text(shown_unit(name, units), _CURRENCY)


def value_text(name: str, value: float, units: Units, digits: int = 3) -> str:
    """SI value in shown units with significant digits."""
    return plain_text(shown(name, value, units), digits)


def range_text(name: str, low: float, high: float, units: Units) -> str:
    """Two ends of an interval."""
    return f"{value_text(name, low, units)} to {value_text(name, high, units)}"


def percent(share: float | None) -> str:
    """Share in per cent, whole; ends are not rounded to certainty."""
    if share is None:
        return "–"
    if share > 0.99:
        return "> 99 %"
    return "< 1 %" if share < 0.01 else f"{100 * share:.0f} %"


def per_tonne(dose: float | None, units: Units) -> str:
    """Dose in the unit a person reads."""
    return "–" if dose is None else value_text("polymer_dose", dose, units)


def basis_cell(basis: Basis, mark: Mark, source: str) -> Cell:
    """Badge and sources of one number."""
    first = source.split()
    return Cell(source, anchor("source", first[0]) if first else "", badge(basis, mark))


def _put_in(value: float) -> str:
    """A number as it stands in a formula: powers of ten in brackets, no spaces inside."""
    if value == 0 or 1e-2 <= abs(value) < 1e4:
        return plain_text(value)
    return f"({power_text(value, 4)})"


def _term(term: Term, units: Units) -> tuple[str, str, str, str]:
    shown_value = f"{value_text(term.name, term.value, units, 4)} {unit_of(term.name, units)}"
    si = f"{plain_text(term.value)} {unit_text(house_name(term.name).unit)}"
    return term.symbol, house_name(term.name).label, shown_value.strip(), si.strip()


def calculation(line: CalculationLine, units: Units) -> Calculation:
    """One calculation line as the annex shows it."""
    return Calculation(
        anchor("line", line.key),
        line.title[:1].upper() + line.title[1:],
        line.symbol,
        line.formula,
        with_numbers(line.formula, {t.symbol: _put_in(t.value) for t in line.terms}),
        plain_text(shown(line.name, line.result, units)),
        unit_of(line.name, units),
        tuple(_term(term, units) for term in line.terms),
        line.source,
        line.valid,
        line.status.value,
        line.note,
        line.mark,
        recomputes(line),
    )
