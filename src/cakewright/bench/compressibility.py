"""Compressibility coefficient: specific resistance against pressure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from cakewright.bench.fit import Axis, Curve, Estimate, TestFit
from cakewright.bench.lines import bench_line
from cakewright.bench.straight import fit_line
from cakewright.quantities import CalculationLine, FloatArray, Term

__all__ = ["Compressibility", "fit_compressibility"]


@dataclass(frozen=True, slots=True, eq=False)
class Compressibility:
    """``alpha = resistance_at_unit * P**exponent`` over the pressures tested."""

    sludge: str
    exponent: Estimate
    resistance_at_unit: float
    pressures: tuple[float, float]
    tests: tuple[str, ...]
    curve: Curve
    line: CalculationLine


def fit_compressibility(sludge: str, fits: Sequence[TestFit]) -> Compressibility | None:
    """Slope of ln resistance against ln pressure; None below three tests or two pressures."""
    rows = [
        (fit.id, fit.conditions["pressure"], fit.estimate("specific_resistance"))
        for fit in fits
        if fit.kind == "filtration_pressure" and fit.estimates
    ]
    pressure = np.array([row[1] for row in rows])
    if len(rows) < 3 or len(np.unique(pressure)) < 2:
        return None
    alpha = np.array([row[2].value for row in rows])
    spread = np.array([max(row[2].log_sd, 1e-3) for row in rows])
    fit = fit_line(np.log(pressure), np.log(alpha), spread)
    low, high = fit.slope_interval()
    grid = np.geomspace(float(pressure.min()), float(pressure.max()), 30)
    at = np.column_stack([np.log(grid), np.ones(30)])
    half = fit.reach * np.sqrt(np.einsum("ij,jk,ik->i", at, fit.covariance, at))
    curve = _curve(sludge, pressure, alpha, grid, fit.line(np.log(grid)), np.asarray(half))
    first = float(np.exp(fit.intercept))
    terms = (
        Term("α_1", first, "specific_resistance", "bench"),
        Term("P", float(np.median(pressure)), "bench_pressure", "measured"),
        Term("s_c", fit.slope, "compressibility", "bench"),
    )
    middle = first * float(np.median(pressure)) ** fit.slope
    return Compressibility(
        sludge=sludge,
        exponent=Estimate("compressibility", fit.slope, low, high),
        resistance_at_unit=first,
        pressures=(float(pressure.min()), float(pressure.max())),
        tests=tuple(row[0] for row in rows),
        curve=curve,
        line=bench_line(
            sludge, "specific_resistance", "α", "α_1·P^s_c", terms, middle, "T03",
            title=f"{sludge}: resistance against pressure",
            valid=f"{pressure.min() / 1e3:.0f} to {pressure.max() / 1e3:.0f} kPa",
        ),
    )  # fmt: skip


def _curve(
    sludge: str,
    pressure: FloatArray,
    alpha: FloatArray,
    grid: FloatArray,
    log_line: FloatArray,
    half: FloatArray,
) -> Curve:
    return Curve(
        key="compressibility",
        title=f"{sludge}: specific resistance against pressure",
        x_axis=Axis("pressure P", "Pa", "kPa", log=True),
        y_axis=Axis("specific resistance α", "m/kg", "m/kg", log=True),
        x=pressure,
        y=alpha,
        used=np.ones(len(pressure), dtype=bool),
        reasons=("",) * len(pressure),
        line_x=grid,
        line_y=np.exp(log_line),
        band_low=np.exp(log_line - half),
        band_high=np.exp(log_line + half),
    )
