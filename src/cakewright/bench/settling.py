"""Settled volume, zone settling and charge demand."""

from __future__ import annotations

import numpy as np

from cakewright.bench.fit import Axis, Curve, Estimate, TestFit
from cakewright.bench.kinds import bench_kind
from cakewright.bench.lines import bench_line
from cakewright.bench.readings import BenchTest
from cakewright.bench.replicates import mean_of_repeats
from cakewright.bench.solids import outlier_words
from cakewright.bench.straight import LineFit, fit_line, straight_part
from cakewright.physics.settling import charge_demand, sludge_volume_index
from cakewright.quantities import FloatArray, Term

__all__ = ["fit_charge_titration", "fit_settled_volume", "fit_zone_settling"]


#: Below this share of the whole fall the blanket counts as compressing (PRACTICE).
_COMPRESSION = 0.25


def fit_settled_volume(test: BenchTest) -> TestFit:
    """Sludge volume index.

    Raises
    ------
    OutOfRangeError
        If more has settled than the cylinder holds.
    """
    share = mean_of_repeats(test.columns["settled"] / test.number("cylinder"), 0.005)
    solids = test.number("suspended")
    value, low, high = (
        float(sludge_volume_index(s, solids)) for s in (share.mean, share.low, share.high)
    )
    warnings = list(outlier_words(share, test.columns["settled"] * 1e6, "mL"))
    if share.mean > 0.6:
        warnings.append("more than 60 % is still sludge: the walls hinder it, dilute and repeat")
    terms = (
        Term("v_30", share.mean, "ratio", "measured"),
        Term("X", solids, "suspended_solids", "measured"),
    )
    return TestFit(
        id=test.id,
        kind=test.kind,
        title=bench_kind(test.kind).title,
        sludge=test.sludge,
        estimates=(Estimate("volume_index", value, low, high),),
        warnings=tuple(warnings),
        lines=(bench_line(test.id, "volume_index", "SVI", "v_30/X", terms, value, "T22"),),
        invented=test.invented,
    )


def fit_zone_settling(test: BenchTest) -> TestFit:
    """Speed of the blanket from the straight part of its fall.

    Raises
    ------
    OutOfRangeError
        If too few readings are left to draw a line.
    """
    time, height = test.columns["time"], test.columns["blanket"]
    fit = _zone_line(time, height)
    low, high = fit.slope_interval()
    warnings = []
    if fit.r_squared < 0.95:
        warnings.append(f"poor linearity: R² = {fit.r_squared:.3f}; no zone settles evenly here")
    used = fit.x[fit.used]
    x = np.linspace(float(used.min()), float(used.max()), 20)
    curve = Curve(
        key=f"{test.id}-blanket",
        title=f"{test.id}: blanket height",
        x_axis=Axis("time t", "s", "min"),
        y_axis=Axis("blanket height", "m", "mm"),
        x=fit.x,
        y=fit.y,
        used=fit.used,
        reasons=fit.reasons,
        line_x=x,
        line_y=fit.line(x),
        region=(float(used.min()), float(used.max())),
        residuals=fit.residuals,
    )
    speed = max(-fit.slope, 0.0)
    return TestFit(
        id=test.id,
        kind=test.kind,
        title=bench_kind(test.kind).title,
        sludge=test.sludge,
        estimates=(Estimate("zone_settling_speed", speed, max(-high, 0.0), max(-low, 0.0)),),
        warnings=tuple(warnings),
        curves=(curve,),
        invented=test.invented,
    )


def _zone_line(time: FloatArray, height: FloatArray) -> LineFit:
    """Straight part of the fall before the blanket slows down into compression."""
    last = float(height[-1])
    zone = height >= last + _COMPRESSION * (float(height[0]) - last)
    if zone.sum() < 4:
        zone = np.ones(len(time), dtype=bool)
    inside = straight_part(time[zone], height[zone], np.full(int(zone.sum()), 1e-3))
    used = np.zeros(len(time), dtype=bool)
    used[np.flatnonzero(zone)[inside.used]] = True
    reasons = ["in compression"] * len(time)
    for place, reason in zip(np.flatnonzero(zone), inside.reasons, strict=True):
        reasons[place] = reason
    return fit_line(time, height, np.full(len(time), 1e-3), used, tuple(reasons))


def fit_charge_titration(test: BenchTest) -> TestFit:
    """Charge demand per dry solids, blank taken off.

    Raises
    ------
    OutOfRangeError
        If the blank uses more titrant than the sample.
    """
    blank = test.blank_rows()
    used = test.columns["titrant_volume"]
    water = float(np.mean(used[blank]))
    dry = test.number("sample_volume") * test.number("suspended")
    values = np.atleast_1d(charge_demand(used[~blank] - water, test.number("titrant"), dry))
    repeats = mean_of_repeats(values)
    terms = (
        Term("V_t", float(np.mean(used[~blank])), "bench_volume", "measured"),
        Term("V_0", water, "bench_volume", "measured"),
        Term("N_t", test.number("titrant"), "titrant_charge", "measured"),
        Term("m", dry, "weighing", "measured"),
    )
    line = bench_line(
        test.id, "charge_demand", "q_c", "(V_t - V_0)·N_t/m", terms, float(np.mean(values)), "OWN"
    )
    return TestFit(
        id=test.id,
        kind=test.kind,
        title=bench_kind(test.kind).title,
        sludge=test.sludge,
        estimates=(Estimate("charge_demand", repeats.mean, max(repeats.low, 0.0), repeats.high),),
        warnings=outlier_words(repeats, values, "mol/kg"),
        remarks=(f"blank of {water * 1e6:.2f} mL taken off",),
        lines=(line,),
        invented=test.invented,
    )
