"""Pressed cakes: solids against pressure, and settlement in time (consolidation and creep)."""

from __future__ import annotations

import numpy as np

from cakewright.bench.curved import CurvedFit, fit_curved, profile_interval
from cakewright.bench.fit import Axis, Clue, Clues, Curve, Estimate, Learns, TestFit
from cakewright.bench.kinds import bench_kind
from cakewright.bench.lines import bench_line
from cakewright.bench.readings import BenchTest
from cakewright.physics.consolidation import consolidation_degree_terzaghi_voigt
from cakewright.quantities import FloatArray, Term

__all__ = ["CAKE_SOLIDS_SPREAD", "fit_press_course", "fit_pressed_cake"]

#: Relative spread of the solids of one pressed cake (JUDGEMENT: sampling and drying).
CAKE_SOLIDS_SPREAD = 0.02


# Beyond this many standard deviations from what the other cakes foretell a reading is no scatter.
_MISREAD = 4.5
_FEWEST = 5  # cakes: of fewer nobody can say which is wrong


def _misread(pressure: FloatArray, solids: FloatArray) -> dict[int, float]:
    """Readings the other cakes do not foretell and how far off, worst first; a quarter at most.

    Each in turn is left out and a smooth curve laid through the rest, on logarithms; their scatter,
    and never less than that of one cake, says how far off it may lie.
    """
    found: dict[int, float] = {}
    kept = list(range(len(solids)))
    while len(kept) >= _FEWEST and len(found) < len(solids) // 4:
        off = {at: _off(pressure, solids, [i for i in kept if i != at], at) for at in kept}
        worst = max(off, key=lambda at: abs(off[at]))
        if abs(off[worst]) < _MISREAD:
            break
        found[worst] = off[worst]
        kept.remove(worst)
    return found


def _off(pressure: FloatArray, solids: FloatArray, rest: list[int], at: int) -> float:
    """Standard deviations between a reading and the curve through the rest."""
    levels = len(np.unique(pressure[rest]))
    degree = 2 if len(rest) > 5 and levels > 3 else min(1, levels - 1)
    design = np.vander(pressure[rest] - pressure[at], degree + 1)
    best, *_ = np.linalg.lstsq(design, solids[rest], rcond=None)
    left = solids[rest] - design @ best
    freedom = max(len(rest) - degree - 1, 1)
    scatter = max(float(np.sqrt(left @ left / freedom)), CAKE_SOLIDS_SPREAD)
    reach = float(np.linalg.pinv(design.T @ design)[-1, -1])
    return float((solids[at] - best[-1]) / (scatter * np.sqrt(1.0 + reach)))


def fit_pressed_cake(test: BenchTest) -> TestFit:
    """Cake solids against pressure as clues for the law; the slope as a first look.

    The stress scale, exponent and gel point come from the joint fit, where the density of the
    solids is known too.

    Raises
    ------
    OutOfRangeError
        If fewer than three pressures differ.
    """
    pressure, solids = test.columns["press_pressure"], test.columns["cake_ts"]
    odd = _misread(np.log(pressure), np.log(solids))
    warnings = [
        f"reading {at + 1} left out: {100 * solids[at]:.3g} % at {pressure[at] / 1e3:.3g} kPa lies "
        f"{abs(off):.0f} standard deviations {'above' if off > 0 else 'below'} what the other "
        "cakes foretell; dry that cake again, or press another"
        for at, off in odd.items()
    ]
    used = np.array([at not in odd for at in range(len(solids))])
    pressure, solids = pressure[used], solids[used]
    clues = tuple(
        Clue(Learns.CAKE_SOLIDS, float(np.log(s)), CAKE_SOLIDS_SPREAD, {"pressure": float(p)})
        for p, s in zip(pressure, solids, strict=True)
    )
    levels = np.unique(pressure)
    if len(levels) < 4:
        warnings.append(
            f"{len(levels)} pressures: stress scale, exponent and gel point cannot be told apart"
        )
    if levels[-1] < 10 * levels[0]:
        warnings.append("the pressures span less than tenfold; the exponent stays uncertain")
    driest = np.array([np.mean(solids[pressure == p]) for p in levels])
    if np.any(np.diff(driest) < 0):
        warnings.append("a cake pressed harder came out wetter: it was not yet at rest")
    top = float(driest[-1])
    half = 1.96 * CAKE_SOLIDS_SPREAD * top
    note = f"at {levels[-1] / 1e3:.0f} kPa"
    return TestFit(
        id=test.id,
        kind=test.kind,
        title=bench_kind(test.kind).title,
        sludge=test.sludge,
        estimates=(Estimate("cake_solids", top, top - half, min(top + half, 1.0), note),),
        warnings=tuple(warnings),
        clues=Clues(test.id, test.kind, clues),
        polymer=test.conditioner,
        invented=test.invented,
    )


