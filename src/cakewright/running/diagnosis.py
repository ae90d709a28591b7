"""Causes ranked by how well each explains the pattern of what moved and what did not.

The pattern is a set of moves, each in units of what matters; a cause foretells their signs and
rough sizes (`causes.toml`). A cause's weight is the likelihood of the pattern under it, averaged
over how strong the cause might be. What speaks against is shown beside what speaks for.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import cache
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from cakewright.quantities import FloatArray, Mark
from cakewright.quantities.tables import packaged_table
from cakewright.running.signals import signal
from cakewright.running.watching import Shape

__all__ = [
    "FEATURES",
    "Cause",
    "Caution",
    "DecidingTest",
    "Diagnosis",
    "Evidence",
    "Explained",
    "Move",
    "Verdict",
    "base_rates",
    "causes",
    "cautions",
    "deciding_tests",
    "diagnose",
    "first_moves",
    "material",
]

FEATURES: Mapping[str, str] = MappingProxyType(
    {
        "feed_flow": "feed flow",
        "feed_solids": "feed solids",
        "solids_load": "solids load",
        "dose": "polymer solution per dry solids",
        "polymer_strength": "polymer solution strength",
        "screw_speed": "screw speed",
        "plate_pressure": "back pressure at the plate",
        "mixer_speed": "mixer speed",
        "wash_flow": "wash water flow",
        "dilution_flow": "dilution water flow",
        "feed_temperature": "feed temperature",
        "r_cake_solids": "cake solids against expectation",
        "r_loss": "solids lost with the filtrate against expectation",
        "r_torque": "screw torque against expectation",
        "r_floc_level": "flocculation tank level against expectation",
        "r_power": "electrical power against expectation",
        "m_feed_solids": "feed solids meter against the laboratory",
        "m_torque": "torque reading against electrical power",
        "g_solids": "gap in the solids balance",
        "g_water": "gap in the water balance",
    }
)
_STRENGTHS = np.geomspace(0.4, 2.5, 10)
_BLUR = 0.40  # scatter of a move about what the table foretells, in units of what matters
_TABLE_BLUR = 0.35  # the same as a share of the foretold move
_OPEN_BLUR = 1.5
_STILL = 0.40  # the same where nothing is the matter
_MOST = 5.0
_MOVED = 0.7
IN_PLAY = 0.08


class Verdict(StrEnum):
    """What one feature says about one cause."""

    FOR = "for"
    AGAINST = "against"
    SILENT = "silent"
    NOT_READ = "not read"


@dataclass(frozen=True, slots=True)
class Move:
    """How far one feature moved, in units of what matters, and the standard error of that."""

    size: float
    error: float = 0.0


@dataclass(frozen=True, slots=True)
class Caution:
    """One caution with its source."""

    key: str
    text: str
    source: str


@dataclass(frozen=True, slots=True)
class Cause:
    """One row of the knowledge table."""

    key: str
    label: str
    sign: Mapping[str, float]
    open: frozenset[str]
    shapes: Mapping[Shape, float]
    source: str
    check: str
    move: str
    cautions: tuple[str, ...]
    needs: str = ""
    mark: Mark = Mark.JUDGEMENT

    @property
    def first_move(self) -> str:
        """Its own first move, were it the only cause in play."""
        return first_moves()[self.move].text


@dataclass(frozen=True, slots=True)
class Evidence:
    """One feature beside one cause: what moved, what the cause foretells, the verdict."""

    feature: str
    label: str
    moved: float
    foretold: float
    verdict: Verdict


@dataclass(frozen=True, slots=True)
class Diagnosis:
    """One cause with its share of belief (all causes and 'none of these' add up to one)."""

    cause: Cause
    share: float
    evidence: tuple[Evidence, ...]
    cautions: tuple[Caution, ...]

    def pick(self, verdict: Verdict) -> tuple[Evidence, ...]:
        """Evidence of one kind, strongest first."""
        found = [e for e in self.evidence if e.verdict is verdict]
        return tuple(sorted(found, key=lambda e: -abs(e.moved)))


@dataclass(frozen=True, slots=True)
class Explained:
    """Causes, likeliest first; the share of 'nothing moved' and of 'none of these causes'."""

    causes: tuple[Diagnosis, ...]
    nothing: float
    other: float

    @property
    def in_play(self) -> tuple[Diagnosis, ...]:
        """Causes that may not be put aside: a first move must be safe for all of them."""
        return tuple(one for one in self.causes if one.share >= IN_PLAY) or self.causes[:1]

    @property
    def first_move(self) -> str:
        """The likeliest cause's first move that harms under none of the causes in play."""
        playing = {one.cause.key for one in self.in_play}
        moves = first_moves()
        for one in self.in_play:
            if not moves[one.cause.move].unsafe & playing:
                return moves[one.cause.move].text
        return moves["safe"].text

    @property
    def test(self) -> DecidingTest | None:
        """The cheapest test that tells the causes in play apart; None if one cause stands alone."""
        return cheapest_test(self.causes)


