"""Filtration tests: specific and medium resistance with their intervals, and what to doubt."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cakewright.bench.fit import Axis, Clue, Clues, Curve, Estimate, Learns, TestFit
from cakewright.bench.kinds import bench_kind
from cakewright.bench.lines import bench_line
from cakewright.bench.readings import BenchTest
from cakewright.bench.straight import LineFit, fit_line, straight_part, student
from cakewright.physics.filtration_resistance import (
    medium_resistance_ruth,
    solids_per_filtrate,
    specific_resistance_ruth,
)
from cakewright.physics.water import water_density_kell, water_viscosity_iapws
from cakewright.quantities import CalculationLine, FloatArray, Term

__all__ = ["FiltrationSpread", "fit_filtration_pressure", "fit_filtration_rate", "line_warnings"]


@dataclass(frozen=True, slots=True)
class FiltrationSpread:
    """How far readings and conditions are off (one standard deviation; JUDGEMENT).

    Times and volumes weigh the readings against each other; the scatter itself is estimated from
    the test. The relative ones widen the resistances.
    """

    time: float = 0.5
    volume: float = 0.5e-6
    pressure_share: float = 0.02
    solids_share: float = 0.03
    viscosity_share: float = 0.01


DEFAULT_SPREAD = FiltrationSpread()


def _solids_deposited(test: BenchTest) -> tuple[float, float, str]:
    """Solids per filtrate volume, thin-feed shortcut of the same, and a remark."""
    density = float(water_density_kell(test.number("temperature")))
    feed = test.number("feed_solids")
    thin = float(solids_per_filtrate(density, feed, 0.0))
    cake = test.numbers.get("cake_solids")
    if cake is None:
        return (
            thin,
            thin,
            (
                "cake solids not measured: the thin-feed shortcut c = ρ·s is used; at 15 % cake it "
                f"would overstate the specific resistance by {100 * feed / 0.15:.0f} %"
            ),
        )
    full = float(solids_per_filtrate(density, feed, 1.0 / cake))
    return (
        full,
        thin,
        (
            f"solids per filtrate {full:.2f} kg/m³ with the cake's moisture, {thin:.2f} by the "
            f"thin-feed shortcut ({100 * (full / thin - 1):.0f} % apart)"
        ),
    )


def _reading_sd(time: FloatArray, volume: FloatArray, spread: FiltrationSpread) -> FloatArray:
    """Standard deviation of t/V from those of t and V, the rate taken from a smooth curve."""
    design = np.column_stack([volume, volume**2])
    first, second = np.linalg.lstsq(design, time, rcond=None)[0]
    rate = np.maximum(first + 2 * second * volume, time / volume * 0.1)
    return np.asarray(np.hypot(spread.time, rate * spread.volume) / volume)


def _chosen_part(test: BenchTest, x: FloatArray, y: FloatArray, sd: FloatArray) -> LineFit:
    low, high = test.numbers.get("straight_from"), test.numbers.get("straight_to")
    if low is None and high is None:
        return straight_part(x, y, sd)
    used = (x >= (low or 0.0) * (1 - 1e-9)) & (x <= (high or np.inf) * (1 + 1e-9))
    return fit_line(x, y, sd, used, tuple("" if u else "left out by the user" for u in used))


def line_warnings(fit: LineFit) -> list[str]:
    """What a straight-line fit gives to doubt."""
    found = []
    if fit.r_squared < 0.95:
        found.append(
            f"poor linearity: R² = {fit.r_squared:.3f}, below 0.95; the interval is wide, repeat "
            "the test"
        )
    if fit.used.sum() < 5:
        found.append(f"too few points: {int(fit.used.sum())} in use, five or more are needed")
    if fit.intercept < 0:
        sure = " beyond doubt" if fit.intercept_interval()[1] < 0 else ""
        found.append(
            f"negative intercept{sure}: the watch started late, volume was lost, or solids settled"
        )
    if fit.slope <= 0:
        found.append("no cake resistance found: t/V does not rise with V")
    return found


def _bend_warning(fit: LineFit) -> list[str]:
    """Curvature inside the used part: settling bends t/V down, late expression bends it up."""
    x, y, sd = (values[fit.used] for values in (fit.x, fit.y, fit.sd))
    if len(x) < 6:
        return []
    scaled = (x - x.mean()) / np.ptp(x)
    coefficients, covariance = np.polyfit(scaled, y, 2, w=1 / sd, cov="unscaled")
    rest = (y - np.polyval(coefficients, scaled)) / sd
    error = float(np.sqrt(covariance[0, 0] * (rest @ rest) / (len(x) - 3)))
    bend = float(coefficients[0])
    visible = abs(bend) / 4 > 0.05 * float(np.mean(y))
    if not visible or abs(bend) < student(0.995, len(x) - 3) * error:
        return []
    if bend < 0:
        return ["t/V bends down: solids settled or the cake cracked; stir, or use a thicker sample"]
    return ["t/V bends up: the sludge ran out or the cake was being pressed; stop earlier"]


def _estimates(
    test: BenchTest,
    alpha: float,
    alpha_share: tuple[float, float],
    medium: tuple[float, float, float],
) -> tuple[Estimate, Estimate]:
    low, high = alpha * alpha_share[0], alpha * alpha_share[1]
    return (
        Estimate("specific_resistance", alpha, low, high),
        Estimate("medium_resistance", *medium),
    )


def _share_interval(fit: LineFit, inputs: float) -> tuple[float, float]:
    """95 % interval of the slope over the slope, the conditions' spread added."""
    half = float(np.hypot(fit.reach * fit.slope_sd / fit.slope, 1.959964 * inputs))
    return max(1.0 - half, 1e-3), 1.0 + half


