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
    drift_sentence,
    drift_title,
    indicator_text,
    label_of_indicator,
    move_text,
    promise_verdict,
    share_text,
    since,
    trouble_text,
    unit_of,
    value_text,
)
from cakewright.running.diagnosis import causes
from cakewright.running.indicators import Against
from cakewright.running.investigate import Drift
from cakewright.running.logbook import Entry

__all__ = ["off_this_week", "operator_sections", "operator_text"]

_SHOWN = (
    "dry_solids_flow", "cake_solids", "capture", "polymer_dose", "wash_water_specific",
    "specific_energy", "cost_specific", "run_hours_per_day",
)  # fmt: skip


def off_this_week(findings: WatchFindings) -> tuple[Against, ...]:
    """Promises the last seven days missed for sure, or worse than this feed should give."""
    better = findings.site.promise.better
    found = []
    for one in findings.week:
        band = findings.week_expected.get(one.name)
        end = None if band is None else band.p10 if better(one.name) > 0 else band.p90
        poor = end is not None and better(one.name) * (one.value - end) < 0
        missed = better(one.name) * (one.value - one.promised) < 0
        if promise_verdict(one) == "not kept" or (poor and missed):
            found.append(one)
    return tuple(found)


def _against(findings: WatchFindings, one: Against) -> str:
    last = findings.weeks[-2].found.get(one.name) if len(findings.weeks) > 1 else None
    before = f" (last week {value_text(one.name, last.value, Units.SI)})" if last else ""
    return (
        f"{label_of_indicator(one.name)} {value_text(one.name, one.value, Units.SI)}{before} "
        f"against {value_text(one.name, one.promised, Units.SI)} "
        f"{unit_of(one.name, Units.SI, findings.site.prices.currency)} promised"
    )


def _lead(findings: WatchFindings) -> str:
    if not findings.promise:
        return "No promise is on file; this page compares with what this feed should give."
    week = off_this_week(findings)
    if week:
        return f"Off promise this week: {'; '.join(_against(findings, one) for one in week)}."
    missed = [one for one in findings.promise if promise_verdict(one) == "not kept"]
    open_ = [one for one in findings.promise if promise_verdict(one) == "cannot be said yet"]
    if missed:
        parts = "; ".join(_against(findings, one) for one in missed)
        return f"Off promise over the last four weeks: {parts}."
    if open_:
        words = ", ".join(
            f"{label_of_indicator(one.name)} (chance {share_text(one.chance)} that it is kept)"
            for one in open_
        )
        return f"Cannot be said yet: {words}. The other promises are kept."
    if findings.current or any(one.alarm for one in findings.untrusted):
        return "The promises are kept over four weeks, but look at what follows."
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
        "settings should give, eight shifts in ten; “read” the share "
        "of the plant’s own running time with readings."
    )
    return Table(columns, rows, caption)


def _drift_blocks(findings: WatchFindings, drift: Drift) -> list[Block]:
    told = drift.explained
    moved = [f for f in (drift.feature, *drift.also) if f in drift.moves][:3]
    what = "; ".join(move_text(f, drift.moves[f].size) for f in moved)
    begun = since(findings, drift)
    blocks: list[Block] = [
        Paragraph(drift_sentence(drift), "lead"),
        Paragraph(f"{begun[0].upper()}{begun[1:]}: {what}."),
    ]
    if told.test is not None:
        outcomes = "”, “".join(told.test.outcomes)
        blocks.append(Bullets("What decides it", (f"{told.test.text} Write down: “{outcomes}”.",)))
    else:
        blocks.append(Bullets("Check first", (told.causes[0].cause.check,)))
    cautions = dict.fromkeys(c for one in told.in_play for c in one.cautions)
    return [
        *blocks,
        Bullets("First move, safe for all of these", (told.first_move,)),
        *(Paragraph(caution.text, "caution") for caution in list(cautions)[:2]),
    ]


def _doubtful(findings: WatchFindings) -> tuple[str, ...]:
    words = [trouble_text(one) for one in findings.untrusted[:3]]
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


def _first(findings: WatchFindings) -> list[Block]:
    """What cannot be trusted, before anything is concluded from it."""
    words = [trouble_text(one) for one in findings.untrusted if one.alarm]
    return [Bullets("Not to be trusted now", tuple(words))] if words else []


def over_and_changed(findings: WatchFindings) -> list[str]:
    """What is back at its usual level, and what somebody changed."""
    start = findings.table.start
    words = [
        f"Over: {d.explained.causes[0].cause.label}; back at the usual level since "
        f"{day(int(start[d.ended]))}."
        for d in findings.over
        if d.ended is not None
    ]
    words += [_done_text(findings, one) for one in findings.book[-20:] if one.kind == "done"][-3:]
    words += [
        f"Changed by hand, answered as it should: {d.explained.causes[0].cause.label}, "
        f"{since(findings, d)}."
        for d in findings.changes[:3]
    ]
    return words


def _done_text(findings: WatchFindings, one: Entry) -> str:
    """What was done, and what the readings since say of it."""
    label = causes()[one.key].label if one.key in causes() else ""
    what = one.text or label
    now = [d for d in findings.current if one.key in (c.cause.key for c in d.explained.in_play)]
    over = [d for d in findings.over if one.key in (c.cause.key for c in d.explained.causes[:4])]
    if over and over[0].ended is not None:
        said = f"the readings are back since {day(int(findings.table.start[over[0].ended]))}"
    elif now:
        said = "the readings are not back yet"
    else:
        said = "the readings show no departure that it belongs to"
    return f"Done on {day(one.time)}: {what}; {said}."


def operator_sections(findings: WatchFindings, units: Units = Units.SI) -> tuple[Section, ...]:
    """The page of the last week in the log."""
    blocks: list[Block] = [*_first(findings), Paragraph(_lead(findings), "lead")]
    blocks.append(_week_table(findings, units))
    drifts = findings.current
    if drifts:
        blocks += _drift_blocks(findings, drifts[0])
    else:
        blocks.append(Paragraph("Nothing has left its usual level in the last two weeks."))
    blocks += [Paragraph(text) for text in over_and_changed(findings)]
    name = "cake_solids" if "cake_solids" in findings.month else next(iter(findings.month))
    if name in ("cake_solids", "capture"):
        svg = figure_against_expectation(findings, name, units, height_mm=36)
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
    lines = [f"Not to be trusted: {trouble_text(o)}" for o in findings.untrusted if o.alarm]
    lines.append(_lead(findings))
    for one in findings.promise:
        value = indicator_text(one, Units.SI, findings.site.prices.currency)
        promised = value_text(one.name, one.promised, Units.SI)
        lines.append(
            f"  {label_of_indicator(one.name):24} {value:>14}  promised {promised:>7}  "
            f"{promise_verdict(one)} (chance {share_text(one.chance)}, "
            f"read {100 * one.coverage:.0f} %)"
        )
    for drift in findings.current:
        told = drift.explained
        lines.append(f"{drift_sentence(drift)[:-1]}, {since(findings, drift)}")
        if told.test is not None:
            lines.append(f"  decide: {told.test.text} ({' / '.join(told.test.outcomes)})")
        else:
            lines.append(f"  check: {told.causes[0].cause.check}")
        lines.append(f"  first: {told.first_move}")
    if not findings.current:
        lines.append("Nothing has left its usual level in the last two weeks.")
    lines += over_and_changed(findings)
    lines += [f"To doubt: {trouble_text(o)}" for o in findings.untrusted[:8] if not o.alarm]
    return "\n".join(lines)
