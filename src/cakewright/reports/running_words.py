"""Plain words for what the watch found: dates, moves, verdicts."""

from __future__ import annotations

import math
from datetime import UTC, datetime

from cakewright.jobs.watch import WatchFindings
from cakewright.quantities import house_name
from cakewright.reports.numbers import (
    MINUS,
    Units,
    decimals_for,
    number_text,
    quantity_text,
    shown,
    shown_unit,
    unit_text,
)
from cakewright.running.diagnosis import FEATURES, material
from cakewright.running.indicators import Against
from cakewright.running.instruments import InstrumentFault, Trouble
from cakewright.running.investigate import Drift
from cakewright.running.signals import signal
from cakewright.running.watching import Shape

__all__ = [
    "Verdict", "amount", "day", "day_long", "drift_sentence", "drift_title", "indicator_text",
    "move_text", "promise_verdict", "share_text", "since", "trouble_text", "unit_of", "value_text",
]  # fmt: skip

_MONTHS = "January February March April May June July August September October November December"
_DAYS = "Monday Tuesday Wednesday Thursday Friday Saturday Sunday"
Verdict = str
SURE = 0.9


def _moment(seconds: int) -> datetime:
    return datetime.fromtimestamp(seconds, UTC)


def day(seconds: int) -> str:
    """Date on the site's clock, short: 4 Jun 2024."""
    moment = _moment(seconds)
    return f"{moment.day} {_MONTHS.split()[moment.month - 1][:3]} {moment.year}"


def day_long(seconds: int) -> str:
    """Date with its weekday: Tuesday 4 June 2024."""
    moment = _moment(seconds)
    week, month = _DAYS.split()[moment.weekday()], _MONTHS.split()[moment.month - 1]
    return f"{week} {moment.day} {month} {moment.year}"


def unit_of(name: str, units: Units, currency: str = "") -> str:
    """Shown unit with real signs."""
    return unit_text(shown_unit(name, units), currency)


def value_text(name: str, value: float, units: Units) -> str:
    """Number in shown units, without the unit; a dash where nothing can be said."""
    if not math.isfinite(value):
        return "–"
    return number_text(shown(name, value, units), decimals_for(name, (value,), units))


def indicator_text(one: Against, units: Units, currency: str = "") -> str:
    """Value with unit."""
    return quantity_text(one.name, one.value, units, currency)


def share_text(share: float) -> str:
    """A chance or share in words fit for a page: never 0 % or 100 %."""
    if share > 0.99:
        return "over 99 %"
    if share < 0.01:
        return "under 1 %"
    return f"{100 * share:.0f} %"


def promise_verdict(one: Against) -> Verdict:
    """Kept, not kept, or cannot be said, at nine chances in ten."""
    if one.chance >= SURE:
        return "kept"
    return "not kept" if one.chance <= 1 - SURE else "cannot be said yet"


def _percent(log_move: float) -> str:
    change = 100 * math.expm1(abs(log_move)) if log_move > 0 else 100 * -math.expm1(log_move)
    return f"{change:.0f} %" if change >= 1 else "under 1 %"


def amount(feature: str, size: float) -> str:
    """Size of a move in plain units: percent, kelvin, or percent of what enters."""
    moved = size * material()[feature]
    if feature == "feed_temperature":
        return f"{abs(40 * moved):.0f} K {'higher' if moved > 0 else 'lower'}"
    if feature.startswith("g_"):
        sign = "+" if moved > 0 else MINUS
        return f"{sign}{abs(100 * moved):.0f} % of what enters"
    return f"{_percent(moved)} {'higher' if moved > 0 else 'lower'}"


def move_text(feature: str, size: float) -> str:
    """One move as a clause."""
    if feature.startswith("r_"):
        label = FEATURES[feature].removesuffix(" against expectation")
        return f"{label} {amount(feature, size)} than this feed and these settings should give"
    if feature.startswith("g_"):
        return f"{FEATURES[feature]} moved by {amount(feature, size)}"
    return f"{FEATURES[feature]} {amount(feature, size)}"


def since(findings: WatchFindings, drift: Drift) -> str:
    """Since when, with how sure the date is."""
    start = findings.table.start
    began = int(start[drift.began])
    if drift.change is None:
        return f"since about {day(began)}"
    first, last = int(start[drift.change.earliest]), int(start[drift.change.latest])
    span = "" if last - first < 86400 else f" (between {day(first)} and {day(last)})"
    how = {Shape.STEP: "since", Shape.DRIFT: "slowly since", Shape.PULSE: "for a while from"}
    return f"{how[drift.change.shape]} {day_long(began)}{span}"


def drift_title(drift: Drift) -> str:
    """The likeliest cause, worded by how likely it is."""
    best = drift.explained.causes[0]
    if best.share < 0.3:
        return f"Something moved, cause open; first guess: {best.cause.label}"
    how = "Most likely" if best.share >= 0.5 else "Perhaps"
    return f"{how}: {best.cause.label}"


def drift_sentence(drift: Drift) -> str:
    """The likeliest cause; where others cannot be told from it, that and what they are."""
    told = drift.explained
    playing = told.in_play
    best = playing[0]
    if best.share >= 0.75 or len(playing) == 1:
        return f"{drift_title(drift)} ({share_text(best.share)})."
    words = [f"{one.cause.label} ({share_text(one.share)})" for one in playing[:4]]
    lead = "Cannot be told apart yet" if best.share < 0.5 else "Most likely the first of"
    return f"{lead}: {'; '.join(words)}."


def trouble_text(one: InstrumentFault) -> str:
    """What is wrong with a reading, since when, and what that hides."""
    label = signal(one.key.removesuffix("_meter")).label
    when = day(one.since)
    span = f"since {when}" if not one.ended else f"from {when} to {day(one.until)}"
    count = f", {one.count} readings taken out" if one.count > 1 else ""
    words = {
        Trouble.FROZEN: f"stands still {span}",
        Trouble.DEAD: f"is not read {span}",
        Trouble.SPIKING: f"leaps beyond what this press can do, {span}{count}",
        Trouble.BEYOND: f"reads what cannot be, {span}{count}",
        Trouble.UNREAD: f"holds text instead of numbers, {span}{count}",
        Trouble.DRIFTING: f"wanders off, {span}",
        Trouble.TENFOLD: f"sample of {when} looks ten (or a hundred) times off",
        Trouble.MOISTURE: f"sample of {when} looks like moisture written for solids",
        Trouble.SWAPPED: f"sample of {when} looks swapped with another",
        Trouble.ODD: f"sample of {when} fits none of its neighbours",
    }
    hidden = ", ".join(label_of_indicator(name) for name in one.hides)
    told = f"; it hides {hidden}" if hidden and one.alarm else ""
    left = " (left out)" if one.kind in _SLIPS else ""
    return f"{label} {words[one.kind]}{left}{told}."


_SLIPS = (Trouble.TENFOLD, Trouble.MOISTURE, Trouble.SWAPPED, Trouble.ODD)


def label_of_indicator(name: str) -> str:
    """Words of an indicator; the feed flow and load need more than their house name."""
    words = {"volume_flow": "feed flow", "dry_solids_flow": "dry solids fed"}
    return words.get(name, house_name(name).label)
