"""Which inputs move the chosen line: bars in the user's own units, first and total shares."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from cakewright.jobs.chain import OUTPUTS, other_draws, results_on
from cakewright.jobs.choice import Priced
from cakewright.jobs.draws import StudyDraws
from cakewright.quantities import FloatArray
from cakewright.statistics import (
    Bar,
    Design,
    first_order_indices,
    one_at_a_time_inputs,
    tornado_bars,
    unit_cube,
    variance_indices,
)
from cakewright.study import Study

__all__ = ["Moves", "Shares", "Tornado", "TornadoBar", "moves_of", "shares_of", "tornado_of"]

_ENDS = (0.1, 0.9)
_MOST_BARS = 10
_GROUPS = 8
_BASE = 128
_REPLICATES = 8  # independent designs, so that errors are known
_LEAST = 100
# A bar shorter than this share of the longest is left out.
_SHORTEST = 0.005


@dataclass(frozen=True, slots=True)
class TornadoBar:
    """One input moved alone from its 10 % to its 90 % point; ends and results in SI."""

    place: str
    low: float
    high: float
    at_low: float
    at_high: float


@dataclass(frozen=True, slots=True)
class Tornado:
    """Bars of one output, longest first."""

    output: str
    point: float
    bars: tuple[TornadoBar, ...]


@dataclass(frozen=True, slots=True)
class Shares:
    """First and total shares of the variance of one output, of the inputs that matter.

    First shares come from the study's own samples, total ones from a design of their own. The last
    place, ``""``, stands for all other inputs together; errors are standard errors.
    """

    output: str
    places: tuple[str, ...]
    first: tuple[float, ...]
    first_error: tuple[float, ...]
    total: tuple[float, ...]
    total_error: tuple[float, ...]
    evaluations: int


@dataclass(frozen=True, slots=True, eq=False)
class Moves:
    """Places moved one at a time: their ends, the point, and each output, point first.

    Row 1 + 2 i of an output is place i at its low end, the next at its high end.
    """

    places: tuple[str, ...]
    low: Mapping[str, float]
    high: Mapping[str, float]
    outputs: Mapping[str, FloatArray]

    def moving(self, output: str) -> frozenset[str]:
        """Places that move an output by more than a trace of what the strongest does."""
        found = self.outputs[output]
        gap = np.abs(found[1:] - found[0]).reshape(-1, 2).max(axis=1)
        least = max(1e-9 * abs(float(found[0])), _SHORTEST * float(gap.max()))
        return frozenset(np.asarray(self.places)[gap > least].tolist())


def moves_of(
    study: Study, draws: StudyDraws, options: Mapping[str, Priced], places: Sequence[str]
) -> dict[str, Moves]:
    """Each input alone at its 10 % and 90 % point, per option; none with too few samples."""
    if draws.size <= _LEAST or not places:
        return {}
    point = {place: float(draws[place][0]) for place in draws.draws.values}
    ends = {place: np.quantile(draws[place][1:], _ENDS) for place in places}
    # The typical value of a band may lie outside 10 to 90 % of its samples when it is one-sided.
    low = {place: min(float(e[0]), point[place]) for place, e in ends.items()}
    high = {place: max(float(e[1]), point[place]) for place, e in ends.items()}
    moved = one_at_a_time_inputs(point, low, high)
    other = other_draws(draws, moved, 1 + 2 * len(places))
    return {
        key: Moves(tuple(places), low, high, results_on(study, other, priced))
        for key, priced in options.items()
    }


def tornado_of(moves: Moves | None) -> tuple[Tornado, ...]:
    """Bars of each output from inputs moved one at a time."""
    if moves is None:
        return ()
    return tuple(
        _tornado(name, moves.places, moves.outputs[name], moves.low, moves.high) for name in OUTPUTS
    )


def _tornado(
    name: str,
    places: Sequence[str],
    output: FloatArray,
    low: Mapping[str, float],
    high: Mapping[str, float],
) -> Tornado:
    bars = tornado_bars(list(places), output)
    longest = max((bar.swing for bar in bars), default=0.0)
    least = max(1e-9 * abs(float(output[0])), _SHORTEST * longest)
    kept = [bar for bar in bars[:_MOST_BARS] if bar.swing > least]
    return Tornado(name, float(output[0]), tuple(_bar(bar, low, high) for bar in kept))


def _bar(bar: Bar, low: Mapping[str, float], high: Mapping[str, float]) -> TornadoBar:
    return TornadoBar(bar.name, low[bar.name], high[bar.name], bar.at_low, bar.at_high)


def shares_of(
    study: Study, draws: StudyDraws, priced: Priced, places: Sequence[str], output: FloatArray
) -> Shares | None:
    """First and total shares of the cost: the inputs with the largest first share, the rest as one.

    None where inputs are correlated (shares then have no plain meaning) or samples too few. Values
    are taken from the samples already drawn, by their order.
    """
    if draws.size <= _LEAST or study.word("correlation.pairs") or np.ptp(output[1:]) <= 0:
        return None
    columns = np.stack([draws[place][1:] for place in places], axis=1)
    given = first_order_indices(columns, output[1:])
    order = np.argsort(-given.first)
    kept = [places[i] for i in order[:_GROUPS]]
    rest = [places[i] for i in order[_GROUPS:]]
    groups = [[place] for place in kept] + ([rest] if rest else [])
    cubes = _cubes(places, groups, draws.draws.seed)
    sampled = {
        place: np.concatenate(([draws[place][0]], np.quantile(draws[place][1:], cubes[:, column])))
        for column, place in enumerate(places)
    }
    found = results_on(study, other_draws(draws, sampled, 1 + len(cubes)), priced)
    total = variance_indices(
        found["cost_specific"][1:], len(groups), draws.draws.seed, replicates=_REPLICATES
    )
    top = order[: len(kept)]
    return Shares(
        output="cost_specific",
        places=(*kept, *([""] if rest else [])),
        first=tuple(given.first[top].tolist()),
        first_error=tuple(given.first_error[top].tolist()),
        total=tuple(total.total.tolist()),
        total_error=tuple(total.total_error.tolist()),
        evaluations=len(cubes),
    )


def _cubes(places: Sequence[str], groups: Sequence[Sequence[str]], seed: int) -> FloatArray:
    """Base points, second base points, then the first with one group after another exchanged."""
    width = len(places)
    each = _BASE // _REPLICATES
    seeds = range(seed, seed + _REPLICATES)
    both = np.concatenate([unit_cube(each, 2 * width, s, design=Design.LATIN) for s in seeds])
    one, two = both[:, :width], both[:, width:]
    blocks = [one, two]
    for group in groups:
        mixed = one.copy()
        columns = [places.index(place) for place in group]
        mixed[:, columns] = two[:, columns]
        blocks.append(mixed)
    return np.concatenate(blocks)
