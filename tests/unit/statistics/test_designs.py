"""Designs: balance, recovery of known surfaces, and refusals."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from cakewright.errors import DataError, InfeasibleError, OutOfRangeError
from cakewright.statistics import designs as d


def test_factorial_columns_are_orthogonal() -> None:
    """All combinations once, the first factor fastest, all products balanced."""
    x = d.full_factorial_design(4)
    assert len(np.unique(x, axis=0)) == 16
    np.testing.assert_array_equal(x.T @ x, 16 * np.eye(4))
    assert x[:2, 0].tolist() == [-1.0, 1.0]


def test_central_composite_is_rotatable() -> None:
    """Prediction variance is the same at equal distance from the centre."""
    x = d.central_composite_design(2, 5)
    columns = np.column_stack([np.ones(len(x)), x, x[:, 0] * x[:, 1], x**2])
    inverse = np.linalg.inv(columns.T @ columns)
    angle = np.linspace(0, np.pi, 7)
    ring = np.column_stack([np.cos(angle), np.sin(angle)])
    at = np.column_stack([np.ones(7), ring, ring[:, 0] * ring[:, 1], ring**2])
    variance = np.einsum("ij,jk,ik->i", at, inverse, at)
    np.testing.assert_allclose(variance, variance[0], rtol=1e-10)
    assert np.abs(d.central_composite_design(3, 1, axial=1.0)).max() == 1.0


@pytest.mark.parametrize(
    ("matrix", "kind"),
    [
        ([[-2, 0.5], [0.5, -1]], d.StationaryKind.MAXIMUM),
        ([[2, 0.5], [0.5, 1]], d.StationaryKind.MINIMUM),
        ([[2, 0.5], [0.5, -1]], d.StationaryKind.SADDLE),
    ],
)
def test_known_surface_comes_back(matrix: Any, kind: d.StationaryKind) -> None:
    """Coefficients, block offset, flat point, value and kind of a made surface are found."""
    curve, slope = np.array(matrix, dtype=float), np.array([0.4, -0.3])
    x = d.central_composite_design(2, 4)
    block = np.where(np.arange(len(x)) % 3 == 0, 1.0, 2.0)
    y = 7 + x @ slope + np.einsum("ij,jk,ik->i", x, curve, x) - 1.5 * (block == 2)
    surface = d.fit_surface(x, y, block)
    np.testing.assert_allclose(surface.curvature, curve, atol=1e-10)
    assert surface.blocks == pytest.approx([-1.5])
    got = d.stationary_point(surface)
    expected = np.linalg.solve(2 * curve, -slope)
    np.testing.assert_allclose(got.point, expected, atol=1e-9)
    assert got.value == pytest.approx(7 + slope @ expected + expected @ curve @ expected)
    assert got.kind is kind
    assert surface.r_squared == pytest.approx(1.0)


def test_one_factor_surface() -> None:
    """A single factor gives a parabola."""
    x = np.array([[-1.0], [0.0], [1.0], [0.0], [0.5]])
    got = d.stationary_point(d.fit_surface(x, 3 - (x[:, 0] - 0.25) ** 2))
    assert got.point[0] == pytest.approx(0.25)


def test_coding_there_and_back() -> None:
    """Low is -1, high is +1, and coding inverts."""
    low, high = np.array([80.0, 170.0]), np.array([90.0, 180.0])
    settings = np.array([[80.0, 180.0], [85.0, 175.0]])
    points = d.coded(settings, low, high)
    assert points.tolist() == [[-1.0, 1.0], [0.0, 0.0]]
    np.testing.assert_allclose(d.uncoded(points, low, high), settings)


def test_straight_model_of_straight_data_shows_no_lack_of_fit() -> None:
    """With a true straight line the chance is spread evenly; with a bend it is small."""
    generator = np.random.default_rng(2)
    x = np.repeat([0.0, 1.0, 2.0, 3.0], 3)
    columns = np.column_stack([np.ones(12), x])
    chances = [d.lack_of_fit(columns, x + generator.normal(size=12), x[:, None]).chance
               for _ in range(400)]  # fmt: skip
    assert np.mean(np.array(chances) < 0.2) == pytest.approx(0.2, abs=0.06)
    bent = d.lack_of_fit(columns, x**2 + 0.1 * generator.normal(size=12), x[:, None])
    assert bent.chance < 1e-4
    assert (bent.freedom_model, bent.freedom_repeats) == (2, 8)


@pytest.mark.parametrize(
    ("call", "error", "text"),
    [
        (lambda: d.full_factorial_design(0), OutOfRangeError, "1 to 12"),
        (lambda: d.central_composite_design(1), OutOfRangeError, "2 to 6"),
        (lambda: d.central_composite_design(2, 3, -1.0), OutOfRangeError, "axial"),
        (lambda: d.coded(np.ones((1, 1)), np.ones(1), np.ones(1)), OutOfRangeError, "above its"),
        (
            lambda: d.stationary_point(
                d.fit_surface(
                    d.central_composite_design(2, 3), d.central_composite_design(2, 3)[:, 0] ** 2
                )
            ),
            InfeasibleError,
            "ridge",
        ),
        (
            lambda: d.lack_of_fit(np.ones((4, 1)), np.arange(4.0), np.arange(4.0)[:, None]),
            DataError,
            "repeat the centre run",
        ),
        (
            lambda: d.fit_surface(
                np.repeat(d.full_factorial_design(2), 3, axis=0), np.arange(12.0)
            ),
            DataError,
            "tell the parameters apart",
        ),
    ],
)
def test_unfit_designs_are_refused(call: Any, error: type[Exception], text: str) -> None:
    """Unbalanced, flat or unrepeated trials are named with a way out."""
    with pytest.raises(error, match=text):
        call()
