"""What missing a promise costs: the price of each step short, capped, over tests played out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from cakewright.jobs.measured import quantities
from cakewright.quantities import FloatArray
from cakewright.study import Study

__all__ = ["Damages", "StepWorth", "damages_of"]

_POINT = 0.01
_BY_POINT = ("cake_solids", "capture")


@dataclass(frozen=True, slots=True)
class StepWorth:
    """A priced promise: its step in SI, the step's price, mean payment, what a step less saves."""

    name: str
    step: float
    price: float
    expected: float
    saved: float


@dataclass(frozen=True, slots=True)
class Damages:
    """Payment of the whole list by the test as measured: mean, 90 % point, chance of any.

    ``cap`` is the most that is paid, infinite where none was agreed.
    """

    expected: float
    high: float
    chance: float
    cap: float
    steps: tuple[StepWorth, ...]


def damages_of(
    study: Study, means: Mapping[str, FloatArray], limits: Mapping[str, float]
) -> Damages | None:
    """Payments over played tests; None where the study prices no missed promise.

    ``means`` and ``limits`` are turned to "at least". A step is one percentage point of cake or
    capture, one per cent of the promised value otherwise.
    """
    prices = _prices(study)
    if not prices:
        return None
    cap = study.given("guarantee.damages_cap")
    most = float(cap.value) if cap else np.inf
    steps = {n: _POINT if n in _BY_POINT else _POINT * abs(limits[n]) for n in prices}

    def paid(eased: str = "") -> FloatArray:
        rows = [_each(means[n], limits[n] - steps[n] * (n == eased), steps[n], prices[n])
                for n in prices]  # fmt: skip
        return np.asarray(np.minimum(np.sum(rows, axis=0), most))

    whole = paid()
    return Damages(
        expected=float(whole.mean()),
        high=float(np.quantile(whole, 0.9)),
        chance=float(np.mean(whole > 0.0)),
        cap=most,
        steps=tuple(
            StepWorth(
                n, steps[n], prices[n],
                float(_each(means[n], limits[n], steps[n], prices[n]).mean()),
                float(whole.mean() - paid(n).mean()),
            )
            for n in prices
        ),
    )  # fmt: skip


def _each(mean: FloatArray, limit: float, step: float, price: float) -> FloatArray:
    return np.asarray(np.maximum(limit - mean, 0.0) / step * price)


def _prices(study: Study) -> dict[str, float]:
    found = {}
    for name, row in quantities().items():
        given = study.given(f"guarantee.damages_{row['key']}")
        if given and given.value > 0.0:
            found[name] = given.value
    return found
