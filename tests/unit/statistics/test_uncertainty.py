"""Linear propagation against a general library and against whole distributions."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from cakewright.errors import OutOfRangeError
from cakewright.statistics import uncertainty as u

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
    parts = np.array(list(got.contributions.values()))
    assert got.freedom == pytest.approx(got.deviation**4 / np.sum(parts**4 / [9.0, 4.0, 5.0]))
    assert got.expanded(0.95) == pytest.approx(u.coverage_factor(0.95, 5) * got.deviation)


def test_infinite_freedom_stays_infinite() -> None:
    """Inputs known exactly in spread give a normal coverage factor."""
    got = u.uncertainty_budget(lambda x: x["a"], {"a": u.InputUncertainty(1.0, 0.1)})
    assert np.isinf(got.freedom)
    assert got.expanded() == pytest.approx(0.196, rel=1e-3)


@pytest.mark.parametrize(
    ("call", "error", "text"),
    [
        (lambda: u.coverage_factor(0.95, 0.5), OutOfRangeError, "at least 1"),
        (lambda: u.coverage_factor(95.0), OutOfRangeError, "level 95"),
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
    ],
)
def test_impossible_budgets_are_refused(call: Any, error: type[Exception], text: str) -> None:
    """Negative uncertainties, impossible levels and infinite results are named."""
    with pytest.raises(error, match=text):
        call()
