"""Summary of many studies on one page: what was chosen, what it costs, what failed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from cakewright.jobs.portfolio import Outcome
from cakewright.machines import Kind, machine_types
from cakewright.quantities import Band
from cakewright.reports.content import (
    Block,
    Bullets,
    Cell,
    Column,
    Paragraph,
    Picture,
    Section,
    Table,
)
from cakewright.reports.figures.bands import BandRow, band_chart
from cakewright.reports.numbers import (
    Units,
    decimals_for,
    number_text,
    shown,
    shown_unit,
    unit_text,
)
from cakewright.reports.running_pages import sections_page

__all__ = ["portfolio_page", "portfolio_text"]

_SHOWN = ("cake_solids", "capture", "polymer_dose", "run_hours_per_day", "cost_specific")
_MOST_DRAWN = 60
# A dash that a line does not break at.
_UNBROKEN = "\u2060–\u2060"


def portfolio_page(outcomes: Sequence[Outcome], title: str, units: Units = Units.SI) -> str:
    """The summary as one HTML page."""
    good = [outcome for outcome in outcomes if not outcome.failed]
    failed = [outcome for outcome in outcomes if outcome.failed]
    sections = [Section("answer", "In short", _short(good, failed))]
    if good:
        sections.append(Section("studies", "Studies", (_table(good, units),)))
        sections.append(Section("bands", "Bands", tuple(_charts(good, units))))
    if failed:
        sections.append(Section("failed", "Studies that failed", (_failures(failed),)))
    invented = any(outcome.study.get("invented") for outcome in good)
    words = f"{len(outcomes)} studies"
    return sections_page(title, words, sections, invented=invented)


def _short(good: Sequence[Outcome], failed: Sequence[Outcome]) -> tuple[Block, ...]:
    chosen = Counter(str(outcome.study["machine"]) for outcome in good)
    lead = f"{len(good)} studies have an answer, {len(failed)} failed."
    items = tuple(f"{_label(machine)}: {count}" for machine, count in chosen.most_common())
    asked = Counter(str(outcome.study.get("ask_next", "")) for outcome in good)
    asked.pop("", None)
    next_items = tuple(f"{what}: {count}" for what, count in asked.most_common(5))
    blocks: list[Block] = [Paragraph(lead, "lead")]
    if items:
        blocks.append(Bullets("Chosen", items))
    nearest = tuple(o.name for o in good if not o.study.get("meets", True))
    if nearest:
        blocks.append(Bullets("The nearest only: no kind meets everything", nearest))
    if next_items:
        blocks.append(Bullets("Worth asking first", next_items))
    return tuple(blocks)


def _label(machine: str) -> str:
    return machine_types()[Kind(machine)].label


def _row_of(outcome: Outcome, name: str) -> dict[str, float] | None:
    return next((dict(row) for row in outcome.figures if row["name"] == name), None)


def _unit(name: str, units: Units, currency: str = "") -> str:
    return unit_text(shown_unit(name, units), currency)


def _currency(good: Sequence[Outcome]) -> str:
    """The one currency of all studies, or none if they differ: then each row names its own."""
    found = {str(outcome.study["currency"]) for outcome in good}
    return found.pop() if len(found) == 1 else ""


def _table(good: Sequence[Outcome], units: Units) -> Table:
    from cakewright.quantities import house_name

    currency = _currency(good)
    columns = (
        Column("study", share=2.2),
        Column("machine", share=1.6),
        Column("frame", share=1.3),
        *(
            Column(
                house_name(name).label, unit=_unit(name, units, currency), align="right", share=1.3
            )
            for name in _SHOWN
        ),
        Column("money of", share=0.8),
        Column("ask next", share=1.6),
    )
    rows = tuple(_study_row(outcome, units) for outcome in good)
    caption = "Point case and, in brackets, P10–P90."
    return Table(columns, rows, caption, kind="dense")


def _study_row(outcome: Outcome, units: Units) -> tuple[Cell, ...]:
    study = outcome.study
    count = "" if study["machines"] == 1 else f"{study['machines']} × "
    return (
        Cell(outcome.name),
        Cell(_label(str(study["machine"]))),
        Cell(f"{count}{study['frame']}"),
        *(Cell(_value(outcome, name, units)) for name in _SHOWN),
        Cell(f"{study['currency']} {study['price_year']}"),
        Cell(str(study.get("ask_next", ""))),
    )


def _value(outcome: Outcome, name: str, units: Units) -> str:
    row = _row_of(outcome, name)
    if row is None:
        return "–"
    digits = decimals_for(name, (row["point"], row["p10"], row["p90"]), units)
    point, low, high = (
        number_text(shown(name, row[key], units), digits) for key in ("point", "p10", "p90")
    )
    return point if low == high else f"{point} ({low}{_UNBROKEN}{high})"


def _charts(good: Sequence[Outcome], units: Units) -> list[Block]:
    drawn = list(good)[:_MOST_DRAWN]
    names = ("cake_solids", "cost_specific") if _currency(good) else ("cake_solids",)
    charts: list[Block] = [_chart(drawn, name, units, _currency(good)) for name in names]
    if len(good) > _MOST_DRAWN:
        words = f"The first {_MOST_DRAWN} of {len(good)} studies are drawn."
        charts.append(Paragraph(words, "note"))
    return charts


def _chart(drawn: Sequence[Outcome], name: str, units: Units, currency: str) -> Picture:
    from cakewright.quantities import house_name

    rows = []
    for outcome in drawn:
        row = _row_of(outcome, name)
        if row is None:
            continue
        low, middle, high, point = (
            shown(name, row[key], units) for key in ("p10", "p50", "p90", "point")
        )
        text = number_text(point, house_name(name).decimals)
        rows.append(BandRow(outcome.name, Band(low, middle, high), point, value_text=text))
    unit, label = _unit(name, units, currency), house_name(name).label
    alt = f"{label} in {unit} of {len(rows)} studies, P10 to P90"
    return Picture(band_chart(rows, label, unit, alt), alt)


def _failures(failed: Sequence[Outcome]) -> Table:
    columns = (Column("study", share=1.5), Column("what stood in the way", share=5.0))
    rows = tuple((Cell(outcome.name), Cell(outcome.failed)) for outcome in failed)
    return Table(columns, rows)


def portfolio_text(outcomes: Sequence[Outcome]) -> str:
    """The summary for a terminal."""
    good = [outcome for outcome in outcomes if not outcome.failed]
    failed = [outcome for outcome in outcomes if outcome.failed]
    lines = [f"{len(good)} of {len(outcomes)} studies have an answer"]
    chosen = Counter(str(outcome.study["machine"]) for outcome in good)
    lines += [f"  {_label(machine)}: {count}" for machine, count in chosen.most_common()]
    for outcome in failed:
        first = outcome.failed.splitlines()
        detail = first[1].strip() if len(first) > 1 else first[0]
        lines.append(f"  failed: {outcome.name}: {detail}")
    return "\n".join(lines)
