"""Make the invented readings of this folder that tell of resistance and settlement in time.

Everything here is made up: a law near the prior of the class, and readings with noise. Sheets of
solids, jars, charge and settling are kept as they are; their dose and solids agree with the law.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from cakewright.physics.consolidation import consolidation_degree_terzaghi_voigt
from cakewright.physics.filtration import drainage_time_gravity, filtration_time_ruth
from cakewright.physics.filtration_resistance import (
    solids_per_filtrate,
    specific_resistance_average,
)
from cakewright.physics.water import water_density_kell, water_viscosity_iapws

HERE = Path(__file__).parent
# the class law within its noise; density of the ash in solids.csv (19 %) with dry organic matter
LAW = {
    "solids_density": 1484.0,
    "gel_point": 0.0165,
    "yield_scale": 160.0,
    "yield_exponent": 2.68,
    "local_resistance": 1.6e9,
    "resistance_exponent": 0.9,
    "creep_share": 0.85,
    "creep_rate": 0.025,
}
PRESSED = (20.0, 50.0, 100.0, 200.0, 400.0)  # kPa
PAPER, SCREEN = 8e9, 4e8  # 1/m
FEED, WARM = 0.0182, 291.15
VISCOSITY, DENSITY = float(water_viscosity_iapws(WARM)), float(water_density_kell(WARM))
# kPa, area cm2, filtrate mL from and to
FILTERED = (
    (25.0, 63.6, 30.0, 360.0),
    (50.0, 63.6, 30.0, 360.0),
    (150.0, 23.8, 15.0, 165.0),
    (500.0, 23.8, 15.0, 165.0),
)
DRAINED = (400.0, 700.0, 1000.0)  # mL poured
COURSE = (0.0, 2.0, 3.0, 4.5, 6.5, 9.5, 14, 20, 29, 42, 61, 88, 127, 184, 266, 386, 559, 810)


def _resistance(stress: float) -> float:
    names = ("local_resistance", "resistance_exponent", "yield_scale")
    return float(specific_resistance_average(stress, *(LAW[name] for name in names)))


def _solids(stress: float) -> float:
    """Solidosity at rest under a stress."""
    grown = (1 + stress / LAW["yield_scale"]) ** (1 / LAW["yield_exponent"])
    return float(LAW["gel_point"] * grown)


def _by_mass(solidosity: float) -> float:
    """Solids of a cake [%]."""
    dry = solidosity * LAW["solids_density"]
    return 100.0 * dry / (dry + (1.0 - solidosity) * DENSITY)


def _filtered(stress: float) -> float:
    """Solids [%] of a cake while it filters under a stress: steady flow through it."""
    over = np.linspace(0.0, stress, 4001)
    share = (1 + over / LAW["yield_scale"]) ** -LAW["resistance_exponent"]
    void = 1.0 / np.array([_solids(float(s)) for s in over]) - 1.0
    return _by_mass(float(1.0 / (1.0 + np.sum(share * void) / np.sum(share))))


def _with_rows(path: Path, test: str, rows: Sequence[str], titles: str) -> None:
    """The sheet with the readings of one test replaced."""
    text = path.read_text(encoding="utf-8")
    form = rf"(?ms)(^test,{test}$.*?^readings\n{re.escape(titles)}\n).*?(?=^test,|\Z)"
    found, count = re.subn(form, lambda m: m[1] + "\n".join(rows) + "\n\n", text)
    if count != 1:
        raise SystemExit(f"{path.name}: test {test} is not there")
    path.write_text(found.rstrip("\n") + "\n", encoding="utf-8")


def _with_solids(path: Path, test: str, what: str, cake: float) -> None:
    """The sheet with the solids of one test's cake or drained layer replaced."""
    text = path.read_text(encoding="utf-8")
    form = rf"(?ms)(^test,{test}$.*?^{what},)[0-9.]+"
    found, count = re.subn(form, lambda m: f"{m[1]}{cake:.1f}", text, count=1)
    if count != 1:
        raise SystemExit(f"{path.name}: test {test} has no {what}")
    path.write_text(found, encoding="utf-8")


def _pressed(rng: np.random.Generator) -> None:
    """Cakes at rest, two readings a pressure."""
    cakes = [(p, _by_mass(_solids(1e3 * p))) for p in PRESSED for _ in range(2)]
    rows = [f"{p:.1f},{c * (1.0 + 0.015 * rng.standard_normal()):.2f}" for p, c in cakes]
    _with_rows(HERE / "pressed.csv", "P1", rows, "pressure [kPa],cake solids [%]")


