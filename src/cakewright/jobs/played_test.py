"""Guarantee tests played out by chance: errors of all runs, and what the pass rule makes of them.

Errors of an input that several quantities share (feed solids, feed flow, cake) are drawn once, so
that the quantities err together; what all runs have in common is drawn once a test.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from cakewright.jobs.measured import Measurement, SamplingPlan, input_errors, quantities
from cakewright.quantities import FloatArray
from cakewright.running.acceptance import AgreedError
from cakewright.statistics.pass_rule import PassRule, Reach, RuleKind, reach_of_runs

__all__ = ["TESTS", "PlayedErrors", "agreed_error", "played_errors", "reach"]

#: Tests played: a chance of one half is then known to 0.3 %.
TESTS = 32768


@dataclass(frozen=True, slots=True, eq=False)
class PlayedErrors:
    """Relative errors of every quantity, one row per test and one column per run."""

    factors: Mapping[str, FloatArray]

    @property
    def count(self) -> int:
        """Tests played."""
        return len(next(iter(self.factors.values())))


def played_errors(
    plan: SamplingPlan, measurements: Mapping[str, Measurement], runs: int, count: int, seed: int
) -> PlayedErrors:
    """Measured over true value of every quantity in every run of so many tests."""
    rng = np.random.default_rng([seed, 17])
    keys = dict.fromkeys(key for one in measurements.values() for key in one.gains)
    drawn: dict[str, FloatArray] = {}
    for key in keys:
        random, common = input_errors(key, plan)
        shape = (count, runs)
        drawn[key] = random * rng.standard_normal(shape)
        drawn[key] += common * rng.standard_normal((count, 1))
    factors = {}
    for name, one in measurements.items():
        error = float(quantities()[name]["runs"]) * rng.standard_normal((count, runs))
        for key, gain in one.gains.items():
            error += gain * drawn[key]
        factors[name] = np.asarray(1.0 + error)
    return PlayedErrors(factors)


def agreed_error(
    rule: PassRule, measurement: Measurement, factors: FloatArray, value: float
) -> AgreedError:
    """What both parties agree of a quantity's errors, at a value of it.

    For a sequential rule the margin is what its most runs tell apart at both risks, and the guard
    is found by playing tests of a machine exactly on its promise: they pass as often as agreed.
    """
    scale = value / abs(measurement.value)
    common, scatter = measurement.systematic * scale, measurement.one_run * scale
    if rule.kind is not RuleKind.SEQUENTIAL or scatter <= 0.0:
        return AgreedError(common, scatter)
    from scipy.special import ndtri

    reach_z = float(ndtri(1.0 - rule.wrong_pass) + ndtri(1.0 - rule.wrong_fail))
    margin = reach_z * scatter / float(np.sqrt(rule.longest))
    on_promise = value * (factors - 1.0)
    found = reach_of_runs(rule, on_promise, common, scatter, margin).passes
    guard = float(np.quantile(found, 1.0 - rule.wrong_pass))
    return AgreedError(common, scatter, margin, max(guard, 0.0))


def reach(
    rule: PassRule, true: FloatArray, sign: float, factors: FloatArray, error: AgreedError
) -> Reach:
    """What tests of machines with these true values show, "at most" turned into "at least".

    Errors are relative, so those agreed at the expected value go with the true one.
    """
    values = sign * true[:, None] * factors
    return reach_of_runs(rule, values, error.common, error.scatter, error.margin, error.guard)
