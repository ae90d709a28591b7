"""The expression solver: balances, limits, order of convergence, bad input."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from cakewright.errors import OutOfRangeError
from cakewright.physics.compression import solidosity_equilibrium
from cakewright.physics.expression import ExpressionCurve, expression_curve

GEL, SCALE, POWER, ALPHA, M, DENSITY, MU = 0.024, 120.0, 3.1, 1e10, 0.85, 1400.0, 1e-3
SOLIDS = 2e-3
COARSE: dict[str, Any] = {"cells": 32, "steps": 64}


def curve(time: Any, pressure: Any = 3e4, start: float = 0.03, **more: Any) -> ExpressionCurve:
    """The house case: a digested sludge under 30 kPa."""
    law = (GEL, SCALE, POWER, ALPHA, M, DENSITY, MU)
    chosen = COARSE | more
    return expression_curve(np.atleast_1d(time), pressure, SOLIDS, start, *law, **chosen)


@pytest.mark.parametrize(
    "more",
    [
        {},
        {"remix_rate": 0.02},
        {"medium_resistance": 1e11, "medium_growth": 1e13},
        {"faces": 2, "start": 0.012},
    ],
    ids=["still", "remixed", "growing-medium", "below-gel"],
)
def test_water_is_conserved(more: dict[str, Any]) -> None:
    """Water pressed out equals water lost by the layer to 1e-10, in every mode."""
    start = more.pop("start", 0.03)
    answer = curve([1500.0], start=start, **more)
    lost = SOLIDS * (1.0 / start - 1.0 / answer.solidosity[0, -1])
    assert abs(answer.filtrate[0, -1] / lost - 1.0) < 1e-10


def test_rest_is_the_law() -> None:
    """After a very long time the layer stands at the law's solidosity for the stress."""
    answer = curve([1e7], pressure=np.array([1e4, 1e5]))
    law = solidosity_equilibrium(np.array([1e4, 1e5]), GEL, SCALE, POWER)
    assert np.allclose(answer.solidosity[:, -1], law, rtol=1e-6)


def test_ruth_parabola() -> None:
    """A cake of constant resistance: t/V is straight in V, medium as intercept, cake as slope."""
    times, pressure, medium, alpha, stiff = np.linspace(60.0, 600.0, 40), 3e4, 2e10, 3e11, 20.0
    law = (GEL, SCALE, stiff, alpha, 0.0, DENSITY, MU)
    answer = expression_curve(times, pressure, SOLIDS, 0.003, *law, medium, cells=96, steps=256)
    volume = answer.filtrate[0]
    slope, intercept = np.polyfit(volume, times / volume, 1)
    stresses = np.linspace(0.0, pressure, 2001)
    cake = np.mean(1.0 / np.asarray(solidosity_equilibrium(stresses, GEL, SCALE, stiff)) - 1.0)
    solids = DENSITY / (1.0 / 0.003 - 1.0 - cake)
    assert np.corrcoef(volume, times / volume)[0, 1] > 0.9999
    assert np.isclose(intercept, MU * medium / pressure, rtol=0.05)
    assert np.isclose(slope, MU * alpha * solids / (2.0 * pressure), rtol=0.01)


def test_two_faces_are_four_times_faster() -> None:
    """Draining both faces reaches every solidosity in a quarter of the time."""
    one = curve([400.0, 1600.0])
    two = curve([100.0, 400.0], faces=2)
    assert np.allclose(one.solidosity, two.solidosity, rtol=1e-12)


def test_a_stage_can_go_on() -> None:
    """Two stages at one pressure give what a single one gives."""
    whole = curve([1500.0])
    first = curve([500.0])
    second = _continued(first, 1000.0)
    assert np.isclose(second.solidosity[0, -1], whole.solidosity[0, -1], rtol=2e-3)


