"""Whole-life cost of the kinds over one price, distance or cake, and where they cross."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from cakewright.economics import break_even
from cakewright.jobs.choice import Priced
from cakewright.jobs.money import PointDraws, Sampled, money_of, point_year
from cakewright.quantities import FloatArray
from cakewright.study import Study

__all__ = ["BreakEven", "break_evens"]

_PLACES = ("outlet.distance", "prices.disposal", "prices.polymer")
_STEPS = 9


@dataclass(frozen=True, slots=True, eq=False)
class BreakEven:
    """Cost per dry solids of each kind over a setting; ``crossings`` of the chosen with others.

    ``name`` is the house name of the setting, ``now`` its value in the study. In the last kind of
    figure only the chosen machine's cake solids move, so the other lines are level.
    """

    name: str
    setting: FloatArray
    now: float
    curves: Mapping[str, FloatArray]
    crossings: Mapping[str, float]


def break_evens(
    study: Study, draws: Sampled, best: Priced, rivals: Sequence[Priced]
) -> tuple[BreakEven, ...]:
    """Distance, disposal price, polymer price and cake solids."""
    everyone = [best, *rivals]
    found = [_over(study, draws, place, everyone) for place in _PLACES]
    return (*found, _over_cake(study, draws, best, rivals))


def _over(study: Study, draws: Sampled, place: str, everyone: Sequence[Priced]) -> BreakEven:
    given = study.values[place]
    top = max(2.5 * given.value, float(np.max(draws[place])), _LEAST_TOP[place])
    setting = np.linspace(0.0, top, _STEPS)
    here = PointDraws(draws, {place: setting})
    curves = {p.option.kind.label: _costs(study, p, here, _STEPS) for p in everyone}
    return BreakEven(given.name, setting, given.value, curves, _crossings(setting, curves))


# Where the study's own value is next to nothing, the line still needs a width: 10 km, 10 per tonne,
# 1 per kilogram.
_LEAST_TOP = {"outlet.distance": 1e4, "prices.disposal": 0.01, "prices.polymer": 1.0}


def _costs(study: Study, priced: Priced, here: PointDraws, size: int) -> FloatArray:
    yearly = point_year(priced.yearly, size)
    return np.asarray(money_of(study, priced.bill, yearly, here).per_dry_solids)


def _over_cake(study: Study, draws: Sampled, best: Priced, rivals: Sequence[Priced]) -> BreakEven:
    now = float(best.yearly.cake_solids[0])
    setting = np.linspace(0.6 * now, 1.5 * now, _STEPS)
    here = PointDraws(draws, {"outlet.distance": np.full(_STEPS, draws["outlet.distance"][0])})
    cake = best.yearly.cake[0] * now / setting
    yearly = point_year(best.yearly, _STEPS, cake=cake, cake_solids=setting)
    mine = np.asarray(money_of(study, best.bill, yearly, here).per_dry_solids)
    level = {p.option.kind.label: _costs(study, p, here, _STEPS) for p in rivals}
    curves = {best.option.kind.label: mine, **level}
    # Cost is a straight line in the wet mass, the inverse of the solids.
    wet = _crossings(1.0 / setting, curves)
    found = {label: 1.0 / x for label, x in wet.items()}
    return BreakEven("cake_solids", setting, now, curves, found)


def _crossings(setting: FloatArray, curves: Mapping[str, FloatArray]) -> dict[str, float]:
    """Where the first curve meets each other one, inside the setting's range."""
    names = list(curves)
    first = _line(setting, curves[names[0]])
    found = {name: float(break_even(*first, *_line(setting, curves[name]))) for name in names[1:]}
    low, high = float(np.min(setting)), float(np.max(setting))
    return {name: x for name, x in found.items() if low <= x <= high}


def _line(setting: FloatArray, cost: FloatArray) -> tuple[float, float]:
    slope = float((cost[-1] - cost[0]) / (setting[-1] - setting[0]))
    return float(cost[0]) - slope * float(setting[0]), slope
