"""Degree of consolidation: the classic table, worked examples, Terzaghi-Voigt values."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from tests.published.conftest import Case, load_cases

from cakewright.physics.consolidation import (
    consolidation_coefficient,
    consolidation_degree_terzaghi_voigt,
    consolidation_time,
    time_factor_sine,
    time_factor_terzaghi,
)

CASES = {case["id"]: case for case in load_cases("bench_consolidation")}
Prove = Callable[[Case, float], None]


def _keys(start: str) -> list[str]:
    return [key for key in CASES if key.startswith(start)]


@pytest.mark.parametrize("key", _keys("EX-UT"))
def test_table_of_time_factors(key: str, prove: Prove) -> None:
    """Time factor at each degree, both initial pressures; the slip at 65 % stays marked."""
    case = CASES[key]
    form = time_factor_terzaghi if case["inputs"]["form"] == "uniform" else time_factor_sine
    prove(case, float(form(case["inputs"]["degree"])))


@pytest.mark.parametrize("key", ["EX-CONS-01", "EX-CONS-02"])
def test_field_time_from_laboratory(key: str, prove: Prove) -> None:
    """A laboratory half-time carried to a thick layer that drains on one side."""
    case = CASES[key]
    given = case["inputs"]
    coefficient = consolidation_coefficient(
        time_factor_terzaghi(0.5), given["lab_path"], given["lab_s"]
    )
    factor = time_factor_terzaghi(given["degree"])
    time = consolidation_time(factor, given["field_path"], coefficient)
    prove(case, float(time) / 86400)


@pytest.mark.parametrize(("key", "scale"), [("EX-CONS-03", 1e4), ("EX-CONS-05", 6e5)])
def test_coefficient_from_one_time(key: str, scale: float, prove: Prove) -> None:
    """Coefficient of consolidation from one reading of time."""
    case = CASES[key]
    given = case["inputs"]
    factor = time_factor_terzaghi(given["degree"])
    coefficient = consolidation_coefficient(factor, given["path"], given["time_s"])
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