@dataclass(frozen=True, slots=True)
class FirstMove:
    """What to do first, and the causes under which it could do harm."""

    text: str
    unsafe: frozenset[str]


@dataclass(frozen=True, slots=True)
class DecidingTest:
    """Something to look at: minutes of work, outcomes, chance of each outcome under a cause."""

    key: str
    text: str
    minutes: float
    outcomes: tuple[str, ...]
    chance: Mapping[str, tuple[float, ...]]

    def chances(self, cause: str) -> tuple[float, ...]:
        """Chance of each outcome under a cause."""
        return self.chance.get(cause, self.chance["else"])


def _table(name: str) -> dict[str, Any]:
    return packaged_table("cakewright.running", name)


@cache
def material() -> Mapping[str, float]:
    """Size of a move that matters, per feature (natural log; share for balance gaps)."""
    return MappingProxyType(_table("causes.toml")["material"])


@cache
def cautions() -> Mapping[str, Caution]:
    """Cautions by key."""
    rows = _table("cautions.toml")
    return MappingProxyType({key: Caution(key, **row) for key, row in rows.items()})


@cache
def first_moves() -> Mapping[str, FirstMove]:
    """First moves by key."""
    rows = _table("moves.toml")
    return MappingProxyType(
        {key: FirstMove(row["text"], frozenset(row["unsafe"])) for key, row in rows.items()}
    )


@cache
def deciding_tests() -> Mapping[str, DecidingTest]:
    """Deciding tests by key."""
    found = {}
    for key, row in _table("deciding.toml")["tests"].items():
        chance = {cause: tuple(map(float, each)) for cause, each in row["chance"].items()}
        found[key] = DecidingTest(
            key, row["text"], float(row["minutes"]), tuple(row["outcomes"]), chance
        )
    return MappingProxyType(found)


def _bits(shares: FloatArray) -> float:
    part = shares[shares > 0]
    return float(-(part * np.log2(part)).sum())


def cheapest_test(found: Sequence[Diagnosis], most: int = 6) -> DecidingTest | None:
    """The test that takes most doubt away per effort; every test costs ten minutes to begin."""
    top = [one for one in found[:most] if one.share > 0.02]
    shares = np.array([one.share for one in top])
    if not top or shares[0] / shares.sum() > 0.9:
        return None
    shares = shares / shares.sum()
    best, gain = None, 0.05
    for test in deciding_tests().values():
        chance = np.array([test.chances(one.cause.key) for one in top])
        outcome = shares @ chance
        left = sum(
            p * _bits(shares * chance[:, i] / p) for i, p in enumerate(outcome.tolist()) if p > 0
        )
        worth = (_bits(shares) - left) / (10.0 + test.minutes)
        if worth * 20 > gain:
            best, gain = test, worth * 20
    return best


@cache
def _rates() -> Mapping[str, Any]:
    return MappingProxyType(_table("cause_rates.toml"))


