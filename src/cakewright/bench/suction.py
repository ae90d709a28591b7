"""Capillary suction time and time to filter."""

from __future__ import annotations

import numpy as np

from cakewright.bench.fit import Estimate, TestFit
from cakewright.bench.kinds import bench_kind
from cakewright.bench.lines import bench_line
from cakewright.bench.readings import BenchTest
from cakewright.bench.replicates import mean_of_repeats
from cakewright.bench.solids import outlier_words
from cakewright.physics.filtration_resistance import solids_per_filtrate
from cakewright.physics.water import water_density_kell, water_viscosity_iapws
from cakewright.quantities import Term

__all__ = ["fit_capillary_suction", "fit_time_to_filter"]

#: Temperature suction times are brought to [K].
REFERENCE_TEMPERATURE = 293.15
#: The neglected medium and the growing cake make this test an indication only (JUDGEMENT).
FILTER_TIME_SPREAD = 0.4


def fit_capillary_suction(test: BenchTest) -> TestFit:
    """Suction time less the water blank, at 20 degC and per solids.

    Raises
    ------
    OutOfRangeError
        If the temperature is not that of liquid water.
    """
    blank = test.blank_rows()
    times = test.columns["suction_time"]
    sample, water = mean_of_repeats(times[~blank], 0.1), mean_of_repeats(times[blank], 0.1)
    warnings = list(outlier_words(sample, times[~blank], "s"))
    warnings += [f"blank: {w}" for w in outlier_words(water, times[blank], "s")]
    if sample.count < 5:
        warnings.append(f"only {sample.count} repeats; five are usual")
    estimates = [Estimate("suction_time", sample.mean, sample.low, sample.high)]
    net = sample.mean - water.mean
    lines = []
    if net <= 2 * water.mean:
        warnings.append(
            "within three blanks of clean water: the test no longer tells well flocculated "
            "sludges apart; use drainage instead (T19)"
        )
    if net > 0:
        correction = float(
            water_viscosity_iapws(REFERENCE_TEMPERATURE)
            / water_viscosity_iapws(test.number("temperature"))
        )
        solids = test.number("feed_solids") * float(water_density_kell(test.number("temperature")))
        scale = correction / solids
        half = float(np.hypot(sample.high - sample.mean, water.high - water.mean)) * scale
        normal = net * scale
        estimates.append(Estimate("suction_time_normal", normal, normal - half, normal + half))
        terms = (
            Term("CST", sample.mean, "suction_time", "measured"),
            Term("CST_0", water.mean, "suction_time", "measured"),
            Term("k_T", correction, "ratio", "published"),
            Term("X", solids, "suspended_solids", "measured"),
        )
        lines.append(
            bench_line(test.id, "suction_time_normal", "CST/TS", "(CST - CST_0)·k_T/X",
                       terms, normal, "MEM", mark="from memory")
        )  # fmt: skip
    return TestFit(
        id=test.id,
        kind=test.kind,
        title=bench_kind(test.kind).title,
        sludge=test.sludge,
        estimates=tuple(estimates),
        warnings=tuple(warnings),
        remarks=(
            "suction time follows solids times specific resistance (T16, T18): compare samples "
            "by it, do not turn it into a specific resistance",
        ),
        lines=tuple(lines),
        polymer=test.conditioner,
        invented=test.invented,
    )


def fit_time_to_filter(test: BenchTest) -> TestFit:
    """Time to filter and the specific resistance it indicates, medium neglected.

    Raises
    ------
    OutOfRangeError
        If a condition lies where the formula has no meaning.
    """
    repeats = mean_of_repeats(test.columns["filter_time"], 0.5)
    viscosity = float(water_viscosity_iapws(test.number("temperature")))
    density = float(water_density_kell(test.number("temperature")))
    deposited = float(solids_per_filtrate(density, test.number("feed_solids"), 0.0))
    collected = test.number("share") * test.number("sample_volume")
    area, pressure = test.number("area"), test.number("pressure")
    alpha = 2 * area**2 * pressure * repeats.mean / (viscosity * deposited * collected**2)
    spread = float(np.hypot(FILTER_TIME_SPREAD, repeats.standard_error / repeats.mean))
    low, high = alpha * float(np.exp(-1.96 * spread)), alpha * float(np.exp(1.96 * spread))
    terms = (
        Term("A", area, "filter_area", "measured"),
        Term("P", pressure, "bench_pressure", "measured"),
        Term("t_x", repeats.mean, "filter_time", "measured"),
        Term("μ", viscosity, "filtrate_viscosity", "published"),
        Term("c", deposited, "solids_per_filtrate", "measured"),
        Term("V_x", collected, "bench_volume", "measured"),
    )
    return TestFit(
        id=test.id,
        kind=test.kind,
        title=bench_kind(test.kind).title,
        sludge=test.sludge,
        estimates=(
            Estimate("filter_time", repeats.mean, repeats.low, repeats.high),
            Estimate("specific_resistance", alpha, low, high, "indication: medium neglected"),
        ),
        warnings=outlier_words(repeats, test.columns["filter_time"], "s"),
        remarks=(
            "the specific resistance is an upper bound (the medium is counted with the cake) and "
            "does not enter the law",
        ),
        lines=(
            bench_line(test.id, "specific_resistance", "α", "2·A^2·P·t_x/(μ·c·V_x^2)",
                       terms, alpha, "OWN"),
        ),
        conditions=dict(test.numbers),
        polymer=test.conditioner,
        invented=test.invented,
    )  # fmt: skip
