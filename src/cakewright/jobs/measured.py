"""How a guaranteed quantity is measured: the plan of the test and the budget of its error (GUM)."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np

from cakewright.quantities import Figure, FloatArray
from cakewright.quantities.tables import packaged_table
from cakewright.sludge import Feed
from cakewright.statistics import Budget, InputUncertainty, uncertainty_budget
from cakewright.study import Study

__all__ = [
    "BudgetLine",
    "Measurement",
    "SamplingPlan",
    "feed_window",
    "input_errors",
    "measurement_of",
    "quantities",
    "sampling_plan",
]

_STEP = 1e-4


@dataclass(frozen=True, slots=True)
class SamplingPlan:
    """Runs, and in each run samples at an interval, determinations and laboratories; SI."""

    runs: int
    run_time: float
    samples: int
    replicates: int
    laboratories: int

    @property
    def interval(self) -> float:
        """Time between samples."""
        return self.run_time / self.samples

    @property
    def total(self) -> int:
        """Samples of each stream in all runs."""
        return self.runs * self.samples


@dataclass(frozen=True, slots=True)
class BudgetLine:
    """One input of the budget: estimate, relative uncertainty, part carried into the result."""

    symbol: str
    what: str
    kind: str
    value: float
    relative: float
    contribution: float
    share: float


@dataclass(frozen=True, slots=True, eq=False)
class Measurement:
    """Error of one measured quantity under a test plan, SI.

    ``deviation`` is the standard uncertainty of the result of the whole test, ``expanded`` its
    half width at 95 %; ``one_run`` the part that more runs reduce, as it stands in one run;
    ``systematic`` what no run reduces. ``gains`` is the relative change of the result by each
    input, with its sign: an input that several quantities share errs in all of them.
    """

    formula: str
    value: float
    deviation: float
    expanded: float
    freedom: float
    one_run: float
    systematic: float
    lines: tuple[BudgetLine, ...]
    gains: Mapping[str, float]


@cache
def _table() -> Mapping[str, Mapping[str, Any]]:
    return packaged_table("cakewright.jobs", "data", "guarantee.toml")


def quantities() -> Mapping[str, Mapping[str, Any]]:
    """Guaranteed quantities by house name."""
    return _table()["quantities"]


def feed_window() -> Mapping[str, Mapping[str, float]]:
    """Least half width of the feed window, by house name: a share of the typical value, or SI."""
    return _table()["window"]


def sampling_plan(study: Study) -> SamplingPlan:
    """The plan the study states."""
    return SamplingPlan(
        runs=study.count("guarantee.runs"),
        run_time=study.value("guarantee.run_time"),
        samples=study.count("guarantee.samples"),
        replicates=study.count("guarantee.replicates"),
        laboratories=study.count("guarantee.laboratories"),
    )


def measurement_of(
    name: str, plan: SamplingPlan, figures: Mapping[str, Figure], feed: Feed
) -> Measurement:
    """Budget of one quantity at the point case."""
    row = quantities()[name]
    estimates = _estimates(figures, feed)
    inputs: dict[str, InputUncertainty] = {}
    for key in row["inputs"]:
        random, systematic = _errors(_table()["inputs"][key], plan)
        freedom = max(plan.total - 1, 1)
        inputs[f"{key}|random"] = InputUncertainty(1.0, random, freedom)
        inputs[f"{key}|systematic"] = InputUncertainty(1.0, systematic)
    runs = float(row["runs"]) / np.sqrt(plan.runs)
    inputs["run_to_run|random"] = InputUncertainty(1.0, runs, max(plan.runs - 1, 1))

    def model(x: Mapping[str, FloatArray]) -> FloatArray:
        one = np.ones(())
        parts = {
            key: np.asarray(value * x.get(f"{key}|random", one) * x.get(f"{key}|systematic", one))
            for key, value in estimates.items()
        }
        return np.asarray(_MODELS[name](parts) * x["run_to_run|random"])

    budget = uncertainty_budget(model, inputs)
    return _measurement(row, budget, inputs, plan, estimates, _gains(name, row, estimates))


def _gains(name: str, row: Mapping[str, Any], estimates: Mapping[str, float]) -> dict[str, float]:
    """Relative change of a quantity by a relative change of each of its inputs."""
    found = {}
    for key in row["inputs"]:
        ends = [{**estimates, key: estimates[key] * (1.0 + side * _STEP)} for side in (1.0, -1.0)]
        up, down = (float(_MODELS[name]({k: np.asarray(v) for k, v in x.items()})) for x in ends)
        found[key] = (up - down) / (_STEP * (up + down))
    return found


def input_errors(key: str, plan: SamplingPlan) -> tuple[float, float]:
    """Relative error of one input in one run, and what all runs have in common."""
    random, common = _errors(_table()["inputs"][key], plan)
    return random * float(np.sqrt(plan.runs)), common


def _errors(row: Mapping[str, Any], plan: SamplingPlan) -> tuple[float, float]:
    """Relative error of the mean of all samples, and what all samples have in common."""
    lab = row["lab"] / np.sqrt(plan.replicates)
    random = float(np.hypot(row["between"], lab) / np.sqrt(plan.total))
    split = np.sqrt(plan.laboratories) if row["split"] else 1.0
    return random, float(row["bias"] / split)


def _estimates(figures: Mapping[str, Figure], feed: Feed) -> dict[str, float]:
    """Point values of everything that is measured, per kilogram of dry solids a second."""
    solids = float(feed.mix.total_solids[0] * (1.0 - np.ravel(feed.mix.dissolved)[0]))
    cake, capture = figures["cake_solids"].point, figures["capture"].point
    flow = figures["dry_solids_flow"].point
    return {
        "feed_solids": solids,
        "cake_solids": cake,
        "filtrate_solids": solids * cake * (1.0 - capture) / (cake - capture * solids),
        "feed_flow": flow / solids,
        "stock_strength": 1.0,
        "polymer_flow": (figures["polymer_dose"].point if "polymer_dose" in figures else 0.0)
        * flow,
        "energy": figures["specific_energy"].point * flow,
        "wash_volume": figures["wash_water_specific"].point * flow,
    }


def _capture(x: Mapping[str, FloatArray]) -> FloatArray:
    feed, cake, filtrate = x["feed_solids"], x["cake_solids"], x["filtrate_solids"]
    return np.asarray(cake * (feed - filtrate) / (feed * (cake - filtrate)))


def _fed(x: Mapping[str, FloatArray]) -> FloatArray:
    return np.asarray(x["feed_flow"] * x["feed_solids"])


_MODELS: Mapping[str, Callable[[Mapping[str, FloatArray]], FloatArray]] = {
    "cake_solids": lambda x: x["cake_solids"],
    "capture": _capture,
    "dry_solids_flow": _fed,
    "polymer_dose": lambda x: x["polymer_flow"] * x["stock_strength"] / _fed(x),
    "specific_energy": lambda x: x["energy"] / _fed(x),
    "wash_water_specific": lambda x: x["wash_volume"] / _fed(x),
}


def _measurement(
    row: Mapping[str, Any],
    budget: Budget,
    inputs: Mapping[str, InputUncertainty],
    plan: SamplingPlan,
    estimates: Mapping[str, float],
    gains: Mapping[str, float],
) -> Measurement:
    carried = budget.contributions
    of = {kind: _root(x for n, x in carried.items() if n.endswith(kind)) for kind in _KINDS}
    return Measurement(
        formula=row["formula"],
        value=budget.value,
        deviation=budget.deviation,
        expanded=budget.expanded(0.95),
        freedom=budget.freedom,
        one_run=float(of["random"] * np.sqrt(plan.runs)),
        systematic=of["systematic"],
        lines=tuple(
            _line(name, inputs[name], carried[name], budget.shares[name], estimates)
            for name in carried
            if inputs[name].deviation > 0.0
        ),
        gains=gains,
    )


_KINDS = ("random", "systematic")


def _root(parts: Any) -> float:
    return float(np.sqrt(sum(x * x for x in parts)))


def _line(
    name: str,
    given: InputUncertainty,
    contribution: float,
    share: float,
    estimates: Mapping[str, float],
) -> BudgetLine:
    key, _, kind = name.partition("|")
    row = _table()["inputs"][key]
    value = estimates.get(key, 1.0)
    return BudgetLine(row["symbol"], row["what"], kind, value, given.deviation, contribution, share)