def base_rates(sludge: str = "", own: Mapping[str, float] | None = None) -> Mapping[str, float]:
    """Events a year of each cause before anything is read: the table, its factors for a class of
    sludge, and what a site knows better (events a year)."""
    table = _rates()
    rates = {key: float(rate) for key, rate in table["rate"].items()}
    for key, factor in table["sludge"].get(sludge, {}).items():
        rates[key] = rates[key] * factor
    return {**rates, **(own or {})}


def _rate(key: str, rates: Mapping[str, float]) -> float:
    if key in rates:
        return rates[key]
    plain = key.removesuffix("_high").removesuffix("_low")
    return 0.5 * rates.get(plain, 0.2)


def _cause(key: str, row: Mapping[str, Any]) -> Cause:
    return Cause(
        key, row["label"], row["sign"], frozenset(row["open"]),
        {Shape(shape): float(p) for shape, p in row["shape"].items()}, row["source"],
        row["check"], row["move"], tuple(row["caution"]),
        row.get("needs", ""),
    )  # fmt: skip


def _sensor_causes(table: Mapping[str, Any]) -> dict[str, Cause]:
    found = {}
    for key, own in table["sensors"].items():
        label = signal(key).label
        row = {**table["sensor"], **own}
        for word, turn in (("high", 1.0), ("low", -1.0)):
            name = f"sensor_{key}_{word}"
            found[name] = replace(
                _cause(name, {**row, "label": f"{label} reads too {word}"}),
                sign={feature: turn * sign for feature, sign in row["sign"].items()},
                check=row["check"].format(label=label),
            )
    return found


@cache
def causes() -> Mapping[str, Cause]:
    """Every cause of the knowledge table, instruments included."""
    table = _table("causes.toml")
    process = {key: _cause(key, row) for key, row in table["causes"].items()}
    return MappingProxyType({**process, **_sensor_causes(table)})


# Chance that a feature moves at the same time for a reason of its own: settings are changed by
# hand, feed wanders; what reads one thing only hardly ever does. Judgement.
_BY_ITSELF: Mapping[str, float] = MappingProxyType(
    {
        "dose": 0.25, "screw_speed": 0.15, "solids_load": 0.15, "feed_flow": 0.12,
        "plate_pressure": 0.10, "feed_solids": 0.10, "feed_temperature": 0.10,
        "mixer_speed": 0.05, "wash_flow": 0.02, "dilution_flow": 0.02, "polymer_strength": 0.03,
        "m_feed_solids": 0.05, "m_torque": 0.03,
    }
)  # fmt: skip
_COINCIDENCE, _WIDE = 0.03, 2.0


def _log_t(
    size: FloatArray, mean: FloatArray, spread: FloatArray, freedom: float = 6.0
) -> FloatArray:
    """Log density of Student's t, without what is the same for all: one wrong sign must not kill
    a cause."""
    z = (size - mean) / spread
    return np.asarray(-0.5 * (freedom + 1) * np.log1p(z * z / freedom) - np.log(spread))


@cache
def _signs() -> tuple[tuple[str, ...], FloatArray, NDArray[np.bool_]]:
    """Causes, and what each foretells and leaves open, by feature."""
    rows = causes()
    sign = np.array([[one.sign.get(f, 0.0) for f in FEATURES] for one in rows.values()])
    free = np.array([[f in one.open for f in FEATURES] for one in rows.values()])
    return tuple(rows), sign, free


def _log_weights(features: list[str], size: FloatArray, error: FloatArray) -> dict[str, float]:
    """Log likelihood of the moves under each cause, averaged over how strong it might be."""
    keys, sign, free = _signs()
    columns = [list(FEATURES).index(f) for f in features]
    sign, free = sign[:, None, columns], free[:, None, columns]
    mean = _STRENGTHS[None, :, None] * sign
    still = _log_t(size, np.zeros(size.shape), np.hypot(_BLUR, error))
    blur = np.where(free, _OPEN_BLUR, np.hypot(_BLUR, _TABLE_BLUR * mean))
    moved = _log_t(size, mean, np.hypot(blur, error))
    told = np.where(free, np.logaddexp(moved, still) - np.log(2), moved)
    chance = np.array([_BY_ITSELF.get(f, _COINCIDENCE) for f in features])
    apart = _log_t(size, np.zeros(size.shape), np.hypot(_WIDE, error))
    likely = np.logaddexp(np.log1p(-chance) + told, np.log(chance) + apart).sum(axis=2)
    total = np.logaddexp.reduce(likely, axis=1) - np.log(_STRENGTHS.size)
    return dict(zip(keys, total.tolist(), strict=True))