def _continued(first: ExpressionCurve, time: float) -> ExpressionCurve:
    law = (GEL, SCALE, POWER, ALPHA, M, DENSITY, MU)
    return expression_curve(np.array([time]), 3e4, SOLIDS, 0.03, *law, start=first, **COARSE)


def test_remixing_drains_faster() -> None:
    """A renewed face passes more water, and more the oftener it is renewed."""
    answer = curve([200.0], remix_rate=np.array([0.0, 0.01, 0.1]))
    assert np.all(np.diff(answer.filtrate[:, 0]) > 0.0)


def test_strong_remixing_follows_penetration_theory() -> None:
    """In a strongly remixed layer the flux grows with the square root of the renewal rate."""
    rates = np.array([1.0, 4.0])
    answer = curve([6.0], 3e4, 0.04, remix_rate=rates, cells=128, steps=256)
    ratio = float(answer.flux[1, 0] / answer.flux[0, 0])
    assert 1.6 < ratio < 2.2


def test_creep_delays_but_does_not_change_the_rest() -> None:
    """A creeping layer is wetter on the way and the same at the end."""
    early = curve([1500.0], creep_share=np.array([0.0, 0.6]), creep_rate=1e-3)
    late = curve([1e7], creep_share=np.array([0.0, 0.6]), creep_rate=1e-3)
    assert early.solidosity[1, 0] < 0.9 * early.solidosity[0, 0]
    assert np.isclose(late.solidosity[1, 0], late.solidosity[0, 0], rtol=1e-6)


def test_creep_follows_its_own_clock() -> None:
    """Long after the water has gone, the creeping part decays at the creep rate."""
    rate = 1e-6
    times = np.array([2e5, 1e6, 1.5e6])
    void = 1.0 / curve(times, creep_share=0.5, creep_rate=rate).solidosity[0]
    rest = 1.0 / float(solidosity_equilibrium(3e4, GEL, SCALE, POWER))
    decay = np.log((void[1] - rest) / (void[2] - rest)) / (times[2] - times[1])
    assert np.isclose(decay, rate, rtol=0.02)


def _order(errors: list[float]) -> float:
    return float(np.log2(errors[0] / errors[1]))


def test_second_order_in_time() -> None:
    """Halving the steps quarters the error."""
    end, kind = [300.0], {"medium_resistance": 1e11, "cells": 24}
    best = curve(end, steps=512, **kind).filtrate[0, 0]
    errors = [abs(curve(end, steps=n, **kind).filtrate[0, 0] - best) for n in (32, 64)]
    assert 1.7 < _order(errors) < 2.5


def test_second_order_in_cells() -> None:
    """Halving the cells quarters the error."""
    end, kind = [300.0], {"medium_resistance": 1e11, "steps": 48}
    best = curve(end, cells=192, **kind).filtrate[0, 0]
    errors = [abs(curve(end, cells=n, **kind).filtrate[0, 0] - best) for n in (12, 24)]
    assert 1.7 < _order(errors) < 2.5


def test_pressure_history() -> None:
    """A stress that grows gives less filtrate than its end value held, more than its start."""
    times = np.array([1.0, 300.0])
    grown = curve(times, np.array([[1e4, 4e4]]))
    held = curve(times, np.array([1e4, 4e4]))
    assert held.filtrate[0, 1] < grown.filtrate[0, 1] < held.filtrate[1, 1]


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"pressure": -1.0}, "pressure"),
        ({"time": [2.0, 1.0]}, "rising"),
        ({"faces": 3}, "1 or 2"),
        ({"creep_share": 1.5}, "creep share"),
        ({"medium_resistance": -1.0}, "medium resistance"),
        ({"pressure": np.ones((1, 3))}, "columns"),
        ({"cells": 2}, "4 or more"),
    ],
)
def test_bad_input_is_named(more: dict[str, Any], words: str) -> None:
    """What lies outside the equations is refused by name."""
    with pytest.raises(OutOfRangeError, match=words):
        curve(**({"time": [100.0]} | more))
