"""Causes ranked by how well each explains the pattern of what moved and what did not.

The pattern is a set of moves, each in units of what matters; a cause foretells their signs and
rough sizes (`causes.toml`). A cause's weight is the likelihood of the pattern under it, averaged
over how strong the cause might be. What speaks against is shown beside what speaks for.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any

import numpy as np
from scipy import stats

from cakewright.quantities import FloatArray, Mark
from cakewright.running.signals import signal
from cakewright.running.watching import Shape

__all__ = [
    "FEATURES",
    "Cause",
    "Caution",
    "Diagnosis",
    "Evidence",
    "Explained",
    "Move",
    "Verdict",
    "causes",
    "cautions",
    "diagnose",
    "material",
]

FEATURES: Mapping[str, str] = MappingProxyType(
    {
        "feed_solids": "feed solids",
        "solids_load": "solids load",
        "dose": "polymer solution per dry solids",
        "polymer_strength": "polymer solution strength",
        "screw_speed": "screw speed",
        "plate_pressure": "back pressure at the plate",
        "mixer_speed": "mixer speed",
        "wash_flow": "wash water flow",
        "feed_temperature": "feed temperature",
        "r_cake_solids": "cake solids against expectation",
        "r_loss": "solids lost with the filtrate against expectation",
        "r_torque": "screw torque against expectation",
        "r_floc_level": "flocculation tank level against expectation",
        "g_solids": "gap in the solids balance",
        "g_water": "gap in the water balance",
    }
)
_STRENGTHS = np.geomspace(0.4, 2.5, 10)
_BLUR = 0.45  # scatter of a move about what the table foretells, in units of what matters
_TABLE_BLUR = 0.35  # the same as a share of the foretold move
_OPEN_BLUR = 1.5
_FEW = 4  # degrees of freedom: one wrong sign must not kill a cause
_MOST = 5.0
_MOVED = 0.7


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
    shapes: tuple[Shape, ...]
    source: str
    check: str
    first_move: str
    cautions: tuple[str, ...]
    weight: float = 1.0
    mark: Mark = Mark.JUDGEMENT


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


def _table(name: str) -> dict[str, Any]:
    text = files("cakewright.running").joinpath(name).read_text(encoding="utf-8")
    return tomllib.loads(text)


@cache
def material() -> Mapping[str, float]:
    """Size of a move that matters, per feature (natural log; share for balance gaps)."""
    return MappingProxyType(_table("causes.toml")["material"])


@cache
def cautions() -> Mapping[str, Caution]:
    """Cautions by key."""
    rows = _table("cautions.toml")
    return MappingProxyType({key: Caution(key, **row) for key, row in rows.items()})


def _cause(key: str, row: Mapping[str, Any]) -> Cause:
    return Cause(
        key, row["label"], row["sign"], frozenset(row["open"]),
        tuple(Shape(shape) for shape in row["shape"]), row["source"], row["check"],
        row["first_move"], tuple(row["caution"]),
    )  # fmt: skip


def _sensor_causes(table: Mapping[str, Any]) -> dict[str, Cause]:
    found = {}
    common = table["sensor"]
    for key, row in table["sensors"].items():
        label = signal(key).label
        for word, turn in (("high", 1.0), ("low", -1.0)):
            name = f"sensor_{key}_{word}"
            found[name] = Cause(
                key=name,
                label=f"{label} reads too {word}",
                sign={feature: turn * sign for feature, sign in row["sign"].items()},
                open=frozenset(row["open"]),
                shapes=tuple(Shape(shape) for shape in common["shape"]),
                source=common["source"],
                check=common["check"].format(label=label),
                first_move=common["first_move"],
                cautions=tuple(common["caution"]),
                weight=0.25,
            )
    return found


@cache
def causes() -> Mapping[str, Cause]:
    """Every cause of the knowledge table, instruments included."""
    table = _table("causes.toml")
    process = {key: _cause(key, row) for key, row in table["causes"].items()}
    return MappingProxyType({**process, **_sensor_causes(table)})


def _log_t(size: FloatArray, mean: FloatArray, spread: FloatArray) -> FloatArray:
    return np.asarray(stats.t.logpdf((size - mean) / spread, _FEW) - np.log(spread))


def _log_weight(cause: Cause, features: list[str], size: FloatArray, error: FloatArray) -> float:
    """Log likelihood of the moves, averaged over how strong the cause might be."""
    sign = np.array([cause.sign.get(feature, 0.0) for feature in features])
    free = np.array([feature in cause.open for feature in features])
    still = _log_t(size, np.zeros(size.shape), np.hypot(_BLUR, error))
    likely = []
    for strength in _STRENGTHS:
        mean = strength * sign
        blur = np.where(free, _OPEN_BLUR, np.hypot(_BLUR, _TABLE_BLUR * mean))
        moved = _log_t(size, mean, np.hypot(blur, error))
        either = np.logaddexp(moved, still) - np.log(2)
        likely.append(float(np.sum(np.where(free, either, moved))))
    return float(np.logaddexp.reduce(likely) - np.log(len(likely)))


def _nothing_moved(size: FloatArray, error: FloatArray) -> float:
    return float(np.sum(_log_t(size, np.zeros(size.shape), np.hypot(_BLUR, error))))


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
    if shape is None or cause.shapes[0] is shape:
        return 1.0
    return 0.6 if shape in cause.shapes else 0.25


def diagnose(moves: Mapping[str, Move], shape: Shape | None = None) -> Explained:
    """Causes ranked by how well each explains the moves, the likeliest first.

    Features that are not in ``moves`` were not read and count neither way; ``shape`` weighs a
    cause down where it does not usually come about that way.
    """
    features = [feature for feature in FEATURES if feature in moves]
    size = np.clip([moves[f].size for f in features], -_MOST, _MOST)
    error = np.array([moves[f].error for f in features])
    weights = {
        key: _log_weight(cause, features, size, error)
        + float(np.log(cause.weight * _course_weight(cause, shape)))
        for key, cause in causes().items()
    }
    nothing = _nothing_moved(size, error)
    other = _anything(size, error)
    total = float(np.logaddexp.reduce([*weights.values(), nothing, other]))
    result = []
    for key in sorted(weights, key=lambda k: -weights[k]):
        cause = causes()[key]
        evidence = tuple(_evidence(cause, f, moves.get(f)) for f in FEATURES)
        told = tuple(cautions()[c] for c in cause.cautions)
        result.append(Diagnosis(cause, float(np.exp(weights[key] - total)), evidence, told))
    shares = (float(np.exp(nothing - total)), float(np.exp(other - total)))
    return Explained(tuple(result), *shares)
