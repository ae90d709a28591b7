"""Run lengths: Markov chain against simulation of the chart itself."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from cakewright.errors import InfeasibleError, OutOfRangeError
from cakewright.statistics import run_length as rl
from cakewright.statistics.charts import ewma_chart


@pytest.mark.parametrize("shift", [0.0, 0.5, 1.5])
def test_chain_agrees_with_simulation(shift: float) -> None:
    """The Markov chain of a CUSUM and its simulation give the same mean run."""
    chain = rl.run_length_cusum(0.5, 3.0, shift)
    simulated = rl.run_length_cusum_ar1(0.5, 3.0, 0.0, shift, runs=4000)
    assert chain == pytest.approx(simulated, rel=0.06)


def test_ewma_chain_agrees_with_the_chart() -> None:
    """The Markov chain of an EWMA gives the mean first signal of simulated charts."""
    generator = np.random.default_rng(5)
    firsts = []
    for _ in range(600):
        chart = ewma_chart(generator.standard_normal(400) + 1.0, 0.0, 1.0, 0.2)
        firsts.append(chart.signals[0] + 1)
    assert rl.run_length_ewma(0.2, 3.0, 1.0) == pytest.approx(np.mean(firsts), rel=0.07)


def test_ewma_of_weight_one_is_the_individuals_chart() -> None:
    """With all weight on the newest reading both charts run equally long."""
    assert rl.run_length_ewma(1.0, 3.0, 1.0) == pytest.approx(rl.run_length_individuals(3.0, 1.0))


def test_autocorrelation_brings_false_alarms_sooner() -> None:
    """The same limit alarms falsely at least five times as often at r = 0.5."""
    plain = rl.run_length_cusum(0.5, 5.0)
    assert rl.run_length_cusum_ar1(0.5, 5.0, 0.5) < plain / 5


@pytest.mark.parametrize("r", [0.0, 0.4])
def test_limit_gives_the_interval_asked_for(r: float) -> None:
    """The limit found gives the wanted interval in an independent simulation."""
    limit = rl.cusum_limit(100.0, 0.5, r)
    got = rl.run_length_cusum_ar1(0.5, limit, r, seed=77)
    assert got == pytest.approx(100.0, rel=0.1)


@pytest.mark.parametrize(
    ("call", "error", "text"),
    [
        (lambda: rl.run_length_cusum(0.5, 0.0), OutOfRangeError, "limit is 0"),
        (lambda: rl.run_length_cusum(-0.5, 4.0), OutOfRangeError, "reference is -0.5"),
        (lambda: rl.run_length_ewma(0.2, 3.0, states=100), OutOfRangeError, "odd"),
        (lambda: rl.run_length_cusum_ar1(0.5, 4, 1.0), OutOfRangeError, "autocorrelation"),
        (lambda: rl.cusum_limit(2.0), OutOfRangeError, "10 to 100000"),
        (lambda: rl.false_alarms(10, 0.5), OutOfRangeError, "at least one reading"),
        (
            lambda: rl.run_length_cusum_ar1(0.5, 99.0, 0.0, runs=10, longest=50),
            InfeasibleError,
            "no alarm",
        ),
    ],
)
def test_impossible_charts_are_refused(call: Any, error: type[Exception], text: str) -> None:
    """Limits and weights without meaning are named."""
    with pytest.raises(error, match=text):
        call()
