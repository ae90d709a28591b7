"""The operator's page: one page a week, plain words, what to look at first."""

from __future__ import annotations

from cakewright.jobs.watch import WatchFindings, Week
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
from cakewright.reports.numbers import Units
from cakewright.reports.running_figures import figure_against_expectation
from cakewright.reports.running_service import order_lines, stop_text
from cakewright.reports.running_words import (
    day,
    drift_title,
    indicator_text,
    label_of_indicator,
    move_text,
    promise_verdict,
    share_text,
    since,
    unit_of,
    value_text,
)
from cakewright.running.indicators import Against
from cakewright.running.investigate import Drift

__all__ = ["operator_sections"]

_SHOWN = (
    "dry_solids_flow", "cake_solids", "capture", "polymer_dose", "wash_water_specific",
    "specific_energy", "cost_specific", "run_hours_per_day",
)  # fmt: skip


def _lead(findings: WatchFindings) -> str:
    missed = [one for one in findings.promise if promise_verdict(one) == "not kept"]
    open_ = [one for one in findings.promise if promise_verdict(one) == "cannot be said yet"]
    if not findings.promise:
        return "No promise is on file; this page compares with what this feed should give."
    if missed:
        parts = [
            f"{label_of_indicator(one.name)} {value_text(one.name, one.value, Units.SI)} "
            f"against {value_text(one.name, one.promised, Units.SI)} "
            f"{unit_of(one.name, Units.SI, findings.site.prices.currency)}"
            for one in missed
        ]
        return "Not on promise over the last four weeks: " + "; ".join(parts) + "."
    if open_:
        words = ", ".join(label_of_indicator(one.name) for one in open_)
        return f"Nothing is clearly off promise; too close to call: {words}."
    return "On promise over the last four weeks."


def _cell(week: Week | None, name: str, units: Units) -> Cell:
    if week is None or name not in week.found:
        return Cell("–")
    return Cell(value_text(name, week.found[name].value, units))


def _expected_cell(week: Week, name: str, units: Units) -> Cell:
    band = week.expected.get(name)
    if band is None:
        return Cell("–")
    low, high = (value_text(name, v, units) for v in (band.p10, band.p90))
    return Cell(f"{low}–{high}")


def _row(findings: WatchFindings, name: str, units: Units) -> tuple[Cell, ...]:
    this = findings.weeks[-1]
    last = findings.weeks[-2] if len(findings.weeks) > 1 else None
    promised = {one.name: one for one in findings.promise}
    one: Against | None = promised.get(name)
    return (
        Cell(label_of_indicator(name), strong=one is not None),
        _cell(this, name, units),
        _cell(last, name, units),
        Cell(unit_of(name, units, findings.site.prices.currency)),
        _expected_cell(this, name, units),
        Cell(value_text(name, one.promised, units) if one else "–"),
        Cell(promise_verdict(one) if one else ""),
        Cell(f"{100 * this.found[name].coverage:.0f} %" if name in this.found else "–"),
    )


def _week_table(findings: WatchFindings, units: Units) -> Table:
    columns = (
        Column("", share=2.0), Column("this week", align="point"),
        Column("last week", align="point"), Column("unit", share=0.9),
        Column("expected on this feed", align="middle", share=1.4),
        Column("promised", align="point"), Column("last 4 weeks", share=1.5),
        Column("read", align="right", share=0.7),
    )  # fmt: skip
    names = [n for n in _SHOWN if n in findings.month]
    rows = tuple(_row(findings, name, units) for name in names)
    week = findings.weeks[-1]
    caption = (
        f"Week from {day(week.start)}, {week.shifts} shifts. “Expected” is what this feed at these "
        "settings should give, eight shifts in ten; “read” the share of run time with readings."
    )
    return Table(columns, rows, caption)


