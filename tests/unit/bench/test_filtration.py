"""Filtration fits: exact recovery, overrides, warnings."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.unit.bench.simulated import CAKE, FEED, TEMPERATURE, filtration_test

from cakewright.bench import BenchTest, fit_filtration_pressure, fit_filtration_rate
from cakewright.physics.filtration_resistance import solids_per_filtrate
from cakewright.physics.water import water_density_kell, water_viscosity_iapws

ALPHA, MEDIUM = 4e11, 6e10


def test_clean_readings_give_the_truth() -> None:
    """Without noise both resistances come back to rounding."""
    fit = fit_filtration_pressure(filtration_test(ALPHA, MEDIUM))
    assert fit.estimate("specific_resistance").value == pytest.approx(ALPHA, rel=1e-6)
    assert fit.estimate("medium_resistance").value == pytest.approx(MEDIUM, rel=1e-6)
    assert fit.warnings == ()


def test_early_cake_formation_is_left_out() -> None:
    """Two slow first readings are left out, shown, and do not move the answer."""
    rng = np.random.default_rng(1)
    test = filtration_test(ALPHA, MEDIUM, rng, time_sd=0.1, volume_sd=1e-8, bad_start=1.6)
    fit = fit_filtration_pressure(test)
    assert fit.estimate("specific_resistance").value == pytest.approx(ALPHA, rel=0.02)
    assert list(fit.curves[0].used[:3]) == [False, False, True]
    assert any("2 of 13 readings left out" in words for words in fit.remarks)


def test_user_chooses_the_straight_part() -> None:
    """The user's own range is taken as it is."""
    test = filtration_test(ALPHA, MEDIUM)
    chosen = replace(test, numbers={**test.numbers, "straight_from": 60e-6, "straight_to": 130e-6})
    used = fit_filtration_pressure(chosen).curves[0]
    assert used.x[used.used].min() >= 60e-6
    assert used.x[used.used].max() <= 130e-6
    assert set(used.reasons) == {"", "left out by the user"}


def test_thin_feed_shortcut_is_said() -> None:
    """Without cake solids the shortcut is used, named, and overstates the resistance."""
    test = filtration_test(ALPHA, MEDIUM)
    numbers = {k: v for k, v in test.numbers.items() if k != "cake_solids"}
    fit = fit_filtration_pressure(replace(test, numbers=numbers))
    assert any("thin-feed shortcut" in words for words in fit.remarks)
    ratio = fit.estimate("specific_resistance").value / ALPHA
    assert ratio == pytest.approx(1 / (1 - FEED / CAKE), rel=1e-3)


def test_viscosity_follows_temperature() -> None:
    """The same readings at 10 degC mean a lower resistance, by the ratio of viscosities."""
    test = filtration_test(ALPHA, MEDIUM)
    cold = replace(test, numbers={**test.numbers, "temperature": 283.15})
    ratio = (
        fit_filtration_pressure(cold).estimate("specific_resistance").value
        / fit_filtration_pressure(test).estimate("specific_resistance").value
    )
    assert ratio == pytest.approx(1.0016 / 1.3059, rel=0.01)


@pytest.mark.parametrize(
    ("columns", "words"),
    [
        ({"time": [20, 30, 40, 50, 60, 70], "filtrate": [40, 50, 65, 70, 75, 78]}, "poor linear"),
        ({"time": [10, 24, 42.0], "filtrate": [10, 20, 30]}, "too few points"),
        (
            {"time": [5, 21, 49, 90, 140, 203], "filtrate": [10, 20, 30, 40, 50, 60]},
            "negative intercept",
        ),
        (
            {
                "time": [10, 28, 50, 74, 98, 121, 143, 163],
                "filtrate": [10, 20, 30, 40, 50, 60, 70, 80],
            },
            "bends down",
        ),
    ],
)
def test_doubtful_readings_are_said(columns: dict[str, list[float]], words: str) -> None:
    """Poor linearity, few points, a negative intercept and settling each bring their warning."""
    test = filtration_test(ALPHA, MEDIUM)
    scaled = {
        "time": np.array(columns["time"], dtype=float),
        "filtrate": np.array(columns["filtrate"], dtype=float) * 1e-6,
    }
    numbers = {**test.numbers, "straight_from": 0.0}
    fit = fit_filtration_pressure(replace(test, columns=scaled, numbers=numbers))
    assert any(words in warning for warning in fit.warnings), fit.warnings


def test_constant_rate_gives_the_truth() -> None:
    """Pressure rising straight with time gives both resistances."""
    time = np.linspace(20, 400, 10)
    viscosity = float(water_viscosity_iapws(TEMPERATURE))
    c = float(solids_per_filtrate(float(water_density_kell(TEMPERATURE)), FEED, 1 / CAKE))
    rate = 5e-7 / 63.6e-4
    pressure = viscosity * rate * (ALPHA * c * rate * time + MEDIUM)
    test = BenchTest(
        id="R1",
        kind="filtration_rate",
        sludge="s",
        numbers={
            "flow": 5e-7,
            "area": 63.6e-4,
            "temperature": TEMPERATURE,
            "feed_solids": FEED,
            "cake_solids": CAKE,
        },
        words={},
        columns={"time": time, "cell_pressure": pressure},
    )
    fit = fit_filtration_rate(test)
    assert fit.estimate("specific_resistance").value == pytest.approx(ALPHA, rel=1e-6)
    assert fit.estimate("medium_resistance").value == pytest.approx(MEDIUM, rel=1e-5)
