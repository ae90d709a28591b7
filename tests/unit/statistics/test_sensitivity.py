"""Variance indices against exact values and a general library; tornado order."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy import stats

from cakewright.errors import OutOfRangeError
from cakewright.statistics.sampling import unit_cube
from cakewright.statistics.sensitivity import (
    first_order_indices,
    one_at_a_time_inputs,
    tornado_bars,
    variance_indices,
)


def ishigami(cube: Any) -> Any:
    """The usual test function on the unit cube, a = 7, b = 0.1."""
    x, y, z = (np.pi * (2 * column - 1) for column in cube.T)
    return np.sin(x) + 7 * np.sin(y) ** 2 + 0.1 * z**4 * np.sin(x)


def _cube(count: int, dimension: int, seed: int = 1) -> Any:
    """Base points A, base points B, then A with one column after another taken from B."""
    both = unit_cube(count, 2 * dimension, seed)
    a, b = both[:, :dimension], both[:, dimension:]
    swapped = [np.where(np.arange(dimension) == n, b, a) for n in range(dimension)]
    return np.concatenate([a, b, *swapped])


def test_indices_agree_with_the_general_library() -> None:
    """First and total indices equal SALib's on its own design to within both errors."""
    from SALib.analyze import sobol as analyse
    from SALib.sample import sobol as sample

    problem = {"num_vars": 3, "names": ["x", "y", "z"], "bounds": [[0, 1]] * 3}
    points = sample.sample(problem, 4096, calc_second_order=False, seed=3)
    theirs = analyse.analyze(problem, ishigami(points), calc_second_order=False, seed=3)
    ours = variance_indices(ishigami(_cube(4096, 3)), 3)
    np.testing.assert_allclose(ours.first, theirs["S1"], atol=0.03)
    np.testing.assert_allclose(ours.total, theirs["ST"], atol=0.02)
    np.testing.assert_allclose(ours.total_error, theirs["ST_conf"] / 1.96, rtol=0.5)
    np.testing.assert_allclose(ours.first_error, theirs["S1_conf"] / 1.96, rtol=0.5)


def test_given_data_estimate_agrees_with_exact_shares() -> None:
    """One plain sample set gives the first-order shares of a linear model: 64, 25 and 9 in 98."""
    cube = unit_cube(4096, 4)
    got = first_order_indices(cube, cube @ np.array([8.0, 5.0, 3.0, 0.0]))
    np.testing.assert_allclose(got.first, np.array([64, 25, 9, 0]) / 98, atol=0.015)
    assert got.total.size == 0


def test_given_data_estimate_finds_nothing_in_noise() -> None:
    """An input that plays no part stays within three standard errors of zero."""
    generator = np.random.default_rng(6)
    inputs = generator.random((2000, 20))
    got = first_order_indices(inputs, generator.normal(size=2000))
    assert np.abs(got.first).max() < 0.02


def test_correlated_inputs_share_their_part() -> None:
    """An input that only follows another carries the square of their correlation."""
    generator = np.random.default_rng(6)
    inputs = generator.multivariate_normal([0, 0], [[1, 0.8], [0.8, 1]], size=8000)
    got = first_order_indices(inputs, inputs[:, 0])
    np.testing.assert_allclose(got.first, [1.0, 0.64], atol=0.03)


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (lambda: variance_indices(np.arange(11.0), 3), "multiple of 5"),
        (lambda: variance_indices(np.ones(40), 3), "no input moves it"),
        (lambda: variance_indices(np.full(40, np.nan), 3), "finite"),
        (lambda: first_order_indices(np.ones((50, 2)), np.arange(50.0)), "at least 120"),
        (lambda: tornado_bars(["a"], np.zeros(5)), "3 are needed"),
        (lambda: one_at_a_time_inputs({"x": 1.0}, {"x": 2.0}, {"x": 3.0}), "must rise"),
        (lambda: one_at_a_time_inputs({"x": 1.0}, {"y": 0.0}, {"y": 3.0}), "same inputs"),
    ],
)
def test_unfit_input_is_refused(call: Any, text: str) -> None:
    """Designs, outputs and ends that do not fit are named."""
    with pytest.raises(OutOfRangeError, match=text):
        call()


def test_tornado_moves_one_input_at_a_time() -> None:
    """Each bar shows its own input moved, all others at the point case, longest first."""
    point = {"a": 1.0, "b": 2.0, "c": 3.0}
    inputs = one_at_a_time_inputs(point, {"a": 0.0, "b": 1.5}, {"a": 1.5, "b": 4.0})
    bars = tornado_bars(["a", "b"], inputs["a"] + 10 * inputs["b"] + inputs["c"])
    assert [(bar.name, bar.at_low, bar.at_high) for bar in bars] == [
        ("b", 19.0, 44.0),
        ("a", 23.0, 24.5),
    ]
    assert bars[0].swing == 25.0


def test_shares_are_the_general_librarys() -> None:
    """First and total shares equal those of the general library on the same outputs."""
    output = ishigami(_cube(64, 3, seed=4))
    rows = output.reshape(5, 1, 64)
    asked = stats.sobol_indices(func={"f_A": rows[0], "f_B": rows[1], "f_AB": rows[2:]}, n=64)
    got = variance_indices(output, 3)
    assert got.first == pytest.approx(np.ravel(asked.first_order), rel=1e-12)
    assert got.total == pytest.approx(np.ravel(asked.total_order), rel=1e-12)


def test_errors_of_shares_are_right() -> None:
    """Over many seeds the shares scatter as their stated errors say, not a third of it."""
    size, parts = 256, 8

    def once(seed: int) -> tuple[float, float]:
        blocks = [
            ishigami(_cube(size // parts, 3, seed=1000 * seed + k)).reshape(5, -1)
            for k in range(parts)
        ]
        got = variance_indices(np.concatenate(blocks, axis=1).ravel(), 3, replicates=parts)
        return float(got.total[0]), float(got.total_error[0])

    found = np.array([once(seed) for seed in range(60)])
    assert np.sqrt(np.mean(found[:, 1] ** 2)) == pytest.approx(found[:, 0].std(), rel=0.25)