def _drift_blocks(findings: WatchFindings, drift: Drift) -> list[Block]:
    best, *rest = drift.explained.causes
    moved = [f for f in (drift.feature, *drift.also) if f in drift.moves][:3]
    what = "; ".join(move_text(f, drift.moves[f].size) for f in moved)
    second = rest[0]
    other = f" If not that: {second.cause.label} ({share_text(second.share)})."
    other = other if second.share > 0.1 else ""
    begun = since(findings, drift)
    return [
        Paragraph(f"{drift_title(drift)} ({share_text(best.share)}).{other}", "lead"),
        Paragraph(f"{begun[0].upper()}{begun[1:]}: {what}."),
        Bullets("Check first", (best.cause.check,)),
        Bullets("Safe first move", (best.cause.first_move,)),
        *(Paragraph(caution.text, "caution") for caution in best.cautions[:2]),
    ]


def _doubtful(findings: WatchFindings) -> tuple[str, ...]:
    words = []
    for one in findings.suspects[:2]:
        side = "high" if one.bias > 0 else "low"
        like = f" (or {', '.join(_label(k) for k in one.alike)})" if one.alike else ""
        words.append(f"{_label(one.key)}{like} seems to read {abs(100 * one.bias):.0f} % {side}.")
    week = findings.weeks[-1]
    poor = [n for n in _SHOWN if n in week.found and week.found[n].coverage < 0.6]
    words += [f"{label_of_indicator(n)}: under 60 % of the week was read." for n in poor[:2]]
    return tuple(words) or ("Nothing stands out.",)


def _label(key: str) -> str:
    from cakewright.running.signals import signal

    return signal(key).label


def _service(findings: WatchFindings, units: Units) -> tuple[str, ...]:
    words = []
    for one in findings.shafts:
        hours = f"{one.run_time / 3600:.0f} h, {one.starts} starts in this log"
        due = "" if one.due_in is None else f"; service due in about {one.due_in / 86400:.0f} days"
        words.append(f"Shaft {one.shaft}: {hours}{due}.")
    return (*words[:2], stop_text(findings), *order_lines(findings))


def operator_sections(findings: WatchFindings, units: Units = Units.SI) -> tuple[Section, ...]:
    """The page of the last week in the log."""
    blocks: list[Block] = [Paragraph(_lead(findings), "lead"), _week_table(findings, units)]
    drifts = findings.current
    if drifts:
        blocks += _drift_blocks(findings, drifts[0])
    else:
        blocks.append(Paragraph("Nothing has left its usual level in the last two weeks."))
    name = "cake_solids" if "cake_solids" in findings.month else next(iter(findings.month))
    if name in ("cake_solids", "capture"):
        svg = figure_against_expectation(findings, name, units, height_mm=44)
        alt = "Dots: shifts. Grey: what feed and settings should give."
        blocks.append(Picture(svg, alt, alt))
    blocks += [
        Bullets("Readings to doubt", _doubtful(findings)),
        Bullets("Service", _service(findings, units)),
    ]
    if len(drifts) > 1:
        rest = "; ".join(f"{drift_title(d)} ({since(findings, d)})" for d in drifts[1:3])
        blocks.append(Paragraph(f"Also: {rest}.", "note"))
    return (Section("week", f"Week from {day(findings.weeks[-1].start)}", tuple(blocks)),)


def operator_text(findings: WatchFindings) -> str:
    """The same in a few lines for a terminal."""
    lines = [_lead(findings)]
    for one in findings.promise:
        value = indicator_text(one, Units.SI, findings.site.prices.currency)
        promised = value_text(one.name, one.promised, Units.SI)
        lines.append(
            f"  {label_of_indicator(one.name):24} {value:>14}  promised {promised:>7}  "
            f"{promise_verdict(one)} (chance {share_text(one.chance)}, "
            f"read {100 * one.coverage:.0f} %)"
        )
    for drift in findings.current:
        begun = since(findings, drift)
        best = drift.explained.causes[0]
        lines += [
            f"{drift_title(drift)} ({share_text(best.share)}), {begun}",
            f"  check: {best.cause.check}",
            f"  first: {best.cause.first_move}",
        ]
    if not findings.current:
        lines.append("Nothing has left its usual level in the last two weeks.")
    return "\n".join(lines)
