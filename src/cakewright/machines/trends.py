"""What moves a kind's published figures when the sludge or its dose is not that of the band.

A trend is a curve over one lever, told as the difference (dose and feed solids: the ratio) to the
band's own conditions; beyond its ends it stays where it is, because nothing is published there.
Its size has a band of its own. A kind tells its trends in `trends.toml`, or in that of its model.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from typing import Any

import numpy as np

from cakewright.errors import UnknownNameError
from cakewright.machines.quantiles import split_normal
from cakewright.machines.registry import Kind, data_of, shared_data
from cakewright.quantities import FloatArray, Mark
from cakewright.reference import band_conditions
from cakewright.sludge import Feed

__all__ = [
    "FIGURES",
    "LEVERS",
    "How",
    "Move",
    "Trend",
    "moves",
    "strays",
    "told",
    "trends",
    "usual_at",
    "worked",
]

Floats = float | FloatArray

FIGURES = ("polymer_dose", "cake_solids", "capture", "throughput")
"""What moves, in the order it is worked out; throughput is relative to the rated limit."""

# The lever, where it is neutral, and how far it may stray before a missing trend is worth a word.
_NEUTRAL: Mapping[str, tuple[float, float, float]] = {
    "dose": (1.0, 0.8, 1.5),
    "ash": (0.0, -0.05, 0.05),
    "oil": (0.0, -0.05, 0.05),
    "fibre": (0.0, -0.05, 0.05),
    "temperature": (0.0, -5.0, 5.0),
    "total_solids": (1.0, 0.7, 1.5),
    "stored": (0.0, 0.0, 43200.0),
}
LEVERS = tuple(_NEUTRAL)
_BY_PART = ("ash", "oil", "fibre")
_LEAST = -0.9  # of a relative change: no trend makes a figure vanish
_SEEN = 1e-9


class How(StrEnum):
    """What an effect does to a figure."""

    FACTOR = "factor"
    POINTS = "points"
    LOSS = "loss"
    TOWARD = "toward"


@dataclass(frozen=True, slots=True)
class Trend:
    """One curve: ``effect`` at the lever's ``at``.

    ``low`` and ``high`` are the 10 and 90 % points of its size. ``classes`` empty: every sludge.
    ``bound`` is where an effect of 1 of `How.TOWARD` ends.
    """

    kind: Kind
    lever: str
    figure: str
    how: How
    at: tuple[float, ...]
    effect: tuple[float, ...]
    low: float
    high: float
    classes: tuple[str, ...]
    bound: float
    source: str
    mark: Mark
    note: str

    def holds(self, sludge_class: str) -> bool:
        """Whether it is told for this class."""
        return not self.classes or sludge_class in self.classes

    def typical(self, lever: Floats) -> FloatArray:
        """Effect of its typical size."""
        return np.asarray(np.interp(lever, self.at, self.effect))

    def moved(self, value: FloatArray, effect: FloatArray) -> FloatArray:
        """A figure moved by an effect."""
        if self.how is How.FACTOR:
            return np.asarray(value * (1.0 + effect))
        if self.how is How.POINTS:
            return np.asarray(value + effect)
        if self.how is How.LOSS:
            return np.asarray(1.0 - (1.0 - value) * (1.0 + effect))
        return np.asarray(value - effect * (value - self.bound))


@dataclass(frozen=True, slots=True, eq=False)
class Move:
    """One trend at work: its effect over samples."""

    trend: Trend
    effect: FloatArray

    @property
    def works(self) -> bool:
        """Whether it moves the point case."""
        return abs(float(self.effect[0])) > _SEEN


@cache
def trends(kind: Kind) -> tuple[Trend, ...]:
    """Every trend of one kind: those of its model, then its own.

    Raises
    ------
    UnknownNameError
        If a row names a lever or a figure that does not exist.
    """
    shared = shared_data(kind, "trends.toml").get("trend", ())
    return tuple(
        _trend(kind, row) for row in (*shared, *data_of(kind, "trends.toml").get("trend", ()))
    )


def _trend(kind: Kind, row: Mapping[str, Any]) -> Trend:
    for name, known in ((row["lever"], LEVERS), (row["figure"], FIGURES)):
        if name not in known:
            raise UnknownNameError(f"{kind}: trend of {name!r}; known: {', '.join(known)}")
    low, high = row["size"]
    return Trend(
        kind=kind,
        lever=row["lever"],
        figure=row["figure"],
        how=How(row["how"]),
        at=tuple(map(float, row["at"])),
        effect=tuple(map(float, row["effect"])),
        low=float(low),
        high=float(high),
        classes=tuple(row.get("classes", ())),
        bound=float(row.get("bound", 0.0)),
        source=row["source"],
        mark=Mark(row["mark"]),
        note=row["note"],
    )


def moves(
    kind: Kind,
    feed: Feed,
    figure: str,
    sizes: Mapping[str, Floats],
    dose_ratio: Floats | None = None,
) -> tuple[Move, ...]:
    """Every trend of one figure on this feed.

    ``sizes`` holds a quantile per lever for the size of its effects (missing: typical);
    ``dose_ratio`` is the dose given over what the sludge needs, None where none was given.
    """
    found = []
    for trend in trends(kind):
        if trend.figure != figure or (trend.lever == "dose" and dose_ratio is None):
            continue
        size = split_normal(trend.low, 1.0, trend.high, sizes.get(trend.lever, 0.5))
        found.append(Move(trend, _bounded(trend, size * _effect(trend, feed, dose_ratio))))
    return tuple(found)


def _effect(trend: Trend, feed: Feed, dose_ratio: Floats | None) -> FloatArray:
    total: Any = np.zeros(feed.mix.size)
    for key, share in feed.shares.items():
        if trend.holds(key):
            total = total + share * trend.typical(
                _lever(trend.kind, trend.lever, feed, key, dose_ratio)
            )
    return np.atleast_1d(np.asarray(total, dtype=float))


def _bounded(trend: Trend, effect: FloatArray) -> FloatArray:
    if trend.how is How.TOWARD:
        return np.clip(effect, 0.0, 1.0)
    return np.maximum(effect, _LEAST)


def usual_at(kind: Kind, sludge_class: str, lever: str) -> float:
    """Where the band stands on a lever: the kind's own word, else the class's."""
    own = data_of(kind, "trends.toml").get("usual", {})
    return float(own.get(lever, getattr(band_conditions(sludge_class), lever)))


def _lever(kind: Kind, name: str, feed: Feed, key: str, dose_ratio: Floats | None) -> Floats:
    """A lever against the conditions of one class's band."""
    if name == "dose":
        return 1.0 if dose_ratio is None else dose_ratio
    usual = usual_at(kind, key, name)
    if name == "total_solids":
        return np.asarray(feed.mix.total_solids / usual)
    if name not in _BY_PART:
        return np.asarray(getattr(feed.mix, name) - usual)
    mine = [part for part in feed.parts if part.sludge_class == key]
    dry: Any = sum(part.dry_solids_flow for part in mine)
    mass: Any = sum(part.dry_solids_flow * getattr(part, name) for part in mine)
    return np.asarray(mass / dry - usual)


