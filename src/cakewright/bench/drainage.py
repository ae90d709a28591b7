"""Gravity drainage of flocculated sludge: resistance at low stress, fines, a gel point bound."""

from __future__ import annotations

import numpy as np

from cakewright.bench.filtration import line_warnings
from cakewright.bench.fit import Axis, Clue, Clues, Curve, Estimate, Learns, TestFit
from cakewright.bench.kinds import bench_kind
from cakewright.bench.lines import bench_line
from cakewright.bench.readings import BenchTest
from cakewright.bench.straight import LineFit, straight_part
from cakewright.physics.filtration import drainage_time_gravity
from cakewright.physics.filtration_resistance import solids_per_filtrate
from cakewright.physics.water import water_density_kell, water_viscosity_iapws
from cakewright.quantities import FloatArray, Term
from cakewright.quantities.constants import GRAVITY

__all__ = ["fit_gravity_drainage"]

#: Ruth's rate on a falling head is a coarse model of draining flocs (JUDGEMENT; T29).
MODEL_SPREAD = 0.3
#: Density of dry solids for the gel point bound [kg/m3] (JUDGEMENT).
ASSUMED_DENSITY = 1350.0
_TIME_SD = 0.5
_VOLUME_SD = 1e-6


def fit_gravity_drainage(test: BenchTest) -> TestFit:
    """Low-stress resistance and screen resistance from drained volume against time.

    Raises
    ------
    OutOfRangeError
        If more drains than was poured, or too few readings are left.
    """
    # A plateau is the end of draining: only its first reading tells how fast it drained.
    volume = test.columns["drained_volume"]
    keep = (volume > 0) & (np.diff(volume, prepend=0.0) > 0)
    time = test.columns["time"][keep]
    head = test.number("sample_volume") / test.number("area")
    drained = test.columns["drained_volume"][keep] / test.number("area")
    viscosity = float(water_viscosity_iapws(test.number("temperature")))
    density = float(water_density_kell(test.number("temperature")))
    per_screen = np.asarray(drainage_time_gravity(drained, head, viscosity, density, 0.0, 0.0, 1.0))
    per_cake = np.asarray(drainage_time_gravity(drained, head, viscosity, density, 1.0, 1.0, 0.0))
    rate = np.gradient(time, drained)
    sd = np.hypot(_TIME_SD, rate * _VOLUME_SD / test.number("area")) / per_screen
    fit = straight_part(per_cake / per_screen, time / per_screen, sd)
    cake = test.numbers.get("drained_solids")
    deposited = float(
        solids_per_filtrate(density, test.number("feed_solids"), 1.0 / cake if cake else 0.0)
    )
    stress = density * GRAVITY * head / 2
    alpha = fit.slope / deposited
    share = float(np.hypot(fit.reach * fit.slope_sd / fit.slope, 1.96 * MODEL_SPREAD))
    estimates = [_resistance(alpha, share)] if fit.slope > 0 else []
    low, high = fit.intercept_interval()
    estimates.append(
        Estimate("medium_resistance", fit.intercept, low, high, "of the screen in this test")
    )
    clues, more = _more_clues(test, fit, alpha, share, stress, density)
    terms = (
        Term("b", fit.slope, "drainage_slope", "bench"),
        Term("c", deposited, "solids_per_filtrate", "measured"),
    )
    return TestFit(
        id=test.id,
        kind=test.kind,
        title=bench_kind(test.kind).title,
        sludge=test.sludge,
        estimates=(*estimates, *more),
        warnings=tuple(line_warnings(fit)),
        remarks=(f"mean stress while draining {stress:.0f} Pa (half the starting head)",),
        curves=(_drainage_curve(test, time, drained, fit, head, viscosity, density),),
        clues=Clues(test.id, test.kind, tuple(clues)) if clues else None,
        lines=(
            bench_line(test.id, "specific_resistance", "α", "b/c", terms, alpha, "OWN"),
        ) if fit.slope > 0 else (),
        conditions={**test.numbers, "stress": stress},
        polymer=test.conditioner,
        invented=test.invented,
    )  # fmt: skip


def _resistance(alpha: float, share: float) -> Estimate:
    low, high = alpha * np.exp(-share), alpha * np.exp(share)
    return Estimate("specific_resistance", alpha, float(low), float(high), "at low stress")


def _more_clues(
    test: BenchTest,
    fit: LineFit,
    alpha: float,
    share: float,
    stress: float,
    density: float,
) -> tuple[list[Clue], list[Estimate]]:
    """Clues on resistance, fines and gel point; estimates of fines and captured solids."""
    clues: list[Clue] = []
    more: list[Estimate] = []
    at = {"dose": test.numbers["dose"]} if "dose" in test.numbers else {}
    if fit.slope > 0:
        clues.append(
            Clue(Learns.RESISTANCE, float(np.log(alpha)), share / 1.96, {"pressure": stress, **at})
        )
    if "filtrate_solids" in test.numbers:
        fed = test.number("feed_solids") * density
        drained = float(test.columns["drained_volume"].max()) / test.number("sample_volume")
        lost = min(max(test.number("filtrate_solids") * drained / fed, 1e-5), 0.99)
        half = 0.3  # sampling of a filtrate and of the solids fed (JUDGEMENT)
        more += [
            Estimate("fines_share", lost, lost * np.exp(-1.96 * half),
                     min(lost * np.exp(1.96 * half), 1.0)),
            Estimate("capture", 1 - lost, max(1 - lost * np.exp(1.96 * half), 0.0),
                     1 - lost * np.exp(-1.96 * half)),
        ]  # fmt: skip
        logit = float(np.log(lost / (1 - lost)))
        clues.append(Clue(Learns.FINES, logit, half / (1 - lost), at))
    if "drained_solids" in test.numbers:
        more.append(_gel_point_bound(test.number("drained_solids"), density))
    return clues, more


def _gel_point_bound(drained_solids: float, density: float) -> Estimate:
    """Solids volume share after drainage: it carries its own weight, so the gel point is below."""
    shares = []
    for solids_density in (ASSUMED_DENSITY, 1.1 * density, 2.0 * density):
        liquid = (1 - drained_solids) / density
        shares.append(drained_solids / solids_density / (drained_solids / solids_density + liquid))
    note = "upper bound: drained sludge already carries stress"
    return Estimate("gel_point", shares[0], min(shares), max(shares), note)


def _drainage_curve(
    test: BenchTest,
    time: FloatArray,
    drained: FloatArray,
    fit: LineFit,
    head: float,
    viscosity: float,
    density: float,
) -> Curve:
    area = test.number("area")
    v = np.linspace(0.0, float(drained[fit.used].max()), 60)
    t = np.asarray(
        drainage_time_gravity(
            v, head, viscosity, density, 1.0, max(fit.slope, 0.0), max(fit.intercept, 0.0)
        )
    )
    return Curve(
        key=f"{test.id}-drainage",
        title=f"{test.id}: drained volume",
        x_axis=Axis("time t", "s", "s"),
        y_axis=Axis("drained volume", "m3", "mL"),
        x=time,
        y=drained * area,
        used=fit.used,
        reasons=fit.reasons,
        line_x=t,
        line_y=v * area,
        residuals=fit.residuals,
    )
