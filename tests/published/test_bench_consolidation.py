"""Degree of consolidation: the classic table, worked examples, Terzaghi-Voigt values."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from scipy.optimize import brentq
from tests.published.conftest import Case, load_cases

from cakewright.physics.consolidation import (
    consolidation_degree_sine,
    consolidation_degree_terzaghi,
    consolidation_degree_terzaghi_voigt,
)

CASES = {case["id"]: case for case in load_cases("bench_consolidation")}
Prove = Callable[[Case, float], None]


def _time_factor(
    degree: float, form: Callable[[float], object] = consolidation_degree_terzaghi
) -> float:
    """Time factor at which the form reaches the degree."""
    return float(brentq(lambda t: float(form(t)) - degree, 1e-9, 10.0, xtol=1e-12))  # type: ignore[arg-type]


def _keys(start: str) -> list[str]:
    return [key for key in CASES if key.startswith(start)]


@pytest.mark.parametrize("key", _keys("EX-UT"))
def test_table_of_time_factors(key: str, prove: Prove) -> None:
    """Time factor at each degree, both initial pressures; the slip at 65 % stays marked."""
    case = CASES[key]
    uniform = case["inputs"]["form"] == "uniform"
    form = consolidation_degree_terzaghi if uniform else consolidation_degree_sine
    prove(case, _time_factor(case["inputs"]["degree"], form))


@pytest.mark.parametrize("key", ["EX-CONS-01", "EX-CONS-02"])
def test_field_time_from_laboratory(key: str, prove: Prove) -> None:
    """A laboratory half-time carried to a thick layer that drains on one side."""
    case = CASES[key]
    given = case["inputs"]
    coefficient = _time_factor(0.5) * given["lab_path"] ** 2 / given["lab_s"]
    prove(case, _time_factor(given["degree"]) * given["field_path"] ** 2 / coefficient / 86400)


@pytest.mark.parametrize(("key", "scale"), [("EX-CONS-03", 1e4), ("EX-CONS-05", 6e5)])
def test_coefficient_from_one_time(key: str, scale: float, prove: Prove) -> None:
    """Coefficient of consolidation from one reading of time."""
    case = CASES[key]
    given = case["inputs"]
    coefficient = _time_factor(given["degree"]) * given["path"] ** 2 / given["time_s"]
    prove(case, float(coefficient) * scale)


@pytest.mark.parametrize("key", _keys("EX-TV"))
def test_terzaghi_voigt_values(key: str, prove: Prove) -> None:
    """Series and one-exponential form, mineral and biological creep share, one and two faces."""
    case = CASES[key]
    given = case["inputs"]
    degree = consolidation_degree_terzaghi_voigt(
        given["theta"],
        1e-10,
        5e-4,
        given["B"],
        2e-3,
        given["faces"],
        one_exponential=given["one_exponential"],
    )
    prove(case, float(degree))