#: Density that turns dry mass into solids height; C_e goes with its inverse square (JUDGEMENT).
ASSUMED_DENSITY = 1350.0


def _solids_height(test: BenchTest) -> float:
    return test.number("dry_mass") / ASSUMED_DENSITY / test.number("area")


def _degree(test: BenchTest, theta: FloatArray, time: FloatArray) -> FloatArray:
    """Degree of consolidation from (ln C_e, logit B, ln creep rate)."""
    share = 1 / (1 + np.exp(-theta[1]))
    return np.asarray(
        consolidation_degree_terzaghi_voigt(
            time,
            float(np.exp(theta[0])),
            _solids_height(test),
            float(share),
            float(np.exp(theta[2])),
            test.number("faces"),
        )
    )


def _heights(degree: FloatArray, height: FloatArray) -> FloatArray:
    """First height and settlement that fit best, given the degree of consolidation."""
    design = np.column_stack([np.ones_like(degree), -degree])
    return np.asarray(np.linalg.lstsq(design, height, rcond=None)[0])


def _course_fit(
    test: BenchTest, time: FloatArray, height: FloatArray
) -> tuple[CurvedFit, tuple[tuple[float, float], ...]]:
    total = float(np.ptp(height))
    to_c = 4 * _solids_height(test) ** 2 / (np.pi**2 * test.number("faces") ** 2)
    first, last = max(float(time[time > 0][0]), 1e-3), float(time[-1])
    slow, fast = float(np.log(0.3 / last)), float(np.log(5.0 / first))
    shift = float(np.log(to_c))
    bounds = (
        np.array([shift + slow, -5.0, slow]),
        np.array([shift + fast, 5.0, fast]),
    )
    places = slow + (fast - slow) * np.array([0.2, 0.4, 0.6])
    starts = [
        np.array([shift + places[i], b, places[j]])
        for i, j in ((1, 0), (2, 0), (2, 1), (0, 1))
        for b in (-1.0, 1.5)
    ]

    def residuals(theta: FloatArray) -> FloatArray:
        degree = _degree(test, theta, time)
        start, settlement = _heights(degree, height)
        return np.asarray((height - start + settlement * degree) / (0.01 * total))

    fit = fit_curved(residuals, starts, bounds, f"test {test.id}", hidden=2)
    return fit, tuple(profile_interval(residuals, fit, i, bounds) for i in range(3))


