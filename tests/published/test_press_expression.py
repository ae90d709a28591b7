"""Expression solver and screw identity against exact solutions, published tables and bands."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import Any

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator

from cakewright.physics.compression import solidosity_equilibrium
from cakewright.physics.expression import ExpressionCurve, expression_curve

from .conftest import load_cases

Case = dict[str, Any]
CASES = load_cases("press_expression")
_MATERIAL = (0.02, 10.0, 4.0, 1e15 * 0.02**3 / 1.5, 0.75, 1500.0, 1e-3)
_COEFFICIENT, _SOLIDS, _SPAN = 1e-12, 2e-4, 45.0


def _of(kind: str) -> list[Any]:
    return [pytest.param(c, id=c["id"]) for c in CASES if c["kind"] == kind]


@cache
def _linear() -> ExpressionCurve:
    """m = 1 + 1/n makes the coefficient constant: 49 to 4 in void ratio, n = 2."""
    scale, n = 1000.0, 2.0
    alpha = scale * n / (_COEFFICIENT * 1e-3 * 1500.0 * 50.0)
    times = np.geomspace(20.0, 1.2e5, 400)
    law = (0.02, scale, n, alpha, 1.0 + 1.0 / n, 1500.0, 1e-3)
    return expression_curve(times, 99.0 * scale, _SOLIDS, 0.02, *law, cells=128, steps=800)


def _time_at(curve: ExpressionCurve, share: float, last: float) -> float:
    at = PchipInterpolator(curve.filtrate[0] / last, curve.time)
    return float(at(share))


@cache
def _cell(faces: int) -> ExpressionCurve:
    times = np.linspace(0.2, 80.0, 600) / faces**2
    return expression_curve(times, 1e5, _SOLIDS, 0.01, *_MATERIAL, hindered=True, faces=faces)


@pytest.mark.parametrize("case", _of("linear"))
def test_constant_coefficient_filtration(case: Case, prove: Callable[[Case, float], None]) -> None:
    """Before the front arrives, V^2 grows in proportion to time with the exact constant."""
    curve = _linear()
    k = int(np.searchsorted(curve.time, 2000.0))
    prove(case, float(curve.filtrate[0, k] ** 2 / curve.time[k]))


@pytest.mark.parametrize("case", _of("linear_half") + _of("linear_ninety"))
def test_constant_coefficient_times(case: Case, prove: Callable[[Case, float], None]) -> None:
    """Times to a half and nine tenths follow Terzaghi's series."""
    share = 0.5 if case["kind"] == "linear_half" else 0.9
    prove(case, _time_at(_linear(), share, _SPAN * _SOLIDS))


@pytest.mark.parametrize("case", _of("terzaghi"))
def test_consolidation_table(case: Case, prove: Callable[[Case, float], None]) -> None:
    """The solver's time factors are those of the published table."""
    time = _time_at(_linear(), case["inputs"]["degree"], _SPAN * _SOLIDS)
    prove(case, _COEFFICIENT * time / _SOLIDS**2)


@pytest.mark.parametrize("case", _of("beta2"))
def test_similarity_solution(case: Case, prove: Callable[[Case, float], None]) -> None:
    """From below the gel point, the cake grows by the exact non-linear similarity solution."""
    end = 12.0
    curve = expression_curve(
        np.array([end]),
        case["inputs"]["pressure"],
        _SOLIDS,
        0.01,
        *_MATERIAL,
        hindered=True,
        cells=128,
        steps=320,
    )
    prove(case, float(curve.filtrate[0, 0] ** 2 / end))


@pytest.mark.parametrize("case", _of("cell"))
def test_filtration_then_consolidation(case: Case, prove: Callable[[Case, float], None]) -> None:
    """A whole cell run through filtration and consolidation, one and two faces."""
    curve = _cell(case["inputs"]["faces"])
    prove(case, _time_at(curve, case["inputs"]["share"], 0.019))


@pytest.mark.parametrize("case", _of("exponent"))
def test_solidosity_exponent_of_sewage_sludge(
    case: Case, prove: Callable[[Case, float], None]
) -> None:
    """The law with n = 5.6 grows between the published stresses as their cakes do."""
    pressures, solids = (np.array(case["inputs"][k]) for k in ("pressures", "total_solids"))
    measured = solids / 1500.0 / (solids / 1500.0 + (1.0 - solids) / 1000.0)
    published = np.log(measured[1] / measured[0]) / np.log(pressures[1] / pressures[0])
    law = np.asarray(solidosity_equilibrium(pressures, 0.02, 5.0, 5.6))
    ours = np.log(law[1] / law[0]) / np.log(pressures[1] / pressures[0])
    assert abs(published / ours - 1.0) < 0.12
    prove(case, float(ours))