def fit_filtration_pressure(test: BenchTest, spread: FiltrationSpread = DEFAULT_SPREAD) -> TestFit:
    """Specific and medium resistance of a test at constant pressure.

    Raises
    ------
    OutOfRangeError
        If too few readings are left to draw a line.
    """
    # A plateau is a cake run dry: only its first reading tells how fast it filtered.
    filtrate = test.columns["filtrate"]
    keep = (filtrate > 0) & (np.diff(filtrate, prepend=0.0) > 0)
    time, volume = test.columns["time"][keep], test.columns["filtrate"][keep]
    ratio = time / volume
    fit = _chosen_part(test, volume, ratio, _reading_sd(time, volume, spread))
    pressure, area = test.number("pressure"), test.number("area")
    viscosity = float(water_viscosity_iapws(test.number("temperature")))
    deposited, _, remark = _solids_deposited(test)
    alpha = float(specific_resistance_ruth(fit.slope, area, pressure, viscosity, deposited))
    to_medium = float(medium_resistance_ruth(1.0, area, pressure, viscosity))
    inputs = float(np.linalg.norm([spread.pressure_share, spread.solids_share]))
    low, high = fit.intercept_interval()
    medium = (fit.intercept * to_medium, low * to_medium, high * to_medium)
    warnings = line_warnings(fit) + _bend_warning(fit)
    estimates: tuple[Estimate, ...] = ()
    if fit.slope > 0:
        estimates = _estimates(test, alpha, _share_interval(fit, inputs), medium)
    return TestFit(
        id=test.id,
        kind=test.kind,
        title=bench_kind(test.kind).title,
        sludge=test.sludge,
        estimates=estimates,
        warnings=tuple(warnings),
        remarks=(remark, *_left_out(fit)),
        curves=(_ratio_curve(test, fit),),
        clues=_filtration_clues(test, fit, estimates, pressure),
        lines=_pressure_lines(test, fit, viscosity, deposited, estimates),
        conditions=dict(test.numbers),
        polymer=test.conditioner,
        invented=test.invented,
    )


def _left_out(fit: LineFit) -> tuple[str, ...]:
    out = [reason for reason in fit.reasons if reason]
    if not out:
        return ("every reading is in use",)
    counts = {reason: out.count(reason) for reason in dict.fromkeys(out)}
    words = "; ".join(f"{count} {reason}" for reason, count in counts.items())
    return (f"{len(out)} of {len(fit.x)} readings left out: {words}",)


def _band(fit: LineFit, x: FloatArray) -> FloatArray:
    at = np.column_stack([x, np.ones_like(x)])
    return np.asarray(fit.reach * np.sqrt(np.einsum("ij,jk,ik->i", at, fit.covariance, at)))


def _straight_curve(fit: LineFit, key: str, title: str, x_axis: Axis, y_axis: Axis) -> Curve:
    x = np.linspace(0.0, float(fit.x.max()) * 1.02, 40)
    half = _band(fit, x)
    used = fit.x[fit.used]
    return Curve(
        key=key,
        title=title,
        x_axis=x_axis,
        y_axis=y_axis,
        x=fit.x,
        y=fit.y,
        used=fit.used,
        reasons=fit.reasons,
        line_x=x,
        line_y=fit.line(x),
        band_low=fit.line(x) - half,
        band_high=fit.line(x) + half,
        region=(float(used.min()), float(used.max())),
        residuals=fit.residuals,
    )


def _ratio_curve(test: BenchTest, fit: LineFit) -> Curve:
    volume, ratio = Axis("filtrate volume V", "m3", "mL"), Axis("t/V", "s/m3", "s/mL")
    title = f"{test.id}: t/V against V"
    return _straight_curve(fit, f"{test.id}-straight", title, volume, ratio)


