"""How the watch does on plants made by others: faults seen, named, how soon; false alarms.

Usage: ``python benchmarks/watch_score.py SET [INSTRUMENTS ...] [--keep FOLDER] [--only NUMBER]``.
SET is development, held_back or apart of ``benchmarks/other_plants``, whose authors had not read
the watch. The causes were set up on development plants only. Writes
``benchmarks/results/watch_score.json``.
"""

from __future__ import annotations

import json
import pickle
import sys
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from other_plants.plants import numbers, plant

from cakewright.jobs.watch import WatchFindings, watch_site
from cakewright.quantities import to_si
from cakewright.running.cleaning import Action, Block, clean
from cakewright.running.instruments import Removed
from cakewright.running.shifts import ShiftPlan, ShiftTable, shift_means, with_records
from cakewright.running.signals import signal
from cakewright.running.site import Site

RESULTS = Path(__file__).parent / "results" / "watch_score.json"
FIRST_DAY = 20_094  # 2025-01-06, a Monday
DAY = 86_400
UNITS = {
    "feed_flow": "m3/h", "feed_solids": "%", "polymer_flow": "L/h", "wash_flow": "m3/h",
    "filtrate_flow": "m3/h", "cake_flow": "kg/h", "plate_pressure": "kPa",
    "screw_speed": "1/min", "screw_torque": "%", "floc_level": "cm", "drive_power": "kW",
    "feed_temperature": "degC", "cake_solids": "%", "filtrate_solids": "mg/L",
    "polymer_strength": "%",
}  # fmt: skip
# What the watch may call a fault, its own name first; then the names of its family, which count
# for "family" only: no log tells an aged solution from one that was never mixed in.
NAMES: Mapping[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "thin_makeup": (("makeup_thin",), ("polymer_aged", "dilution_fault", "polymer_pump_worn")),
    "aged_polymer": (("polymer_aged",), ("dilution_fault", "makeup_thin", "polymer_pump_worn")),
    "dilution_failure": (("dilution_fault",), ("polymer_aged", "makeup_thin", "poor_mixing")),
    "polymer_pump_wear": (
        ("polymer_pump_worn", "under_dose"),
        ("polymer_aged", "dilution_fault", "makeup_thin"),
    ),
    "blinded_gaps": (("gaps_blinded",), ("wash_fault",)),
    "blocked_nozzle": (("wash_fault",), ("gaps_blinded",)),
    "worn_discs": (("ring_wear",), ()),
    "slack_spring": (("spring_slack", "plate_too_open"), ()),
    "septic_sludge": (("septic",), ("season",)),
    "season_change": (("season", "cold_feed"), ("septic",)),
    "thin_feed": (("feed_thinner",), ()),
    "oil_surge": (("oil_surge",), ()),
    "feed_meter_drift": (("sensor_feed_flow_high", "sensor_feed_flow_low"), ()),
    "frozen_solids_meter": (
        ("sensor_feed_solids_frozen", "sensor_feed_solids_high", "sensor_feed_solids_low"), (),
    ),
    "torque_wrong": (("sensor_screw_torque_high", "sensor_screw_torque_low"), ()),
    "level_wrong": (("sensor_floc_level_high", "sensor_floc_level_low"), ()),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Event:
    """One believed alarm of the watch: day it rang, causes in order."""

    day: float
    causes: tuple[str, ...]
    episode: int = 0


def _si(key: str, values: Any) -> Any:
    unit = UNITS.get(key, "1")
    return np.asarray(to_si(np.asarray(values, dtype=float), unit, signal(key).house.unit))


def table_of(made: Mapping[str, Any]) -> tuple[ShiftTable, list[Removed]]:
    """Shifts of one plant as the log store would give them, and what cleaning took out."""
    log = dict(made["log"])
    time = FIRST_DAY * DAY + 60 * np.asarray(log.pop("minute"), dtype=np.int64)
    block = Block(np.arange(time.size), time, {key: _si(key, v) for key, v in log.items()})
    block, changes = clean(block, now=4_000_000_000)
    taken = [
        Removed(c.signal, c.reason, int(c.time.size), int(c.time.min()), int(c.time.max()))
        for c in changes if c.action is not Action.DROPPED and c.time.size
    ]  # fmt: skip
    plan = ShiftPlan("UTC", 6, 8)
    table = shift_means(block, plan)
    rows = made["laboratory"]
    at = FIRST_DAY * DAY + 60 * np.array([row["minute"] for row in rows], dtype=np.int64)
    keys = [key for key in rows[0] if key != "minute"]
    cells = {k: [np.nan if r.get(k) is None else float(r[k]) for r in rows] for k in keys}
    records = Block(np.arange(at.size), at, {k: _si(k, v) for k, v in cells.items()})
    records, _ = clean(records, now=4_000_000_000, minutes=False)
    return with_records(table, records, plan, daily=True), taken


def site_of(made: Mapping[str, Any]) -> Site:
    """What the site file of such a plant says."""
    last = FIRST_DAY * DAY + int(0.30 * made["days"] + 1) * DAY
    return Site(
        made["key"], made["key"], invented=True, plan=ShiftPlan("UTC", 6, 8),
        baseline=(FIRST_DAY * DAY, last), shafts=int(made["site"]["shafts"]),
    )  # fmt: skip


def events_of(findings: WatchFindings) -> list[Event]:
    """Alarms that the pages show as such: not those told as probably nothing or own changes."""
    start = findings.table.start
    clearest = {drift.episode: drift for drift in findings.standing}
    dead = [((one.since - FIRST_DAY * DAY) / DAY, f"sensor_{one.key}_{one.kind}")
            for one in findings.instruments if one.alarm]  # fmt: skip
    found = [Event(day, (name,)) for day, name in dead]
    for drift in findings.alarms:
        day = (int(start[drift.alarm.shift]) - FIRST_DAY * DAY) / DAY
        told = clearest[drift.episode].explained.causes[:5]
        # The page leads with dead instruments; causes come after them.
        first = tuple(name for since, name in dead if since <= day)
        found.append(Event(day, (*first, *(one.cause.key for one in told)), drift.episode))
    return sorted(found, key=lambda event: event.day)


def judged(made: Mapping[str, Any], findings: WatchFindings) -> dict[str, Any]:
    """One plant: per fault whether and when it was seen and the rank of its cause; false alarms."""
    events = events_of(findings)
    sound = 0.30 * made["days"] + 1
    rows, spans = [], []
    for fault in made["faults"]:
        begin, end = float(fault["onset_day"]), float(fault["end_day"])
        spans.append((begin - 1, end + 7))
        mine = [e for e in events if begin - 0.4 <= e.day <= end + 3]
        exact, family = NAMES[fault["name"]]
        rank = family_rank = 99
        if mine:
            order = mine[-1].causes
            rank = min((order.index(k) + 1 for k in exact if k in order), default=99)
            wide = (*exact, *family)
            family_rank = min((order.index(k) + 1 for k in wide if k in order), default=99)
        rows.append(
            {
                "fault": fault["name"], "size": fault["size"], "seen": bool(mine),
                "delay_days": mine[0].day - begin if mine else None, "rank": rank,
                "family_rank": family_rank, "said": list(mine[-1].causes[:3]) if mine else [],
            }
        )  # fmt: skip
    quiet = [e for e in events if all(not a <= e.day <= b for a, b in spans)]
    first = min((a for a, _ in spans), default=float(made["days"]))
    early = {(e.episode, e.causes[0] if not e.episode else ""): e for e in reversed(quiet)
             if e.day < first}  # fmt: skip
    late = sorted(early.values(), key=lambda e: e.day)
    watched = max(first - sound, 0.0)
    return {
        "plant": made["key"],
        "faults": rows,
        "false": [(e.day, e.causes[0]) for e in late],
        "false_weeks": watched / 7,
    }


def kept_table(
    folder: Path | None, chosen: str, number: int, instruments: str
) -> tuple[dict[str, Any], ShiftTable, list[Any]]:
    """A plant and its shifts, from ``folder`` if they were made before."""
    path = folder / f"{chosen}-{instruments}-{number}.pkl" if folder else None
    if path is not None and path.is_file():
        kept: tuple[dict[str, Any], ShiftTable, list[Any]] = pickle.loads(path.read_bytes())  # noqa: S301 - written by this script
        return kept
    made = dict(plant(chosen, number, instruments))
    table, taken = table_of(made)
    made.pop("log"), made.pop("laboratory")
    if path is not None:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(pickle.dumps((made, table, taken)))
    return made, table, taken


def summary(plants: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    """Counts over a set, per fault and in all."""
    rows = [row for one in plants for row in one["faults"]]
    by_fault: dict[str, list[Mapping[str, Any]]] = defaultdict(list)
    for row in rows:
        by_fault[row["fault"]].append(row)
    weeks = sum(one["false_weeks"] for one in plants)
    false = sum(len(one["false"]) for one in plants)
    return {
        "faults": len(rows), "seen": sum(r["seen"] for r in rows),
        "first": sum(r["rank"] == 1 for r in rows),
        "first_or_second": sum(r["rank"] <= 2 for r in rows),
        "family_first": sum(r["family_rank"] == 1 for r in rows),
        "false_alarms": false, "fault_free_weeks": round(weeks, 1),
        "false_alarms_per_week": round(false / weeks, 3) if weeks else None,
        "by_fault": {
            name: {
                "n": len(each), "seen": sum(r["seen"] for r in each),
                "first": sum(r["rank"] == 1 for r in each),
                "first_or_second": sum(r["rank"] <= 2 for r in each),
                "family_first": sum(r["family_rank"] == 1 for r in each),
                "median_delay_days": _median([r["delay_days"] for r in each if r["seen"]]),
                "said": [r["said"][:2] for r in each],
            }
            for name, each in by_fault.items()
        },
    }  # fmt: skip


def _median(values: Sequence[float]) -> float | None:
    return round(float(np.median(values)), 1) if values else None


def score(chosen: str, instruments: str, folder: Path | None, only: set[int]) -> dict[str, Any]:
    """One set with one kind of instruments."""
    done = []
    for number in sorted(only) if only else range(numbers(chosen)):
        made, table, taken = kept_table(folder, chosen, number, instruments)
        done.append(judged(made, watch_site(table, site_of(made), removed=taken)))
        if only:
            print(json.dumps(done[-1], indent=1))
    return summary(done)


def main(words: Sequence[str]) -> None:
    """Score, print, keep."""
    plain, folder, only = [], None, set()
    rest = list(words)
    while rest:
        word = rest.pop(0)
        if word == "--keep":
            folder = Path(rest.pop(0))
        elif word == "--only":
            only.add(int(rest.pop(0)))
        else:
            plain.append(word)
    chosen, kinds = plain[0], plain[1:] or ["typical", "full"]
    kept = json.loads(RESULTS.read_text()) if RESULTS.is_file() else {}
    for instruments in kinds:
        found = score(chosen, instruments, folder, only)
        for name, row in found["by_fault"].items():
            print(f"{name:22}", row)
        print(chosen, instruments, {k: v for k, v in found.items() if k != "by_fault"})
        kept[f"{chosen} {instruments}"] = found
    if not only:
        RESULTS.write_text(json.dumps(kept, indent=1) + "\n")


if __name__ == "__main__":
    main(sys.argv[1:])
