"""Dose response: a bowl with an optimum, its interval, the flat region, the cheapest dose."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cakewright.bench.curved import CurvedFit, fit_curved, profile_interval
from cakewright.bench.dose_kinds import RESPONSES, Response
from cakewright.bench.fit import Axis, Clue, Clues, Curve, Estimate, Learns, TestFit
from cakewright.bench.kinds import bench_kind
from cakewright.bench.lines import bench_line
from cakewright.bench.readings import BenchTest
from cakewright.bench.straight import student
from cakewright.physics.dose_response import dose_bowl
from cakewright.quantities import FloatArray, Term

__all__ = ["DoseFit", "dose_test_fit", "fit_dose_response"]

#: Gain when no jar was left raw: the curve near the optimum hardly depends on it (JUDGEMENT).
GAIN_ASSUMED = 4.6


@dataclass(frozen=True, slots=True, eq=False)
class DoseFit:
    """One polymer's curve: u = level + bowl(dose), smaller u is better.

    ``theta`` is (level, ln optimum, ln curvature, ln gain); the last is held when ``gain_held``.
    ``cheapest_dose`` is the least dose as good as the best as far as these jars can tell.
    """

    test: BenchTest
    response: Response
    fit: CurvedFit
    theta: FloatArray
    covariance: FloatArray
    optimum_interval: tuple[float, float]
    flat_region: tuple[float, float]
    best_dose: float
    cheapest_dose: float
    bracketed: bool
    gain_held: bool
    over_dose_hurts: bool
    warnings: tuple[str, ...]

    @property
    def name(self) -> str:
        """Polymer, with the coagulant if there is one."""
        return self.test.conditioner or self.test.id

    @property
    def optimum(self) -> float:
        """Dose at the bottom of the bowl [kg/kg]."""
        return float(np.exp(self.theta[1]))

    @property
    def tested(self) -> tuple[float, float]:
        """Smallest dose above zero and largest dose tested."""
        doses = self.test.columns["dose"]
        return float(doses[doses > 0].min()), float(doses.max())

    @property
    def best_interval(self) -> tuple[float, float]:
        """Interval of the best dose: that of the optimum, reaching to the end tested if outside."""
        low, high = self.optimum_interval
        return min(low, self.best_dose), max(high, self.best_dose)

    def level(self, dose: FloatArray, theta: FloatArray | None = None) -> FloatArray:
        """u at doses."""
        at = self.theta if theta is None else theta
        return np.asarray(_level(at, dose))

    def cost(self, dose: float) -> float | None:
        """Price of polymer and coagulant per dry solids at a dose; None without prices."""
        price, activity = self.test.numbers.get("price"), self.test.numbers.get("activity", 1.0)
        if price is None:
            return None
        coagulant = self.test.numbers.get("coagulant_dose", 0.0)
        return dose * price / activity + coagulant * self.test.numbers.get("coagulant_price", 0.0)


def _level(theta: FloatArray, dose: FloatArray) -> FloatArray:
    level, log_optimum, log_curvature, log_gain = theta
    bowl = dose_bowl(
        dose, float(np.exp(log_optimum)), float(np.exp(log_curvature)), float(np.exp(log_gain))
    )
    return np.asarray(level + np.asarray(bowl))


def fit_dose_response(test: BenchTest) -> DoseFit:
    """Fit the bowl to one sheet of jars.

    Raises
    ------
    DataError
        If there are not more jars than parameters.
    """
    response = next(r for key, r in RESPONSES.items() if key in test.columns)
    dose = test.columns["dose"]
    u = response.level(test.columns[response.key], test.numbers.get("water_blank", 0.0))
    held = not bool(np.any(dose == 0))
    positive = dose[dose > 0]
    low, high = float(np.log(positive.min() / 3)), float(np.log(positive.max() * 3))
    spread = float(np.ptp(u))
    bounds = (
        np.array([u.min() - 2 * spread, low, np.log(1e-3), np.log(0.2 * spread)]),
        np.array([u.max(), high, np.log(200.0), np.log(max(20.0 * spread, 1.0))]),
    )
    size = 3 if held else 4
    gain = np.log(max(GAIN_ASSUMED * response.scale(spread), 1.5 * spread))
    bounds = (bounds[0][:size], bounds[1][:size])

    def full(theta: FloatArray) -> FloatArray:
        return np.append(theta, gain) if held else theta

    def residuals(theta: FloatArray) -> FloatArray:
        return np.asarray(u - _level(full(theta), dose))

    starts = [
        np.array([u.min(), np.log(d), np.log(spread), np.log(1.1 * spread)])[:size]
        for d in np.unique(positive)
    ]
    fit = fit_curved(residuals, starts, bounds, f"test {test.id}")
    ends = profile_interval(residuals, fit, 1, bounds)
    covariance = np.zeros((4, 4))
    covariance[:size, :size] = fit.covariance
    return _judge(test, response, fit, full(fit.theta), covariance, ends, held)


def _judge(
    test: BenchTest,
    response: Response,
    fit: CurvedFit,
    theta: FloatArray,
    covariance: FloatArray,
    ends: tuple[float, float],
    held: bool,
) -> DoseFit:
    dose = test.columns["dose"]
    low, high = float(dose[dose > 0].min()), float(dose.max())
    optimum = float(np.exp(theta[1]))
    best = float(np.clip(optimum, low, high))
    grid = np.geomspace(low, high, 241)
    worse = _worse(theta, covariance, fit, grid, best)
    inside = _run_around(worse <= 0, int(np.argmin(np.abs(np.log(grid / best)))))
    flat = (float(grid[inside[0]]), float(grid[inside[-1]]))
    interval = (float(np.exp(ends[0])), float(np.exp(ends[1])))
    bracketed = low < interval[0] and interval[1] < high
    hurts = bool(worse[-1] > 0 and best < high)
    warnings = _dose_warnings(test, fit, optimum, interval, flat, (low, high), hurts=hurts)
    if held:
        warnings.append("no jar without polymer: the raw sludge is assumed, not measured")
    return DoseFit(
        test=test,
        response=response,
        fit=fit,
        theta=theta,
        covariance=covariance,
        optimum_interval=interval,
        flat_region=flat,
        best_dose=best,
        cheapest_dose=flat[0],
        bracketed=bracketed,
        gain_held=held,
        over_dose_hurts=hurts,
        warnings=tuple(warnings),
    )


def _worse(
    theta: FloatArray, covariance: FloatArray, fit: CurvedFit, grid: FloatArray, best: float
) -> FloatArray:
    """How much worse a dose is than the best, less what chance explains (one-sided 95 %)."""

    def gap(at: FloatArray) -> FloatArray:
        return np.asarray(_level(at, grid) - _level(at, np.array([best])))

    centre = gap(theta)
    steps = np.full(4, 1e-5)
    slopes = [(gap(theta + s) - gap(theta - s)) / 2e-5 for s in np.diag(steps)]
    gradient = np.column_stack(slopes)
    error = np.sqrt(np.maximum(np.einsum("ij,jk,ik->i", gradient, covariance, gradient), 0.0))
    return np.asarray(centre - student(0.95, fit.freedom) * error)


def _run_around(mask: np.ndarray, start: int) -> np.ndarray:
    """Indices of the unbroken run of True around a start (the start always counts)."""
    low = high = start
    while low > 0 and mask[low - 1]:
        low -= 1
    while high < len(mask) - 1 and mask[high + 1]:
        high += 1
    return np.arange(low, high + 1)


def _dose_warnings(
    test: BenchTest,
    fit: CurvedFit,
    optimum: float,
    interval: tuple[float, float],
    flat: tuple[float, float],
    tested: tuple[float, float],
    *,
    hurts: bool,
) -> list[str]:
    found = []
    kg_t = [f"{1e3 * value:.2g}" for value in (*tested, *interval, *flat)]
    if optimum >= tested[1] * 0.999:
        found.append(f"the response still improves at {kg_t[1]} kg/t: test higher doses")
    elif optimum <= tested[0] * 1.001:
        found.append(f"the response is best at the lowest dose, {kg_t[0]} kg/t: test lower doses")
    elif interval[0] <= tested[0] or interval[1] >= tested[1]:
        found.append(
            f"the optimum is not bracketed: its interval {kg_t[2]} to {kg_t[3]} kg/t reaches the "
            "end of the doses tested"
        )
    if hurts:
        found.append(f"over-dosing hurts: above {kg_t[5]} kg/t the response is clearly worse")
    if flat[1] / flat[0] > 3:
        found.append("flat: the jars scatter too much to tell doses apart threefold; repeat jars")
    left = int((~fit.used).sum())
    if left:
        rows = ", ".join(str(i + 1) for i in np.flatnonzero(~fit.used))
        found.append(f"reading {rows} left out: further than seven robust deviations off the curve")
    if fit.freedom < 3:
        found.append(f"only {fit.freedom} jars more than parameters: wide intervals")
    return found


def dose_test_fit(fit: DoseFit) -> TestFit:
    """What a dose response hands on to report and law."""
    test, response = fit.test, fit.response
    best = response.back(fit.level(np.array([fit.best_dose])))
    half = student(0.975, fit.fit.freedom) * float(np.sqrt(max(fit.covariance[0, 0], 0.0)))
    low, high = np.sort(response.back(fit.theta[0] + half * np.array([-1.0, 1.0])))
    note = f"{response.label} at the best dose tested"
    estimates = [
        Estimate("optimum_dose", fit.optimum, *fit.optimum_interval),
        Estimate(response.house_name, float(best[0]), float(low), float(high), note),
    ]
    terms = (
        Term("u_0", float(fit.theta[0]), "ratio", "bench"),
        Term("k", float(np.exp(fit.theta[2])), "dose_curvature", "bench"),
        Term("G", float(np.exp(fit.theta[3])), "dose_gain", "bench"),
        Term("d", fit.cheapest_dose, "polymer_dose", "bench"),
        Term("d_opt", fit.optimum, "optimum_dose", "bench"),
    )
    line = bench_line(
        test.id, "dose_level", "u", "u_0 + G·(1 - exp(-k·ln(d/d_opt)^2/G))", terms,
        float(fit.level(np.array([fit.cheapest_dose]))[0]), "OWN",
        note=f"at the cheapest dose of the flat region; u is {response.words}",
    )  # fmt: skip
    return TestFit(
        id=test.id,
        kind=test.kind,
        title=f"{bench_kind(test.kind).title}: {fit.name}",
        sludge=test.sludge,
        estimates=tuple(estimates),
        warnings=fit.warnings,
        remarks=(
            f"flat region {1e3 * fit.flat_region[0]:.2f} to {1e3 * fit.flat_region[1]:.2f} kg/t: "
            "doses these jars cannot tell from the best",
        ),
        curves=(_dose_curve(fit),),
        clues=_dose_clues(fit),
        lines=(line,),
        conditions=dict(test.numbers),
        polymer=test.conditioner,
        invented=test.invented,
    )


def _dose_clues(fit: DoseFit) -> Clues | None:
    """Optimum, curvature and gain as clues; responses tell of resistance or of fines."""
    response = fit.response
    wide = float(np.ptp(np.log(fit.optimum_interval))) / 3.92
    clues = [Clue(Learns.OPTIMUM_DOSE, float(fit.theta[1]), max(wide, 1e-3))]
    spread = np.sqrt(np.maximum(np.diag(fit.covariance), 1e-8))
    factor = np.log(response.to_resistance) if response.to_resistance > 0 else 0.0
    # A curvature or gain this poorly known says nothing and would only strain the joint fit.
    if response.to_resistance > 0:
        if spread[2] < 2.0:
            value = float(fit.theta[2] + factor)
            clues.append(Clue(Learns.DOSE_CURVATURE, value, float(spread[2])))
        if not fit.gain_held and spread[3] < 2.0:
            clues.append(Clue(Learns.DOSE_GAIN, float(fit.theta[3] + factor), float(spread[3])))
    elif response.tells_fines and spread[2] < 2.0:
        clues.append(Clue(Learns.FINES_CURVATURE, float(fit.theta[2]), float(spread[2])))
    return Clues(fit.test.id, fit.test.kind, tuple(clues))


def _dose_curve(fit: DoseFit) -> Curve:
    dose, response = fit.test.columns["dose"], fit.response
    grid = np.linspace(0.0 if np.any(dose == 0) else fit.tested[0], fit.tested[1], 160)
    centre = fit.level(grid)
    steps = [
        (fit.level(grid, fit.theta + s) - fit.level(grid, fit.theta - s)) / 2e-5
        for s in np.diag(np.full(4, 1e-5))
    ]
    gradient = np.column_stack(steps)
    error = np.sqrt(np.maximum(np.einsum("ij,jk,ik->i", gradient, fit.covariance, gradient), 0.0))
    half = student(0.975, fit.fit.freedom) * error
    ends = np.sort(np.stack([response.back(centre - half), response.back(centre + half)]), axis=0)
    reading = response.level(
        fit.test.columns[response.key], fit.test.numbers.get("water_blank", 0.0)
    )
    gap = (reading - fit.level(dose)) / max(fit.fit.scatter, 1e-15)
    return Curve(
        key=f"{fit.test.id}-dose",
        title=f"{fit.test.id}: {fit.name}",
        x_axis=Axis("active polymer per dry solids", "kg/kg", "kg/t"),
        y_axis=Axis(response.label, response.unit, response.shown, log=response.log_axis),
        x=dose,
        y=response.back(reading),
        used=fit.fit.used,
        reasons=tuple("" if u else "far from the curve" for u in fit.fit.used),
        line_x=grid,
        line_y=response.back(centre),
        band_low=ends[0],
        band_high=ends[1],
        region=fit.flat_region,
        marks=(("optimum", fit.optimum), ("cheapest", fit.cheapest_dose)),
        residuals=np.asarray(gap[fit.fit.used]),
    )
