"""Spares: parts that wear, when each falls due, when to order it, which shaft goes first."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

import numpy as np

from cakewright.errors import DataError, Fault, foreign
from cakewright.quantities import Mark
from cakewright.quantities.constants import DAY, HOUR, NORMAL_90
from cakewright.quantities.toml_text import parse_toml_of
from cakewright.running.service import QuietTime, ShaftState
from cakewright.running.shifts import ShiftTable

__all__ = [
    "Part",
    "PartDue",
    "ServiceStop",
    "parse_parts",
    "parts_due",
    "service_stop",
    "shipped_parts",
]

Trend = tuple[float, float] | None
_KNOWN = {"label", "per", "pieces", "life_h", "starts", "lead_d", "sign", "sign_limit"}


@dataclass(frozen=True, slots=True)
class Part:
    """One part that wears, SI; ``life`` and ``starts`` 0: not counted; ``sign`` may be empty."""

    key: str
    label: str
    per: str
    pieces: int
    life: float
    starts: int
    lead: float
    sign: str
    sign_limit: float
    mark: Mark
    source: str


@dataclass(frozen=True, slots=True)
class PartDue:
    """One part on one shaft (0: the machine): run time used, and calendar time to its change.

    ``due_in`` None: it stands still. ``order_in`` is ``due_in`` less the delivery time; ``by`` says
    what decides: hours, starts, or a sign of wear.
    """

    part: Part
    shaft: int
    used: float
    starts: int
    due_in: float | None
    order_in: float | None
    by: str


@dataclass(frozen=True, slots=True)
class ServiceStop:
    """Which shaft to take out next, why, and the quietest time for it (None: not known)."""

    shaft: int
    due_in: float
    why: str
    quiet: QuietTime | None


def _number(entry: Mapping[str, Any], name: str, where: str, faults: list[Fault]) -> float:
    raw = entry.get(name, 0)
    if isinstance(raw, bool) or not isinstance(raw, int | float) or not raw >= 0:
        faults.append(Fault(f"{where}.{name}", repr(raw), "a number, 0 or more", f"{name} = 4000"))
        return 0.0
    return float(raw)


def _part(key: str, entry: Any, mark: Mark, source: str, faults: list[Fault]) -> Part:
    where = f"parts.{key}"
    if not isinstance(entry, dict):
        faults.append(Fault(where, repr(entry), "a table", f"[parts.{key}]"))
        entry = {"per": "machine", "life_h": 1}
    faults += [
        Fault(f"{where}.{extra}", repr(entry[extra]), ", ".join(sorted(_KNOWN)), "remove it")
        for extra in sorted(set(entry) - _KNOWN)
    ]
    per, sign = str(entry.get("per", "")), str(entry.get("sign", ""))
    if per not in ("shaft", "machine"):
        faults.append(Fault(f"{where}.per", repr(per), "shaft or machine", 'per = "shaft"'))
    if sign not in ("", "torque", "loss"):
        faults.append(Fault(f"{where}.sign", repr(sign), "torque, loss or nothing", "remove it"))
    names = ("pieces", "life_h", "starts", "lead_d", "sign_limit")
    got = {name: _number(entry, name, where, faults) for name in names}
    if not got["life_h"] and not got["starts"]:
        faults.append(Fault(where, "no interval", "life_h or starts", "life_h = 4000"))
    if sign and not got["sign_limit"]:
        faults.append(Fault(f"{where}.sign_limit", "none", "above 0", "sign_limit = 0.3"))
    return Part(
        key, str(entry.get("label", key)), per, max(int(got["pieces"]), 1), got["life_h"] * HOUR,
        int(got["starts"]), got["lead_d"] * DAY, sign, got["sign_limit"], mark, source,
    )  # fmt: skip


@foreign("a list of parts")
def parse_parts(text: str, where: str = "parts") -> tuple[Part, ...]:
    """Parts from the text of their file.

    Raises
    ------
    DataError
        With every fault found at once.
    """
    table = parse_toml_of(text, where, "see the shipped list")
    faults: list[Fault] = []
    words = [mark.value for mark in Mark]
    raw = str(table.get("mark", ""))
    if raw not in words:
        faults.append(Fault("mark", repr(raw), " or ".join(map(repr, words)), "remove it"))
    mark = Mark(raw) if raw in words else Mark.NONE
    entries = table.get("parts", {})
    if not isinstance(entries, dict) or not entries:
        faults.append(Fault("parts", "none", "at least one part", "[parts.rings]"))
        entries = {}
    source = str(table.get("source", ""))
    found = tuple(_part(key, entry, mark, source, faults) for key, entry in entries.items())
    if faults:
        raise DataError(where, faults)
    return found


@cache
def shipped_parts() -> tuple[Part, ...]:
    """The invented list that stands in until the supplier's is given."""
    path = files("cakewright.running").joinpath("service_parts.toml")
    return parse_parts(path.read_text(encoding="utf-8"), "service_parts.toml")


