"""Solids from weighings: repeats, blanks, one outlier told apart, uncertainty carried."""

from __future__ import annotations

import numpy as np

from cakewright.bench.fit import Clue, Clues, Estimate, Learns, TestFit
from cakewright.bench.kinds import bench_kind
from cakewright.bench.lines import bench_line
from cakewright.bench.readings import BenchTest
from cakewright.bench.replicates import Repeats, mean_of_repeats
from cakewright.physics.drying_solids import (
    suspended_solids_weighed,
    total_solids_weighed,
    volatile_share_weighed,
)
from cakewright.physics.solids import DENSITY_FIXED, DENSITY_VOLATILE, density_solids
from cakewright.quantities import CalculationLine, FloatArray, Term

__all__ = ["fit_solids_dish", "fit_solids_filter", "outlier_words"]

#: One standard deviation of a weighing on a laboratory balance [kg] (PRACTICE).
BALANCE_DISH = 1e-5
BALANCE_FILTER = 1e-7
#: Relative spread of the density law at a known ash (T37: volatile 1330 to 1410; T77, T78).
DENSITY_LAW_SPREAD = 0.06


def outlier_words(repeats: Repeats, shown: FloatArray, unit: str) -> tuple[str, ...]:
    """Words about a repeat that was left out."""
    return tuple(
        f"reading {i + 1} ({shown[i]:.4g} {unit}) left out: outlier by Grubbs' test at 1 %"
        for i in np.flatnonzero(~repeats.used)
    )


def _estimate(name: str, repeats: Repeats, top: float = np.inf) -> Estimate:
    return Estimate(name, repeats.mean, max(repeats.low, 0.0), min(repeats.high, top))


def _few(repeats: Repeats) -> list[str]:
    if repeats.count < 3:
        return [f"only {repeats.count} repeats: an outlier cannot be told, three are usual"]
    if repeats.sd > 0.1 * abs(repeats.mean):
        return [f"repeats scatter by {100 * repeats.sd / abs(repeats.mean):.0f} %: repeat the test"]
    return []


def fit_solids_dish(test: BenchTest) -> TestFit:
    """Total solids, volatile share and solids density from drying dishes.

    Raises
    ------
    OutOfRangeError
        If a dish gains or loses what it cannot.
    """
    dish, wet, dried = (test.columns[key] for key in ("dish", "with_wet", "with_dried"))
    totals = np.atleast_1d(total_solids_weighed(dish, wet, dried))
    reading_sd = float(np.sqrt(2) * BALANCE_DISH / np.min(wet - dish))
    total = mean_of_repeats(totals, reading_sd)
    warnings = [*_few(total), *outlier_words(total, totals * 100, "%")]
    estimates = [_estimate("total_solids", total, 1.0)]
    clues: Clues | None = None
    lines = [_dish_line(test, total)]
    if "with_ash" in test.columns:
        ash = test.columns["with_ash"]
        there = np.isfinite(ash)
        shares = np.atleast_1d(volatile_share_weighed(dish[there], dried[there], ash[there]))
        share_sd = float(np.sqrt(2) * BALANCE_DISH / np.min((dried - dish)[there]))
        volatile = mean_of_repeats(shares, share_sd)
        warnings += outlier_words(volatile, shares * 100, "%")
        density = float(density_solids(1.0 - volatile.mean))
        slope = float(density_solids(min(1.0 - volatile.mean + 0.01, 1.0))) / density - 1.0
        spread = float(np.hypot(DENSITY_LAW_SPREAD, slope / 0.01 * volatile.standard_error))
        estimates += [
            _estimate("volatile_share", volatile, 1.0),
            Estimate(
                "solids_density", density, density * np.exp(-1.96 * spread),
                density * np.exp(1.96 * spread), "from the ash",
            ),
        ]  # fmt: skip
        clue = Clue(Learns.SOLIDS_DENSITY, float(np.log(density)), spread)
        clues = Clues(test.id, test.kind, (clue,))
        lines.append(_density_line(test, 1.0 - volatile.mean, density))
    return TestFit(
        id=test.id,
        kind=test.kind,
        title=bench_kind(test.kind).title,
        sludge=test.sludge,
        estimates=tuple(estimates),
        warnings=tuple(warnings),
        clues=clues,
        lines=tuple(lines),
        invented=test.invented,
    )


def _dish_line(test: BenchTest, total: Repeats) -> CalculationLine:
    first = int(np.flatnonzero(total.used)[0])
    terms = tuple(
        Term(symbol, float(test.columns[key][first]), "weighing", "measured")
        for symbol, key in (("m_1", "dish"), ("m_2", "with_wet"), ("m_3", "with_dried"))
    )
    one = (terms[2].value - terms[0].value) / (terms[1].value - terms[0].value)
    return bench_line(
        test.id, "total_solids", "TS", "(m_3 - m_1)/(m_2 - m_1)", terms, one, "T20",
        note=f"dish {first + 1}; the mean of {total.count} is {100 * total.mean:.3f} %",
    )  # fmt: skip


def _density_line(test: BenchTest, ash: float, density: float) -> CalculationLine:
    terms = (
        Term("a", ash, "ash_share", "measured"),
        Term("ρ_v", DENSITY_VOLATILE, "solids_density", "published"),
        Term("ρ_f", DENSITY_FIXED, "solids_density", "published"),
    )
    return bench_line(
        test.id, "solids_density", "ρ_s", "1/((1 - a)/ρ_v + a/ρ_f)", terms, density, "T37 L04"
    )


def fit_solids_filter(test: BenchTest) -> TestFit:
    """Suspended and volatile suspended solids from weighed filters, blank taken off.

    Raises
    ------
    OutOfRangeError
        If a residue is negative after the blank is taken off.
    """
    blank = test.blank_rows()
    clean, dried = test.columns["filter"], test.columns["with_dried"]
    change = float(np.mean(dried[blank] - clean[blank]))
    volume = test.columns["volume"][~blank]
    values = np.atleast_1d(suspended_solids_weighed(clean[~blank], dried[~blank], volume, change))
    repeats = mean_of_repeats(values, float(2 * BALANCE_FILTER / np.min(volume)))
    warnings = [*_few(repeats), *outlier_words(repeats, values, "g/L")]
    estimates = [_estimate("suspended_solids", repeats)]
    if "with_ash" in test.columns:
        ash = test.columns["with_ash"][~blank]
        there = np.isfinite(ash)
        lost = (dried[~blank] - ash)[there] / (dried[~blank] - clean[~blank])[there]
        estimates.append(_estimate("volatile_share", mean_of_repeats(lost), 1.0))
    return TestFit(
        id=test.id,
        kind=test.kind,
        title=bench_kind(test.kind).title,
        sludge=test.sludge,
        estimates=tuple(estimates),
        warnings=tuple(warnings),
        remarks=(f"blank filters changed by {change * 1e6:+.2f} mg, taken off",),
        invented=test.invented,
    )
