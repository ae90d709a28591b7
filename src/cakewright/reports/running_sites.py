"""Many watched sites on one page: who is off promise, what drifted, what comes next."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from cakewright.jobs.portfolio import Outcome
from cakewright.reports.content import Block, Bullets, Cell, Column, Paragraph, Section, Table
from cakewright.reports.html import page_html
from cakewright.reports.numbers import Units
from cakewright.reports.running_service import days_text
from cakewright.reports.running_words import day, label_of_indicator, unit_of, value_text

__all__ = ["sites_page", "sites_text"]

_SHOWN = ("dry_solids_flow", "cake_solids", "capture", "polymer_dose", "specific_energy")


def _state(study: Mapping[str, Any]) -> str:
    if study["cause"]:
        return f"{study['cause']}, since {day(study['since'])}"
    return "nothing has left its usual level"


def _promise(study: Mapping[str, Any]) -> str:
    missed = ", ".join(label_of_indicator(name) for name in study["not_kept"])
    return f"not kept: {missed}" if missed else "no promise clearly missed"


def _one_line(outcome: Outcome) -> str:
    return " ".join(outcome.failed.split())


def _ordered(outcomes: Sequence[Outcome]) -> list[Outcome]:
    """Sites with something to do first."""
    good = [one for one in outcomes if not one.failed]
    return sorted(good, key=lambda o: (not o.study["not_kept"], not o.study["cause"], o.name))


def sites_text(outcomes: Sequence[Outcome]) -> str:
    """One line per site, those with something to do first; failures last."""
    lines = [
        f"{one.name:20} {_promise(one.study)}; {_state(one.study)}" for one in _ordered(outcomes)
    ]
    lines += [f"{one.name:20} failed: {_one_line(one)}" for one in outcomes if one.failed]
    return "\n".join(lines)


def _row(one: Outcome, units: Units) -> tuple[Cell, ...]:
    figures = {row["name"]: row["value"] for row in one.figures}
    numbers = [
        Cell(value_text(name, figures[name], units) if name in figures else "–") for name in _SHOWN
    ]
    stop = one.study["stop"]
    service = "–" if stop is None else f"shaft {stop}, {days_text(one.study['stop_in'])}"
    return (
        Cell(one.name, strong=bool(one.study["not_kept"])), *numbers, Cell(_promise(one.study)),
        Cell(_state(one.study)), Cell(service),
    )  # fmt: skip


def sites_page(outcomes: Sequence[Outcome], title: str, units: Units = Units.SI) -> str:
    """The summary as a page of its own."""
    columns = (
        Column("site", share=1.4),
        *(Column(label_of_indicator(n), unit_of(n, units), "right") for n in _SHOWN),
        Column("promise", share=1.8), Column("what moved", share=2.6),
        Column("next service", share=1.2),
    )  # fmt: skip
    ordered = _ordered(outcomes)
    rows = tuple(_row(one, units) for one in ordered)
    caption = "Last four weeks of each log; sites with something to do first."
    blocks: list[Block] = [
        Paragraph(f"{len(ordered)} of {len(outcomes)} sites watched.", "lead"),
        Table(columns, rows, caption, kind="dense"),
    ]
    failed = tuple(f"{one.name}: {_one_line(one)}" for one in outcomes if one.failed)
    if failed:
        blocks.append(Bullets("Not watched", failed))
    invented = any(one.study.get("invented") for one in ordered)
    return page_html(title, "", (Section("sites", "Sites", tuple(blocks)),), invented=invented)
