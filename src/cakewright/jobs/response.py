"""How each priced kind answers to the inputs: surfaces a spreadsheet can follow, with their error.

What the program works out by tables and bands no formula can carry. Its answers at many points of
the inputs, worked out in one batch, are laid on surfaces: the logarithm of an answer is a
polynomial through five points of each input alone, and one product term for each pair of inputs.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from cakewright.jobs.carbon import CarbonOption, carbon_of
from cakewright.jobs.chain import Made, made_on, other_draws
from cakewright.jobs.choice import Priced
from cakewright.jobs.draws import StudyDraws, allowed_span
from cakewright.quantities import FloatArray
from cakewright.sludge import Feed
from cakewright.study import Study

__all__ = ["BIOGENIC", "KindResponse", "Response", "amounts", "response_of", "route_key"]

BIOGENIC = "biogenic CO2"
_ROOMS = ("sludge.", "production.", "duty.", "polymer.")
# Inputs are tabled to this share either side, or as far as their band if that is wider.
_WIDE = 0.2
_DEGREES = 8.0
_NODES = (-1.0, -0.5, 0.5, 1.0)
# Terms that move no answer by more than this share are left out.
_LEAST_ALONE, _LEAST_PAIR = 1e-6, 2e-4
_CHECKED = 128
# The error told is the largest found at the points checked, and half as much again.
_CARE = 1.5
_PER_DRY = ("cake", "energy", "water", "solids_returned", "coagulant", "ferric", "lime")


@dataclass(frozen=True, slots=True, eq=False)
class KindResponse:
    """One kind: each answer at the point [SI], its terms, and the largest relative error."""

    machine: str
    label: str
    point: Mapping[str, float]
    terms: Mapping[str, FloatArray]
    error: Mapping[str, float]


@dataclass(frozen=True, slots=True, eq=False)
class Response:
    """The inputs that move something, how far each is tabled, and the surfaces of every kind.

    With u = (value - point) / half, ln(answer / point) is the sum over ``rows`` of a term times
    u_i^n (rows i, -1, n) or u_i u_j (rows i, j, 1).
    """

    places: tuple[str, ...]
    point: tuple[float, ...]
    half: tuple[float, ...]
    rows: tuple[tuple[int, int, int], ...]
    kinds: tuple[KindResponse, ...]
    checked: int


def route_key(part: str) -> str:
    """Key of the answer for a part of the carbon that comes of the outlet."""
    return f"carbon, {part}"


def amounts(made: Made | Priced, feed: Feed, carbon: CarbonOption) -> dict[str, FloatArray]:
    """Every answer of one kind that is laid on a surface, SI, over samples."""
    yearly, performance = made.yearly, made.option.performance
    found = {name: performance.samples(name) for name in _FIGURES if name in performance.figures}
    found["run_hours_per_day"] = np.asarray(made.plan.figures["run_hours_per_day"].samples)
    found["dry_solids"] = yearly.dry_solids
    found["attention"] = yearly.attention
    found["cake_out"] = yearly.cake_solids
    found["peak_power"] = yearly.peak_power
    found |= {name: getattr(yearly, name) / yearly.dry_solids for name in _PER_DRY}
    for part, figure in carbon.parts.items():
        if not carbon.factor_of(part) or part.startswith("composting"):
            found[route_key(part)] = figure.samples
    found[BIOGENIC] = carbon.biogenic.samples
    return found


_FIGURES = (
    "cake_solids",
    "capture",
    "cake_own_solids",
    "polymer_dose",
    "ferric_dose",
    "lime_dose",
    "specific_energy",
    "wash_water_specific",
)


def response_of(
    study: Study, draws: StudyDraws, feed: Feed, priced: Sequence[Priced]
) -> Response | None:
    """Surfaces of every priced kind; None where no input of the study can move."""
    spans = {place: _half(study, place) for place in study.values if place.startswith(_ROOMS)}
    spans = {place: half for place, half in spans.items() if half > 0.0}
    if not spans:
        return None
    places = tuple(spans)
    pairs = list(combinations(range(len(places)), 2))
    shifts = _shifts(len(places), pairs, draws.draws.seed)
    point = np.array([draws[place][0] for place in places])
    values = point + shifts * np.array(list(spans.values()))
    moved = dict(zip(places, values.T, strict=True))
    other = other_draws(draws, moved, len(values))
    found = [_surfaces(study, draws, other, feed, one, len(places), pairs) for one in priced]
    kept = _kept([terms for _, terms in found], len(places))
    rows = [(i, -1, n) for i in range(len(places)) for n in range(1, 5)]
    rows += [(i, j, 1) for i, j in pairs]
    basis = _basis(shifts[-_CHECKED:], [rows[r] for r in kept])
    kinds = tuple(
        _kind(one, answers, {name: t[kept] for name, t in terms.items()}, basis, start)
        for one, (answers, terms), start in zip(
            priced, found, [_at_point(study, draws, feed, one) for one in priced], strict=True
        )
    )
    return Response(
        places=places,
        point=tuple(point.tolist()),
        half=tuple(spans.values()),
        rows=tuple(rows[r] for r in kept),
        kinds=kinds,
        checked=_CHECKED,
    )


def _half(study: Study, place: str) -> float:
    """How far an input is tabled to either side of its value; 0 where it stands at its limit."""
    given = study.values[place]
    band = max(
        (abs(end - given.value) for end in (given.low, given.high) if end is not None), default=0.0
    )
    usual = _DEGREES if given.name.endswith("temperature") else _WIDE * abs(given.value)
    low, high = allowed_span(study, place)
    return max(0.0, min(max(usual, band), given.value - low, high - given.value))


def _shifts(count: int, pairs: Sequence[tuple[int, int]], seed: int) -> FloatArray:
    """The point, each input alone at four places, each pair at two corners, points to check."""
    alone = np.concatenate([np.eye(count) * node for node in _NODES])
    corners = np.zeros((2 * len(pairs), count))
    for at, (i, j) in enumerate(pairs):
        corners[2 * at, [i, j]] = 1.0
        corners[2 * at + 1, [i, j]] = -1.0
    checked = np.random.default_rng(seed).uniform(-1.0, 1.0, (_CHECKED, count))
    return np.concatenate([np.zeros((1, count)), alone, corners, checked])


def _surfaces(
    study: Study,
    draws: StudyDraws,
    other: StudyDraws,
    feed: Feed,
    priced: Priced,
    count: int,
    pairs: Sequence[tuple[int, int]],
) -> tuple[dict[str, FloatArray], dict[str, FloatArray]]:
    """Logarithms of the answers against the point at all points, and their terms."""
    made = made_on(study, other, priced)
    key, label = priced.option.key, priced.option.kind.label
    carbon = carbon_of(study, key, label, made.yearly, made.feed, other)
    logs = {
        name: np.log(values / values[0])
        for name, values in amounts(made, made.feed, carbon).items()
        if (values > 0.0).all()
    }
    return logs, {name: _terms(values, count, pairs) for name, values in logs.items()}


def _terms(logs: FloatArray, count: int, pairs: Sequence[tuple[int, int]]) -> FloatArray:
    """Four terms of each input alone, then one of each pair."""
    nodes = np.array(_NODES)
    alone = logs[1 : 1 + 4 * count].reshape(4, count)
    powers = np.linalg.solve(nodes[:, None] ** np.arange(1, 5), alone)
    corners = logs[1 + 4 * count : 1 + 4 * count + 2 * len(pairs)].reshape(-1, 2)
    at = np.array(pairs, dtype=int).reshape(-1, 2)
    low, high = alone[0], alone[3]
    left = np.stack([high[at[:, 0]] + high[at[:, 1]], low[at[:, 0]] + low[at[:, 1]]], axis=1)
    return np.concatenate([powers.T.ravel(), (corners - left).mean(axis=1)])


def _kept(kinds: Sequence[Mapping[str, FloatArray]], count: int) -> list[int]:
    """Rows that move some answer of some kind."""
    largest = np.max([np.abs(t) for kind in kinds for t in kind.values()], axis=0)
    alone = np.arange(largest.size) < 4 * count
    return np.flatnonzero(largest > np.where(alone, _LEAST_ALONE, _LEAST_PAIR)).tolist()


def _basis(shifts: FloatArray, rows: Sequence[tuple[int, int, int]]) -> FloatArray:
    columns = [shifts[:, i] ** n if j < 0 else shifts[:, i] * shifts[:, j] for i, j, n in rows]
    return np.stack(columns, axis=1) if columns else np.zeros((len(shifts), 0))


def _at_point(study: Study, draws: StudyDraws, feed: Feed, priced: Priced) -> dict[str, float]:
    key, label = priced.option.key, priced.option.kind.label
    carbon = carbon_of(study, key, label, priced.yearly, feed, draws)
    return {n: float(np.ravel(v)[0]) for n, v in amounts(priced, feed, carbon).items()}


def _kind(
    priced: Priced,
    logs: Mapping[str, FloatArray],
    terms: Mapping[str, FloatArray],
    basis: FloatArray,
    start: Mapping[str, float],
) -> KindResponse:
    error = {
        name: _CARE * float(np.max(np.abs(np.expm1(basis @ terms[name] - values[-_CHECKED:]))))
        for name, values in logs.items()
    }
    return KindResponse(priced.option.key, priced.option.kind.label, start, terms, error)