def fit_press_course(test: BenchTest) -> TestFit:
    """Consolidation coefficient, creep share and creep rate of a settlement under pressure.

    Raises
    ------
    DataError
        If there are not more readings than parameters.
    """
    time, height = test.columns["time"], test.columns["height"]
    fit, (coefficient, share, rates) = _course_fit(test, time, height)
    start, settlement = _heights(_degree(test, fit.theta, time)[fit.used], height[fit.used])
    c_e, rate = float(np.exp(fit.theta[0])), float(np.exp(fit.theta[2]))
    b = float(1 / (1 + np.exp(-fit.theta[1])))
    omega, faces = _solids_height(test), test.number("faces")
    slowest = np.pi**2 / 4 * faces**2 / omega**2
    estimates = (
        Estimate("consolidation_coefficient", c_e, *map_exp(coefficient)),
        Estimate("creep_share", b, *map_logistic(share)),
        Estimate("creep_rate", rate, *map_exp(rates)),
    )
    terms = (
        Term("C_e", c_e, "consolidation_coefficient", "bench"),
        Term("i", faces, "count", "measured"),
        Term("ω_0", omega, "solids_height", "measured"),
    )
    done = (start - float(height[-1])) / settlement
    warnings = []
    if done < 0.9:
        warnings.append(
            f"stopped at {100 * done:.0f} % of the settlement: creep share and rate lean on the "
            "model; press longer"
        )
    if len(fit.modes) > 1:
        warnings.append(
            "two splits into consolidation and creep fit alike; the intervals span both and hold "
            "nearer 90 % than 95 %: press a thinner and a thicker cake to tell them apart"
        )
    return TestFit(
        id=test.id,
        kind=test.kind,
        title=bench_kind(test.kind).title,
        sludge=test.sludge,
        estimates=estimates,
        warnings=tuple(warnings),
        remarks=("Terzaghi-Voigt: consolidation by the series, creep by one exponential",),
        curves=(_course_curve(test, fit, start, settlement),),
        clues=_course_clues(test, fit, coefficient, share, rates),
        lines=(
            bench_line(test.id, "rate_consolidation", "k_1", "π^2·i^2·C_e/(4·ω_0^2)", terms,
                       float(slowest * c_e), "MEM", mark="from memory"),
        ),
        conditions=dict(test.numbers),
        polymer=test.conditioner,
        invented=test.invented,
    )  # fmt: skip


def map_exp(ends: tuple[float, float]) -> tuple[float, float]:
    """Interval back from the logarithm."""
    return float(np.exp(ends[0])), float(np.exp(ends[1]))


def map_logistic(ends: tuple[float, float]) -> tuple[float, float]:
    """Interval back from the logit."""
    return float(1 / (1 + np.exp(-ends[0]))), float(1 / (1 + np.exp(-ends[1])))


def _course_clues(
    test: BenchTest,
    fit: CurvedFit,
    coefficient: tuple[float, float],
    share: tuple[float, float],
    rates: tuple[float, float],
) -> Clues:
    at = {
        "pressure": test.number("pressure"),
        "temperature": test.number("temperature"),
        "assumed_density": ASSUMED_DENSITY,
    }
    ends = (coefficient, share, rates)
    middles = [float(np.mean(pair)) for pair in ends] if len(fit.modes) > 1 else list(fit.theta)
    c, b, eta = (float(value) for value in middles)
    clues = (
        Clue(Learns.CONSOLIDATION, c, float(np.ptp(coefficient)) / 3.92, at),
        Clue(Learns.CREEP_SHARE, b, float(np.ptp(share)) / 3.92),
        Clue(Learns.CREEP_RATE, eta, float(np.ptp(rates)) / 3.92),
    )
    spread = np.sqrt(np.maximum(np.diag(fit.covariance), 1e-12))
    correlation = np.clip(fit.covariance / np.outer(spread, spread), -0.98, 0.98)
    np.fill_diagonal(correlation, 1.0)
    return Clues(test.id, test.kind, clues, correlation)


def _course_curve(test: BenchTest, fit: CurvedFit, start: float, settlement: float) -> Curve:
    time, height = test.columns["time"], test.columns["height"]
    shown = time > 0
    line = np.geomspace(max(float(time[shown][0]) / 2, 1e-3), float(time[-1]), 120)
    gap = height - start + settlement * _degree(test, fit.theta, time)
    scale = max(fit.scatter * 0.01 * float(np.ptp(height)), 1e-15)
    reasons = tuple("" if u else "misreading: far from every curve" for u in fit.used[shown])
    return Curve(
        key=f"{test.id}-settlement",
        title=f"{test.id}: settlement",
        x_axis=Axis("time t", "s", "s", log=True),
        y_axis=Axis("cake height", "m", "mm"),
        x=time[shown],
        y=height[shown],
        used=fit.used[shown],
        reasons=reasons,
        line_x=line,
        line_y=np.asarray(start - settlement * _degree(test, fit.theta, line)),
        residuals=np.asarray((gap / scale)[fit.used]),
    )
