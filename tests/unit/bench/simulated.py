"""Bench tests simulated from known parameters, for round trips."""

from __future__ import annotations

import numpy as np

from cakewright.bench import BenchTest, Clue, Clues, Learns
from cakewright.bench.joint import clue_covariance
from cakewright.bench.law_model import predictor, values_of
from cakewright.physics.consolidation import consolidation_degree_terzaghi_voigt
from cakewright.physics.dose_response import dose_bowl
from cakewright.physics.filtration import drainage_time_gravity, filtration_time_ruth
from cakewright.physics.filtration_resistance import solids_per_filtrate
from cakewright.physics.water import water_density_kell, water_viscosity_iapws
from cakewright.quantities import FloatArray

TEMPERATURE = 293.15
AREA, PRESSURE, FEED, CAKE = 63.6e-4, 50e3, 0.018, 0.12


def filtration_test(
    alpha: float,
    medium: float,
    rng: np.random.Generator | None = None,
    *,
    time_sd: float = 0.5,
    volume_sd: float = 0.5e-6,
    count: int = 13,
    bad_start: float = 1.0,
) -> BenchTest:
    """Constant-pressure test; ``bad_start`` stretches the first two times."""
    volume = np.linspace(14e-6, 175e-6, count)
    density = float(water_density_kell(TEMPERATURE))
    viscosity = float(water_viscosity_iapws(TEMPERATURE))
    c = float(solids_per_filtrate(density, FEED, 1 / CAKE))
    time = np.asarray(filtration_time_ruth(volume, AREA, PRESSURE, viscosity, c, alpha, medium))
    if rng is not None:
        time = time + rng.normal(0, time_sd, count)
        volume = volume + rng.normal(0, volume_sd, count)
    time[:2] *= bad_start
    return BenchTest(
        id="F1",
        kind="filtration_pressure",
        sludge="s",
        numbers={
            "pressure": PRESSURE,
            "area": AREA,
            "temperature": TEMPERATURE,
            "feed_solids": FEED,
            "cake_solids": CAKE,
        },
        words={},
        columns={"time": time, "filtrate": volume},
    )


def dose_test(
    optimum: float,
    rng: np.random.Generator | None = None,
    *,
    noise: float = 0.1,
    best: float = 12.0,
    curvature: float = 2.5,
    gain: float = 4.0,
    name: str = "J1",
    polymer: str = "A",
    price: float = 3.0,
) -> BenchTest:
    """Jars with suction time, nine doses twice, one dose zero."""
    dose = np.repeat([0, 2, 4, 5, 6, 7, 8, 10, 12.0], 2) * 1e-3
    level = np.log(best) + np.asarray(dose_bowl(dose, optimum, curvature, gain))
    scatter = rng.normal(0, noise, len(dose)) if rng is not None else np.zeros(len(dose))
    return BenchTest(
        id=name,
        kind="dose_response",
        sludge="s",
        numbers={"water_blank": 7.0, "price": price, "activity": 0.45},
        words={"polymer": polymer},
        columns={"dose": dose, "suction_time": np.exp(level + scatter) + 7.0},
    )


def press_course_test(
    coefficient: float,
    share: float,
    rate: float,
    rng: np.random.Generator | None = None,
    *,
    noise: float = 1.5e-5,
) -> BenchTest:
    """Settlement under constant pressure."""
    time = np.concatenate([[0.0], np.geomspace(3, 9000, 23)])
    omega = 6e-3 / 1350.0 / 20e-4
    degree = np.asarray(
        consolidation_degree_terzaghi_voigt(time, coefficient, omega, share, rate, 1.0)
    )
    scatter = rng.normal(0, noise, len(time)) if rng is not None else 0.0
    return BenchTest(
        id="C1",
        kind="press_course",
        sludge="s",
        numbers={
            "pressure": 2e5,
            "area": 20e-4,
            "dry_mass": 6e-3,
            "faces": 1.0,
            "temperature": TEMPERATURE,
        },
        words={},
        columns={"time": time, "height": 21e-3 - 7.4e-3 * degree + scatter},
    )


def drainage_test(alpha: float, screen: float) -> BenchTest:
    """Drainage without noise."""
    head = 700e-6 / 78.5e-4
    drained = head * np.linspace(0.08, 0.62, 11)
    density = float(water_density_kell(TEMPERATURE))
    viscosity = float(water_viscosity_iapws(TEMPERATURE))
    c = float(solids_per_filtrate(density, FEED, 1 / 0.06))
    time = np.asarray(drainage_time_gravity(drained, head, viscosity, density, c, alpha, screen))
    return BenchTest(
        id="G1",
        kind="gravity_drainage",
        sludge="s",
        numbers={
            "area": 78.5e-4,
            "sample_volume": 700e-6,
            "temperature": TEMPERATURE,
            "feed_solids": FEED,
            "filtrate_solids": 0.4,
            "drained_solids": 0.06,
            "dose": 0.0085,
        },
        words={},
        columns={"time": time, "drained_volume": drained * 78.5e-4},
    )


def clue_design() -> tuple[Clues, ...]:
    """A full day of tests as clues whose values are still to be filled in."""
    course = {"pressure": 2e5, "temperature": TEMPERATURE, "assumed_density": 1350.0}
    filtration = tuple(
        Clues(
            f"F{i}",
            "filtration_pressure",
            (
                Clue(Learns.RESISTANCE, 0.0, 0.08, {"pressure": p, "dose": 0.01}),
                Clue(Learns.MEDIUM, 0.0, 0.3),
            ),
        )
        for i, p in enumerate((2e4, 5e4, 1e5, 3e5))
    )
    pressed = tuple(
        Clue(Learns.CAKE_SOLIDS, 0.0, 0.02, {"pressure": p}) for p in (2e4, 5e4, 1e5, 2e5, 4e5) * 2
    )
    return (
        Clues("D1", "solids_dish", (Clue(Learns.SOLIDS_DENSITY, 0.0, 0.06),)),
        *filtration,
        Clues("P1", "pressed_cake", pressed),
        Clues(
            "C1",
            "press_course",
            (
                Clue(Learns.CONSOLIDATION, 0.0, 0.3, course),
                Clue(Learns.CREEP_SHARE, 0.0, 0.3),
                Clue(Learns.CREEP_RATE, 0.0, 0.2),
            ),
        ),
        Clues(
            "J1",
            "dose_response",
            (
                Clue(Learns.OPTIMUM_DOSE, 0.0, 0.05),
                Clue(Learns.DOSE_CURVATURE, 0.0, 0.2),
                Clue(Learns.DOSE_GAIN, 0.0, 0.2),
            ),
        ),
        Clues("G1", "gravity_drainage", (Clue(Learns.FINES, 0.0, 0.3, {"dose": 0.009}),)),
    )


def simulated_clues(
    theta: FloatArray, rng: np.random.Generator, design: tuple[Clues, ...]
) -> list[Clues]:
    """The design with values drawn about a true law, test scatter and between-test spread."""
    law = values_of(theta)
    drawn = []
    for block in design:
        root = np.linalg.cholesky(clue_covariance(block))
        values = predictor(block.clues)(law) + root @ rng.standard_normal(len(block.clues))
        clues = tuple(
            Clue(c.learns, float(v), c.sd, c.at) for c, v in zip(block.clues, values, strict=True)
        )
        drawn.append(Clues(block.test, block.kind, clues))
    return drawn