def _filtration(rng: np.random.Generator) -> None:
    for number, (kpa, area, low, high) in enumerate(FILTERED, start=1):
        volume, cake = np.linspace(low, high, 13), round(_filtered(1e3 * kpa), 1)
        _with_solids(HERE / "filtration.csv", f"F{number}", "cake solids", cake)
        deposited = solids_per_filtrate(DENSITY, FEED, 100.0 / cake)
        alpha = _resistance(1e3 * kpa)
        time = filtration_time_ruth(
            1e-6 * volume, 1e-4 * area, 1e3 * kpa, VISCOSITY, deposited, alpha, PAPER
        )
        seen = np.sort(np.asarray(time) * (1.0 + 0.006 * rng.standard_normal(volume.size)))
        rows = [
            f"{t + 0.1 * rng.standard_normal():.1f},{v:.1f}"
            for t, v in zip(seen, volume, strict=True)
        ]
        _with_rows(HERE / "filtration.csv", f"F{number}", rows, "time [s],filtrate volume [mL]")


def _drainage(rng: np.random.Generator) -> None:
    for number, poured in enumerate(DRAINED, start=1):
        head = 1e-6 * poured / 78.5e-4
        cake = round(_by_mass(_solids(0.5 * DENSITY * 9.80665 * head)), 1)
        most = 0.92 * poured * (1.0 - 100.0 * FEED / cake)
        volume = np.linspace(0.13 * most, most, 11)
        _with_solids(HERE / "drainage.csv", f"G{number}", "drained solids", cake)
        deposited = solids_per_filtrate(DENSITY, FEED, 100.0 / cake)
        alpha = _resistance(0.5 * DENSITY * 9.80665 * head)
        time = drainage_time_gravity(
            1e-6 * volume / 78.5e-4, head, VISCOSITY, DENSITY, deposited, alpha, SCREEN
        )
        seen = np.asarray(time) * (1.0 + 0.01 * rng.standard_normal(volume.size))
        rows = [f"{t:.1f},{v:.0f}" for t, v in zip(np.sort(seen), volume, strict=True)]
        _with_rows(HERE / "drainage.csv", f"G{number}", rows, "time [s],drained volume [mL]")


def _course(rng: np.random.Generator) -> None:
    """Settlement under 200 kPa: consolidation by the series, creep by one exponential."""
    time, stress = np.array(COURSE), 1e5
    soft = 1.0 / (_solids(stress) * LAW["yield_exponent"] * (stress + LAW["yield_scale"]))
    local = (
        LAW["local_resistance"] * (1 + stress / LAW["yield_scale"]) ** LAW["resistance_exponent"]
    )
    elastic = soft * (1.0 - LAW["creep_share"])
    pace = 1.0 / (VISCOSITY * local * LAW["solids_density"] * elastic)
    height = 6e-3 / LAW["solids_density"] / 20e-4
    degree = consolidation_degree_terzaghi_voigt(
        time, pace, height, LAW["creep_share"], LAW["creep_rate"], 1
    )
    rest = 1e3 * height / _solids(2.0 * stress)
    seen = rest + 7.4 * (1.0 - np.asarray(degree)) + 0.012 * rng.standard_normal(time.size)
    rows = [f"{t:g},{h:.3f}" for t, h in zip(time, seen, strict=True)]
    _with_rows(HERE / "pressed.csv", "C1", rows, "time [s],cake height [mm]")


def _time_to_filter(rng: np.random.Generator) -> None:
    deposited = solids_per_filtrate(DENSITY, FEED, 100.0 / _filtered(5.1e4))
    time = float(
        filtration_time_ruth(1e-4, 63.6e-4, 5.1e4, VISCOSITY, deposited, _resistance(5.1e4), PAPER)
    )
    rows = [f"{time * (1.0 + 0.04 * rng.standard_normal()):.1f}" for _ in range(3)]
    _with_rows(HERE / "others.csv", "W1", rows, "time to filter [s]")


def main() -> None:
    """Rewrite the sheets."""
    rng = np.random.default_rng(8)
    for make in (_pressed, _filtration, _drainage, _course, _time_to_filter):
        make(rng)


if __name__ == "__main__":
    main()
