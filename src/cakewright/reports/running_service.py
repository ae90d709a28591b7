"""Service in both running reports: shafts, the next stop, what to order and when."""

from __future__ import annotations

from cakewright.jobs.watch import WatchFindings
from cakewright.quantities import Mark
from cakewright.quantities.constants import NORMAL_90
from cakewright.reports.content import Block, Bullets, Cell, Column, Paragraph, Section, Table
from cakewright.reports.running_words import day, day_long
from cakewright.running.spares import PartDue

__all__ = ["days_text", "order_lines", "order_text", "service_section", "stop_text"]

_SOON = 14 * 86400.0
_FAR = 5 * 365 * 86400.0


def days_text(seconds: float | None) -> str:
    """Calendar time in days, or words where it is past or far."""
    if seconds is None:
        return "–"
    if seconds <= 0:
        return "now"
    return f"{seconds / 86400:.0f} d" if seconds < _FAR else "over 5 years"


def order_text(one: PartDue) -> str:
    """When to order one part."""
    if one.order_in is None:
        return "–"
    if one.order_in <= 0:
        return "now"
    return f"in {days_text(one.order_in)}" if one.order_in < _FAR else "not yet"


def stop_text(findings: WatchFindings) -> str:
    """Which shaft to take out next, why, and when the others carry the load."""
    stop = findings.stop
    if stop is None:
        return "No service interval is on file, so that no next stop can be named."
    when = days_text(stop.due_in)
    due = "due now" if when == "now" else f"due in {when}"
    words = f"Next to take out: shaft {stop.shaft}, for {stop.why}, {due}."
    if stop.quiet is None:
        return words + " What one shaft carries is not on file, so that no quiet time can be named."
    quiet = stop.quiet
    if quiet.carried >= 1:
        return f"{words} Quietest shift: {_shift(quiet.start)}; the others carry the load then."
    return (
        f"{words} At no time of the week do the others carry it all; quietest is "
        f"{_shift(quiet.start)} with {100 * quiet.carried:.0f} % carried: keep the rest back in "
        "the sludge tank."
    )


def _shift(start: int) -> str:
    return f"{day_long(start)}, {start % 86400 // 3600:02d}:00"


def order_lines(findings: WatchFindings, most: int = 2) -> tuple[str, ...]:
    """What to order within two weeks, for the operator's page."""
    soon = [
        one for one in findings.parts if one.order_in is not None and one.order_in <= _SOON
    ]  # fmt: skip
    named: dict[str, list[PartDue]] = {}
    for one in soon:
        named.setdefault(one.part.key, []).append(one)
    lines = []
    for some in list(named.values())[:most]:
        part, pieces = some[0].part, sum(one.part.pieces for one in some)
        on = ", ".join(str(one.shaft) for one in some if one.shaft)
        place = f" for shaft {on}" if on else ""
        mark = " (interval invented)" if part.mark is Mark.INVENTED else ""
        lines.append(
            f"Order {pieces} × {part.label}{place}: due in {days_text(some[0].due_in)}{mark}."
            .replace("due in now", "due now")
        )  # fmt: skip
    return tuple(lines)


def _spares(findings: WatchFindings) -> list[Block]:
    columns = (
        Column("part", share=2.2), Column("on", share=0.9), Column("pieces", align="right"),
        Column("hours run", align="right"), Column("interval, h", align="right"),
        Column("due in", align="right"), Column("decided by", align="middle"),
        Column("order", align="right", share=1.2),
    )  # fmt: skip
    rows = []
    for one in findings.parts:
        life = f"{one.part.life / 3600:.0f}" if one.part.life else f"{one.part.starts} starts"
        cells = (
            one.part.label, f"shaft {one.shaft}" if one.shaft else "machine", str(one.part.pieces),
            f"{one.used / 3600:.0f}", life, days_text(one.due_in), one.by, order_text(one),
        )  # fmt: skip
        rows.append(tuple(Cell(text) for text in cells))
    left = sorted(
        {o.part.label for o in findings.parts if o.part.key not in findings.site.replaced}
    )
    notes = []
    if any(one.part.mark is Mark.INVENTED for one in findings.parts):
        notes.append(
            "Intervals, counts and delivery times are invented: put the supplier's list in a file "
            "and name it in the site file."
        )
    if left:
        notes.append(
            f"Hours count from the beginning of the log, since no earlier hours are given: "
            f"{', '.join(left)}."
        )
    return [
        Table(columns, tuple(rows), "Spares, the soonest to order first.", kind="dense"),
        *(Paragraph(words, "note") for words in notes),
    ]


def service_section(findings: WatchFindings) -> Section:
    """Shafts, the next stop, the spares list, the quiet times."""
    columns = (
        Column("shaft"), Column("hours run", align="right"), Column("starts", align="right"),
        Column("hours to service", align="right"), Column("due in", align="right"),
        Column("torque per 1000 h at equal duty", share=2.0, align="right"),
    )  # fmt: skip
    rows = []
    for one in findings.shafts:
        left = "–" if one.left is None else f"{one.left / 3600:.0f}"
        due = "–" if one.due_in is None else f"{one.due_in / 86400:.0f} d"
        trend = "–"
        if one.torque_trend is not None:
            slope, error = one.torque_trend
            trend = f"{100 * slope:+.1f} % ± {100 * NORMAL_90 * error:.1f} %".replace("-", "−")
        hours = f"{one.run_time / 3600:.0f}"
        cells = (str(one.shaft), hours, str(one.starts), left, due, trend)
        rows.append(tuple(Cell(text) for text in cells))
    quiet = tuple(
        f"{day(q.start)}: usual load {q.load * 3600:.0f} kg/h, "
        + ("the other shafts carry it" if q.carried >= 1 else f"{100 * q.carried:.0f} % carried")
        for q in findings.quiet
    )
    blocks: list[Block] = [Table(columns, tuple(rows)), Paragraph(stop_text(findings))]
    if findings.loss_trend is not None:
        slope, error = findings.loss_trend
        words = f"{100 * slope:+.1f} % ± {100 * NORMAL_90 * error:.1f} %".replace("-", "−")
        blocks.append(
            Paragraph(f"Solids lost with the filtrate at equal feed, settings and dose: {words} "
                      "per 1000 h run (a sign of worn gaps, ± with eight chances in ten).")
        )  # fmt: skip
    if findings.parts:
        blocks += _spares(findings)
    if quiet:
        blocks.append(Bullets("Quietest times of the coming week", quiet))
    blocks.append(
        Paragraph("Isolate, lock and try the start before any cover is opened.", "caution")
    )
    return Section("service", "Service", tuple(blocks))