@dataclass(frozen=True, slots=True)
class _Use:
    """Run time and starts of one shaft in the log, and per second of calendar time of late."""

    run: float
    starts: int
    pace: float
    start_pace: float


def _uses(table: ShiftTable, recent: int) -> dict[int, _Use]:
    """Use of every shaft, and under 0 that of the machine."""
    runs = {0: table.run_time, **(dict(table.shaft_time) or {1: table.run_time})}
    starts = {0: table.starts, **(dict(table.shaft_starts) or {1: table.starts})}
    span = float(table.span[-recent:].sum()) or 1.0
    return {
        shaft: _Use(
            float(run.sum()), int(starts[shaft].sum()),
            float(run[-recent:].sum()) / span, float(starts[shaft][-recent:].sum()) / span,
        )
        for shaft, run in sorted(runs.items())
    }  # fmt: skip


def _by_wear(part: Part, use: _Use, trend: Trend) -> float | None:
    """Calendar time until a sign of wear reaches its limit; None where it does not surely rise."""
    if trend is None or not part.sign or use.pace <= 0:
        return None
    slope, error = trend
    if slope - NORMAL_90 * error <= 0:
        return None
    hours = use.run / HOUR
    left = max(part.sign_limit / slope * 1000.0 - hours, 0.0)
    return left * HOUR / use.pace


def _due(part: Part, shaft: int, use: _Use, before: float, trend: Trend) -> PartDue:
    used = use.run + before
    ways: dict[str, float] = {}
    if part.life and use.pace > 0:
        ways["hours"] = max(part.life - used, 0.0) / use.pace
    if part.starts and use.start_pace > 0:
        ways["starts"] = max(part.starts - use.starts, 0) / use.start_pace
    worn = _by_wear(part, use, trend)
    if worn is not None:
        ways["wear"] = worn
    if not ways:
        return PartDue(part, shaft, used, use.starts, None, None, "")
    by = min(ways, key=lambda way: ways[way])
    return PartDue(part, shaft, used, use.starts, ways[by], max(ways[by] - part.lead, 0.0), by)


def parts_due(
    table: ShiftTable,
    parts: Sequence[Part],
    shafts: Sequence[ShaftState],
    loss_trend: Trend = None,
    replaced: Mapping[str, Sequence[float]] | None = None,
    recent: int = 42,
) -> tuple[PartDue, ...]:
    """Every part on every shaft, the soonest to order first.

    ``replaced`` is the run time (s) each part already had when the log begins, one per shaft in
    their order (one for a part of the machine); a part not named counts from the log's beginning.
    """
    uses, torque = _uses(table, recent), {one.shaft: one.torque_trend for one in shafts}
    found = []
    for part in parts:
        places = [0] if part.per == "machine" else [shaft for shaft in uses if shaft]
        before = (replaced or {}).get(part.key, ())
        for i, shaft in enumerate(places):
            trend = torque.get(shaft) if part.sign == "torque" else loss_trend
            had = before[i] if i < len(before) else 0.0
            found.append(_due(part, shaft, uses[shaft], had, trend))
    return tuple(sorted(found, key=lambda one: (one.order_in is None, one.order_in or 0.0)))


def service_stop(
    shafts: Sequence[ShaftState], due: Sequence[PartDue], quiet: Sequence[QuietTime]
) -> ServiceStop | None:
    """The shaft whose service or part falls due first, at the time its load is least.

    None where nothing of any shaft has an interval.
    """
    reasons = [(one.due_in, one.shaft, "its service") for one in shafts if one.due_in is not None]
    reasons += [
        (one.due_in, one.shaft, f"{one.part.label} ({one.by})")
        for one in due if one.shaft and one.due_in is not None
    ]  # fmt: skip
    if not reasons:
        return None
    due_in, shaft, why = min(reasons, key=lambda reason: (reason[0], reason[1]))
    best = min(quiet, key=lambda q: (-q.carried, q.load, q.start), default=None)
    return ServiceStop(shaft, float(np.maximum(due_in, 0.0)), why, best)