def _filtration_clues(
    test: BenchTest, fit: LineFit, estimates: tuple[Estimate, ...], pressure: float
) -> Clues | None:
    if not estimates:
        return None
    alpha, medium = estimates
    at = {"pressure": pressure}
    if "dose" in test.numbers:
        at["dose"] = test.numbers["dose"]
    clues = [Clue(Learns.RESISTANCE, float(np.log(alpha.value)), alpha.log_sd, at)]
    if medium.value > 0 and medium.low > 0:
        clues.append(Clue(Learns.MEDIUM, float(np.log(medium.value)), medium.log_sd))
        shared = fit.covariance[0, 1] / (fit.slope_sd * fit.intercept_sd)
        # The conditions' spread is not shared between slope and intercept.
        shared *= min(1.0, fit.reach * fit.slope_sd / fit.slope / (1.959964 * alpha.log_sd))
        return Clues(test.id, test.kind, tuple(clues), np.array([[1.0, shared], [shared, 1.0]]))
    return Clues(test.id, test.kind, tuple(clues))


def _pressure_lines(
    test: BenchTest,
    fit: LineFit,
    viscosity: float,
    deposited: float,
    estimates: tuple[Estimate, ...],
) -> tuple[CalculationLine, ...]:
    if not estimates:
        return ()
    shared = (
        Term("A", test.number("area"), "filter_area", "measured"),
        Term("P", test.number("pressure"), "bench_pressure", "measured"),
        Term("μ", viscosity, "filtrate_viscosity", "published"),
    )
    slope = Term("b", fit.slope, "straight_slope", "bench")
    intercept = Term("a", fit.intercept, "straight_intercept", "bench")
    solids = Term("c", deposited, "solids_per_filtrate", "measured")
    return (
        bench_line(
            test.id, "specific_resistance", "α", "2·b·A^2·P/(μ·c)", (slope, *shared, solids),
            estimates[0].value, "T02",
        ),
        bench_line(
            test.id, "medium_resistance", "R_m", "a·A·P/μ", (intercept, *shared),
            estimates[1].value, "T02",
        ),
    )  # fmt: skip


def fit_filtration_rate(test: BenchTest, spread: FiltrationSpread = DEFAULT_SPREAD) -> TestFit:
    """Specific and medium resistance of a test at constant rate (pressure rises straight).

    Raises
    ------
    OutOfRangeError
        If too few readings are left to draw a line.
    """
    time, pressure = test.columns["time"], test.columns["cell_pressure"]
    flow, area = test.number("flow"), test.number("area")
    viscosity = float(water_viscosity_iapws(test.number("temperature")))
    deposited, _, remark = _solids_deposited(test)
    fit = straight_part(time, pressure, np.maximum(pressure * 0.01, pressure.max() * 0.002))
    alpha = fit.slope * area**2 / (viscosity * deposited * flow**2)
    to_medium = area / (viscosity * flow)
    low, high = fit.intercept_interval()
    medium = (fit.intercept * to_medium, low * to_medium, high * to_medium)
    estimates: tuple[Estimate, ...] = ()
    if fit.slope > 0:
        estimates = _estimates(test, alpha, _share_interval(fit, spread.solids_share), medium)
    middle = float(np.mean(pressure[fit.used]))
    return TestFit(
        id=test.id,
        kind=test.kind,
        title=bench_kind(test.kind).title,
        sludge=test.sludge,
        estimates=estimates,
        warnings=tuple(line_warnings(fit)),
        remarks=(remark, *_left_out(fit)),
        curves=(_pressure_curve(test, fit),),
        clues=_filtration_clues(test, fit, estimates, middle),
        lines=_rate_lines(test, fit, viscosity, deposited, estimates),
        conditions=dict(test.numbers),
        polymer=test.conditioner,
        invented=test.invented,
    )


def _rate_lines(
    test: BenchTest,
    fit: LineFit,
    viscosity: float,
    deposited: float,
    estimates: tuple[Estimate, ...],
) -> tuple[CalculationLine, ...]:
    if not estimates:
        return ()
    terms = (
        Term("s", fit.slope, "pressure_slope", "bench"),
        Term("A", test.number("area"), "filter_area", "measured"),
        Term("μ", viscosity, "filtrate_viscosity", "published"),
        Term("c", deposited, "solids_per_filtrate", "measured"),
        Term("Q", test.number("flow"), "bench_flow", "measured"),
    )
    line = bench_line(
        test.id, "specific_resistance", "α", "s·A^2/(μ·c·Q^2)", terms, estimates[0].value, "T14"
    )
    return (line,)


def _pressure_curve(test: BenchTest, fit: LineFit) -> Curve:
    time, pressure = Axis("time t", "s", "s"), Axis("pressure P", "Pa", "kPa")
    title = f"{test.id}: pressure against time"
    return _straight_curve(fit, f"{test.id}-pressure", title, time, pressure)