def strays(
    kind: Kind, feed: Feed, figure: str, dose_ratio: Floats | None = None
) -> tuple[str, ...]:
    """Levers off the band's conditions of which nobody tells what they do to a figure."""
    found = []
    for lever in LEVERS:
        if figure == "polymer_dose" and lever == "dose":
            continue
        told = [t for t in trends(kind) if t.lever == lever and t.figure == figure]
        open_ = (key for key in feed.shares if not any(t.holds(key) for t in told))
        if any(_off(lever, _lever(kind, lever, feed, key, dose_ratio)) for key in open_):
            found.append(lever)
    return tuple(found)


def _off(lever: str, value: Floats) -> bool:
    _, low, high = _NEUTRAL[lever]
    return not low <= float(np.atleast_1d(np.asarray(value, float))[0]) <= high


_WORDS = {
    "dose": "the dose",
    "ash": "ash",
    "oil": "oil",
    "fibre": "fibre",
    "temperature": "temperature",
    "total_solids": "feed solids",
    "stored": "storage",
}


def told(what: str, found: Iterable[Move], strayed: Iterable[str]) -> tuple[str, ...]:
    """What is said beside a figure: what moved it, and what is not known to."""
    moved = ", ".join(dict.fromkeys(_WORDS[move.trend.lever] for move in worked(found)))
    unknown = ", ".join(_WORDS[lever] for lever in strayed)
    said = (
        f"{what} moved by {moved}" if moved else "",
        f"not moved by {unknown}: nothing is known of that for this kind" if unknown else "",
    )
    return tuple(one for one in said if one)


def worked(found: Iterable[Move]) -> tuple[Move, ...]:
    """Those that move the point case."""
    return tuple(move for move in found if move.works)
