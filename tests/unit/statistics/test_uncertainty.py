"""Linear propagation against a general library and against whole distributions."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from cakewright.errors import OutOfRangeError, UnknownNameError
from cakewright.statistics import uncertainty as u
from cakewright.statistics.marginals import normal_marginal, uniform_marginal

INPUTS = {
    "f": u.InputUncertainty(2.0, 0.05, 9),
    "c": u.InputUncertainty(20.0, 0.4, 4),
    "e": u.InputUncertainty(0.10, 0.02, 5),
}


def capture(x: Any) -> Any:
    """Solids capture from three concentrations."""
    return x["c"] * (x["f"] - x["e"]) / (x["f"] * (x["c"] - x["e"]))


@pytest.mark.parametrize("r", [0.0, 0.7])
def test_budget_agrees_with_general_library(r: float) -> None:
    """Value and combined uncertainty equal those of the uncertainties library."""
    from uncertainties import correlated_values_norm, nominal_value, std_dev

    matrix = np.array([[1, 0, r], [0, 1, 0], [r, 0, 1]])
    f, c, e = correlated_values_norm([(x.value, x.deviation) for x in INPUTS.values()], matrix)
    theirs = capture({"f": f, "c": c, "e": e})
    ours = u.uncertainty_budget(capture, INPUTS, {("f", "e"): r} if r else {})
    assert ours.value == pytest.approx(nominal_value(theirs), rel=1e-12)
    assert ours.deviation == pytest.approx(std_dev(theirs), rel=1e-6)


def test_parts_add_to_the_whole() -> None:
    """Without correlation the variance shares add to one and contributions in square."""
    got = u.uncertainty_budget(capture, INPUTS)
    assert sum(got.shares.values()) == pytest.approx(1)
    assert np.hypot.reduce(list(got.contributions.values())) == pytest.approx(got.deviation)
    assert got.freedom == pytest.approx(
        u.effective_freedom(np.array(list(got.contributions.values())), np.array([9.0, 4.0, 5.0]))
    )
    assert got.expanded(0.95) == pytest.approx(u.coverage_factor(0.95, 5) * got.deviation)


def test_whole_distributions_agree_where_the_model_is_nearly_straight() -> None:
    """Monte Carlo of normal inputs gives the linear uncertainty within 2 %."""
    marginals = {name: normal_marginal(x.value, x.deviation) for name, x in INPUTS.items()}
    got = u.uncertainty_monte_carlo(capture, marginals)
    linear = u.uncertainty_budget(capture, INPUTS)
    assert got.deviation == pytest.approx(linear.deviation, rel=0.02)
    assert "seed" in got.statement


def test_whole_distributions_see_what_linear_cannot() -> None:
    """The square of a centred input has no slope, yet Monte Carlo finds mean 1/3 and its spread."""
    got = u.uncertainty_monte_carlo(lambda x: x["a"] ** 2, {"a": uniform_marginal(-1.0, 1.0)})
    assert got.mean == pytest.approx(1 / 3, rel=0.01)
    assert got.deviation == pytest.approx(np.sqrt(4 / 45), rel=0.01)
    assert (got.lower, got.upper) == pytest.approx((0.025**2, 0.975**2), abs=1e-3)


def test_infinite_freedom_stays_infinite() -> None:
    """Inputs known exactly in spread give a normal coverage factor."""
    got = u.uncertainty_budget(lambda x: x["a"], {"a": u.InputUncertainty(1.0, 0.1)})
    assert np.isinf(got.freedom)
    assert got.expanded() == pytest.approx(0.196, rel=1e-3)
    assert np.isinf(u.effective_freedom(np.array([1.0]), np.array([np.inf])))


def test_half_widths_are_those_of_samples() -> None:
    """Deviations of flat, triangular and swinging values equal those of simulated ones."""
    generator = np.random.default_rng(1)
    flat = generator.uniform(-2, 2, 200_000)
    assert u.deviation_rectangular(2.0) == pytest.approx(flat.std(), rel=0.01)
    triangle = generator.triangular(-2, 0, 2, 200_000)
    assert u.deviation_triangular(2.0) == pytest.approx(triangle.std(), rel=0.01)
    assert u.deviation_u_shaped(2.0) == pytest.approx((2 * np.sin(flat * np.pi)).std(), rel=0.01)


@pytest.mark.parametrize(
    ("call", "error", "text"),
    [
        (lambda: u.deviation_rectangular(-1), OutOfRangeError, "half width: got -1"),
        (lambda: u.freedom_from_reliability(0.0), OutOfRangeError, "reliability"),
        (lambda: u.coverage_factor(0.95, 0.5), OutOfRangeError, "at least 1"),
        (lambda: u.coverage_factor(95.0), OutOfRangeError, "level 95"),
        (lambda: u.effective_freedom(np.ones(2), np.zeros(2)), OutOfRangeError, "degrees > 0"),
        (
            lambda: u.uncertainty_budget(capture, {"a": u.InputUncertainty(1.0, -0.1)}),
            OutOfRangeError,
            "at least one > 0",
        ),
        (
            lambda: u.uncertainty_budget(
                lambda x: np.full_like(x["a"], np.inf), {"a": u.InputUncertainty(1.0, 0.1)}
            ),
            OutOfRangeError,
            "no finite value",
        ),
        (lambda: u.uncertainty_monte_carlo(capture, {}), UnknownNameError, "no inputs"),
        (
            lambda: u.uncertainty_monte_carlo(
                lambda x: np.where(x["a"] > 0, x["a"], np.inf), {"a": normal_marginal(0.0, 1.0)}
            ),
            OutOfRangeError,
            "bound the inputs",
        ),
    ],
)
def test_impossible_budgets_are_refused(call: Any, error: type[Exception], text: str) -> None:
    """Negative uncertainties, impossible levels and infinite results are named."""
    with pytest.raises(error, match=text):
        call()
