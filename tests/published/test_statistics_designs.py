"""Surface of a central composite in two blocks."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from cakewright.statistics import (
    coded,
    fit_linear,
    fit_surface,
    lack_of_fit,
    stationary_point,
    uncoded,
)

Case = dict[str, Any]
DATA: dict[str, Any] = tomllib.loads(
    (Path(__file__).parent / "data/statistics_designs.toml").read_text(encoding="utf-8")
)


@cache
def _answers() -> dict[str, float]:
    i = DATA["inputs"]["surface"]
    low, high = np.array([80.0, 170.0]), np.array([90.0, 180.0])
    x = coded(np.column_stack([i["time"], i["temp"]]), low, high)
    y, block = np.array(i["yield"]), np.array(i["block"])
    one = block == 1
    columns = np.column_stack([np.ones(one.sum()), x[one]])
    first = fit_linear(columns, y[one]).parameters
    lack = lack_of_fit(columns, y[one], x[one])
    # The source codes the axial points as 1.414 from settings rounded to hundredths.
    surface = fit_surface(x, y, block)
    flat = stationary_point(surface)
    found = {f"first_{n}": value for n, value in enumerate(first)}
    found |= {f"second_{n}": value for n, value in enumerate(surface.fit.parameters)}
    found |= {f"error_{n}": value for n, value in enumerate(surface.fit.standard_errors)}
    found |= {f"point_{n}": value for n, value in enumerate(flat.point)}
    found |= {f"curve_{n}": value for n, value in enumerate(flat.curvatures)}
    time, temp = uncoded(flat.point[None, :], low, high)[0]
    rest = {"lof_F": lack.statistic, "lof_p": lack.chance, "R2": surface.r_squared}
    return {**found, **rest, "time": time, "temp": temp}


@pytest.mark.parametrize("case", DATA["case"], ids=lambda case: case["id"])
def test_designs(case: Case, prove: Callable[[Case, float], None]) -> None:
    """Coefficients, errors and the flat point equal those of the sources."""
    prove(case, float(_answers()[case["key"]]))
