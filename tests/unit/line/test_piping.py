"""Pipes: size from velocity, regime, findings."""

from __future__ import annotations

import numpy as np
import pytest

from cakewright.line.inputs import PipeRun
from cakewright.line.piping import Fluid, Route, gravity_pipe, nominal_sizes, pressure_pipe
from cakewright.line.practice import rule_book
from cakewright.physics.pipes import pressure_drop_darcy
from cakewright.physics.pipes_bingham import wall_stress_buckingham_reiner

BOOK = rule_book({})
WATER = Fluid("water", 998.0, 0.001)
THIN = Fluid("sludge", 1003.0, 0.004, 0.5, 1.0, True, 0.012)
THICK = Fluid("sludge", 1020.0, 0.08, 40.0, 1.0, True, 0.06)


def _route(high: float, low: float | None = None) -> Route:
    return Route("L-1", "feed", "a", "b", high / 3600, (low or high) / 3600, PipeRun(20.0, 3.0))


def _keys(found: tuple[object, ...]) -> set[str]:
    return {f.key for f in found}  # type: ignore[attr-defined]


@pytest.mark.parametrize("flow", [8.0, 12.0, 30.0, 80.0])
def test_sludge_velocity_lies_in_the_window(flow: float) -> None:
    """Where the ladder allows it the design velocity lies between both limits."""
    pipe, _ = pressure_pipe(_route(flow), THIN, BOOK)
    assert BOOK["sludge_velocity_low"] <= pipe.velocity_high <= BOOK["sludge_velocity_high"] + 0.05


def test_too_little_flow_is_a_finding() -> None:
    """At the smallest bore with little flow the velocity is called too low, with a way out."""
    pipe, found = pressure_pipe(_route(2.0), THIN, BOOK)
    assert pipe.nominal == 50
    low = next(f for f in found if f.key == "pipe.velocity_low")
    assert low.margin == pytest.approx(0.9 / pipe.velocity_high)
    assert "flush" in low.change


def test_turndown_below_the_minimum_is_only_a_caution() -> None:
    """Enough at full flow but not at the lowest is told apart."""
    _, found = pressure_pipe(_route(8.0, 3.0), THIN, BOOK)
    assert "pipe.velocity_low_at_turndown" in _keys(found)
    assert "pipe.velocity_low" not in _keys(found)


def test_thick_sludge_is_laminar_and_says_so() -> None:
    """Thick sludge flows laminar: exact Buckingham-Reiner, and grit is warned of."""
    pipe, found = pressure_pipe(_route(30.0), THICK, BOOK)
    assert "laminar" in pipe.regime
    assert "pipe.laminar" in _keys(found)
    wall = float(wall_stress_buckingham_reiner(pipe.velocity_high, pipe.bore, 40.0, 0.08))
    length = 20.0 * (1 + BOOK["fittings_share"])
    assert pipe.pressure_drop == pytest.approx(4 * wall * length / pipe.bore, rel=1e-6)


def test_water_takes_the_smallest_bore_under_its_limit() -> None:
    """Water lines keep below their velocity and are not called too slow."""
    pipe, found = pressure_pipe(_route(6.0), WATER, BOOK)
    sizes = nominal_sizes()
    below = sizes[sizes.index(pipe.nominal) - 1]
    assert pipe.velocity_high <= BOOK["water_velocity"]
    assert pipe.velocity_high * (pipe.nominal / below) ** 2 > BOOK["water_velocity"]
    assert found == ()


def test_sludge_never_flows_easier_than_its_liquid() -> None:
    """Turbulent sludge costs at least what a liquid of its plastic viscosity would."""
    sludge, _ = pressure_pipe(_route(30.0), THIN, BOOK)
    liquid, _ = pressure_pipe(_route(30.0), Fluid("x", 1003.0, 0.004, sludge=True), BOOK)
    assert sludge.pressure_drop >= liquid.pressure_drop * (1 - 1e-12)


def test_power_law_sludge_uses_its_own_law() -> None:
    """A flow index below 1 is calculated as Herschel-Bulkley."""
    pipe, _ = pressure_pipe(_route(10.0), Fluid("s", 1010.0, 0.3, 2.0, 0.6, True), BOOK)
    assert pipe.regime.startswith("Herschel-Bulkley")
    floor = float(pressure_drop_darcy(0.0, 1.0, pipe.bore, 1010.0, pipe.velocity_high))
    assert pipe.pressure_drop > floor


def test_a_trickle_costs_no_friction_and_no_nan() -> None:
    """A flow of almost nothing gives a pressure of almost nothing."""
    pipe, _ = pressure_pipe(_route(1e-300), WATER, BOOK)
    assert 0.0 <= pipe.pressure_drop < 1e-3


def test_gravity_pipe_is_half_full_at_most() -> None:
    """Manning's formula at the chosen size carries the flow half full, the next smaller not."""
    pipe, found = gravity_pipe(_route(120.0), WATER, BOOK)
    slope, n = BOOK["gravity_slope_thin"], BOOK["gravity_pipe_manning"]

    def half_full(d: float) -> float:
        return float(np.pi * d**2 / 8 * (d / 4) ** (2 / 3) * np.sqrt(slope) / n)

    smaller = nominal_sizes()[nominal_sizes().index(pipe.nominal) - 1] / 1000
    assert half_full(pipe.bore) >= 120 / 3600 > half_full(smaller)
    assert found == ()


def test_gravity_pipe_too_small_is_a_finding() -> None:
    """More than the largest pipe carries is named, never silent."""
    _, found = gravity_pipe(_route(5000.0), WATER, BOOK)
    assert _keys(found) == {"pipe.gravity_full"}
