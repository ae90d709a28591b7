"""The line played through random weeks: risk of overflow, hours, what a bad week does."""

from __future__ import annotations

import numpy as np

from cakewright.line.week import WeekOutcome
from cakewright.quantities import from_si
from cakewright.reports.book import Book
from cakewright.reports.content import Block, Cell, Column, Paragraph, Picture, Section, Table
from cakewright.reports.figures.week import figure_week
from cakewright.reports.numbers import number_text, shown_unit, unit_text

__all__ = ["week"]

_HOURS = np.arange(168, dtype=float)


def week(book: Book) -> Section | None:
    """The played weeks, if any were played."""
    outcomes = book.findings.weeks
    if not outcomes or book.findings.line is None:
        return None
    first = outcomes[0]
    blocks: list[Block] = [
        Paragraph(
            f"{first.spilled.size} random weeks of each case, minute by minute, each after a week "
            "of its own that is not counted: production, shifts, levels, polymer batches, rinse "
            "bursts, skip changes, breakdown and repair, random feed solids. Availability figures "
            "and the spread of the feed are the marked coefficients of the line.",
            "note",
        ),
        _table(book, outcomes),
        _picture(book, first),
    ]
    return Section("week", "Weeks played", tuple(blocks))


def _table(book: Book, outcomes: tuple[WeekOutcome, ...]) -> Table:
    volume = unit_text("m3")
    columns = (
        Column("case", share=2.2),
        Column("tank runs over in", "% of weeks", "right", 1.2),
        Column("hours run, median", "h/week", "right", 1.1),
        Column("fullest tank, 9 of 10 weeks below", volume, "right", 1.3),
        Column("left over, median", "% of the week's sludge", "right", 1.2),
        Column("polymer, median", "kg active/week", "right", 1.1),
        Column("wash water, median", f"{volume}/week", "right", 1.1),
        Column("skips, median", "per week", "right", 0.9),
    )
    return Table(columns, tuple(_row(outcome) for outcome in outcomes), kind="dense")


def _row(outcome: WeekOutcome) -> tuple[Cell, ...]:
    risk, error = 100 * outcome.overflow_risk, 100 * outcome.overflow_risk_error
    return (
        Cell(outcome.scenario.name, strong=outcome.overflow_risk > 0.05),
        Cell(f"{number_text(risk, 0)} ± {number_text(max(error, 0.5), 0)}"),
        Cell(number_text(float(np.median(outcome.run_time)) / 3600.0, 0)),
        Cell(number_text(float(np.quantile(outcome.peak_content, 0.9)), 1)),
        Cell(number_text(100 * float(np.median(outcome.unmet_share)), 1)),
        Cell(number_text(float(np.median(outcome.active_polymer)), 1)),
        Cell(number_text(float(np.median(outcome.wash_water)), 1)),
        Cell(number_text(float(np.median(outcome.skips_filled)), 1)),
    )


def _picture(book: Book, outcome: WeekOutcome) -> Picture:
    unit = shown_unit("tank_volume", book.units)
    content = np.asarray(from_si(outcome.content_hourly, "m3", unit))
    low, middle, high = np.quantile(content, (0.1, 0.5, 0.9), axis=1)
    line = book.findings.line
    full = 0.0 if line is None else float(from_si(line.feed_tank.volume, "m3", unit))
    runs = [(h, h + 1.0) for h in _HOURS if np.median(outcome.running_hourly[int(h)]) > 0.5]
    alt = (
        f"Content of the feed tank over a week as designed: median between {middle.min():.0f} and "
        f"{middle.max():.0f}, full at {full:.0f} {unit}."
    )
    svg = figure_week(
        _HOURS[: len(middle)],
        middle,
        low,
        high,
        full,
        runs,
        y_label=f"sludge in the feed tank, {unit_text(unit)}",
        alt=alt,
    )
    caption = "Feed tank over the week as designed: median and 8 weeks in 10; bars: press runs."
    return Picture(svg, alt, caption, True)