def _nothing_moved(size: FloatArray, error: FloatArray) -> float:
    return float(np.sum(_log_t(size, np.zeros(size.shape), np.hypot(_STILL, error), 20.0)))


def _anything(size: FloatArray, error: FloatArray) -> float:
    """Any pattern at all: wide about nothing."""
    return float(np.sum(_log_t(size, np.zeros(size.shape), np.hypot(1.6, error))))


def _evidence(cause: Cause, feature: str, move: Move | None) -> Evidence:
    foretold = cause.sign.get(feature, 0.0)
    if move is None:
        verdict = Verdict.NOT_READ if foretold else Verdict.SILENT
        return Evidence(feature, FEATURES[feature], float("nan"), foretold, verdict)
    moved = abs(move.size) > max(_MOVED, 2 * move.error)
    if foretold:
        fits = moved and np.sign(move.size) == np.sign(foretold)
        weak = abs(foretold) < 1 and not moved
        quiet = weak or feature in cause.open
        verdict = Verdict.FOR if fits else Verdict.SILENT if quiet else Verdict.AGAINST
    else:
        quiet = not moved or feature in cause.open
        verdict = Verdict.SILENT if quiet else Verdict.AGAINST
    return Evidence(feature, FEATURES[feature], move.size, foretold, verdict)


def _course_weight(cause: Cause, shape: Shape | None) -> float:
    """How usual it is for a cause to come about this way."""
    return 1.0 if shape is None else max(cause.shapes.get(shape, 0.0), 0.03)


def diagnose(
    moves: Mapping[str, Move],
    shape: Shape | None = None,
    *,
    rates: Mapping[str, float] | None = None,
    answers: Mapping[str, int] | None = None,
) -> Explained:
    """Causes ranked by how often they come about and how well each explains the moves.

    Features that are not in ``moves`` were not read and count neither way; a cause that is nothing
    but the move of one reading is out of play where that is not read. ``shape`` weighs a
    cause down where it does not usually come about that way; ``rates`` are events a year
    (`base_rates`); ``answers`` are outcomes of deciding tests, by number.
    """
    rates = rates or base_rates()
    features = [feature for feature in FEATURES if feature in moves]
    size = np.clip([moves[f].size for f in features], -_MOST, _MOST)
    error = np.array([moves[f].error for f in features])
    likely = _log_weights(features, size, error)
    playing = {k: one for k, one in causes().items() if not one.needs or one.needs in moves}
    weights = {
        key: likely[key]
        + float(np.log(_rate(key, rates) * _course_weight(cause, shape) + 1e-12))
        + _answered(key, answers or {})
        for key, cause in playing.items()
    }
    nothing = _nothing_moved(size, error) + float(np.log(rates["nothing"]))
    other = _anything(size, error) + float(np.log(rates["other"]))
    total = float(np.logaddexp.reduce([*weights.values(), nothing, other]))
    result = []
    for key in sorted(weights, key=lambda k: -weights[k]):
        cause = causes()[key]
        evidence = tuple(_evidence(cause, f, moves.get(f)) for f in FEATURES)
        told = tuple(cautions()[c] for c in cause.cautions)
        result.append(Diagnosis(cause, float(np.exp(weights[key] - total)), evidence, told))
    shares = (float(np.exp(nothing - total)), float(np.exp(other - total)))
    return Explained(tuple(result), *shares)


def _answered(cause: str, answers: Mapping[str, int]) -> float:
    """Log likelihood of what deciding tests said, under a cause."""
    total = 0.0
    for key, outcome in answers.items():
        total += float(np.log(max(deciding_tests()[key].chances(cause)[outcome], 1e-3)))
    return total
