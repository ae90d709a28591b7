"""Filling of plate chambers against an independent solution in time and against Ruth's parabola."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from cakewright.machines.plates.fill import EndOfFill, Filled, fill_point, filled
from cakewright.machines.plates.squeeze import filled_cells
from cakewright.physics.filtration import filtration_time_ruth
from cakewright.physics.filtration_resistance import specific_resistance_average
from cakewright.quantities import FloatArray

LAW = {
    "gel_point": 0.03,
    "yield_scale": 300.0,
    "yield_exponent": 4.0,
    "local_resistance": 2e11,
    "resistance_exponent": 0.5,
    "solids_density": 1400.0,
    "liquid_viscosity": 1e-3,
    "medium_resistance": 1e10,
}
PUMP = {
    "feed_pressure": 3e5,
    "half_depth": 0.016,
    "slurry_solidosity": 0.012,
    "initial_fill_time": 600.0,
    "pump_flux": 0.016 / 600.0,
    "end_flux": 0.01 * 0.016 / 600.0,
    "longest_filling": 1e7,
    "wanted_solids": 0.9 * 0.016 * 0.03 * (1.0 + 3e5 / 300.0) ** 0.25,
}


def _inputs(**changed: float) -> dict[str, FloatArray]:
    return {name: np.array([value]) for name, value in {**LAW, **PUMP, **changed}.items()}


class _InTime:
    """The chamber in fixed places and in time: solids move with the water or fall behind it.

    No steady profile is assumed: finite volumes, slurry let in at the middle as filtrate leaves.
    """

    def __init__(self, x: dict[str, FloatArray], cells: int = 60) -> None:
        self.x = {name: float(values[0]) for name, values in x.items()}
        edges = self.x["half_depth"] * (np.arange(cells + 1) / cells) ** 2.0
        self.width = np.diff(edges)
        middle = 0.5 * (edges[1:] + edges[:-1])
        self.apart = np.diff(middle)
        self.power = self.x["yield_exponent"] * (1.0 - self.x["resistance_exponent"])
        flow = self.x["local_resistance"] * self.x["liquid_viscosity"] * self.x["solids_density"]
        self.k = self.x["yield_scale"] * self.x["yield_exponent"] / flow

    def variable(self, phi: FloatArray) -> FloatArray:
        ratio = np.maximum(phi / self.x["gel_point"], 1.0)
        return np.asarray((ratio**self.power - 1.0) / self.power)

    def flux(self, phi: float) -> float:
        """The pump's flow, or what its pressure drives through the first half cell and cloth."""

        def over(q: float) -> float:
            s = float(self.variable(np.array(phi))) + q * phi * 0.5 * self.width[0] / self.k
            ratio = (1.0 + self.power * s) ** (self.x["yield_exponent"] / self.power)
            cloth = self.x["liquid_viscosity"] * self.x["medium_resistance"] * q
            return float(self.x["yield_scale"] * (ratio - 1.0) + cloth - self.x["feed_pressure"])

        top = self.x["pump_flux"]
        if over(0.0) >= 0.0:
            return 0.0
        return top if over(top) <= 0.0 else float(brentq(over, 0.0, top, xtol=1e-16))

    def rate(self, _: float, state: FloatArray) -> FloatArray:
        phi = state[:-1]
        q, s = self.flux(float(phi[0])), self.variable(phi)
        inner = q * phi[1:] - self.k * (s[:-1] - s[1:]) / self.apart
        moved = np.concatenate([[0.0], inner, [q * self.x["slurry_solidosity"]]])
        return np.concatenate([np.diff(moved) / self.width, [q]])

    def after(self, time: float) -> tuple[FloatArray, float]:
        """Solidosity of the cells and filtrate per area after a time of filtering."""
        start = np.full(self.width.size + 1, self.x["slurry_solidosity"])
        start[-1] = 0.0
        found = solve_ivp(
            self.rate, (0.0, time), start, method="BDF", rtol=1e-5, atol=1e-8, max_step=time / 20
        )
        assert found.success
        return found.y[:-1, -1], float(found.y[-1, -1])


def _end(**changed: float) -> tuple[Filled, dict[str, FloatArray]]:
    x = _inputs(**changed)
    return filled(x), x


@pytest.mark.parametrize(
    "changed",
    [
        {},
        {"local_resistance": 1e12, "end_flux": 0.1 * 0.016 / 600.0},
        {"longest_filling": 3600.0},
        {"resistance_exponent": 0.9, "local_resistance": 3e9},
    ],
)
def test_filling_agrees_with_a_solution_in_time(changed: dict[str, float]) -> None:
    """Solids in the chamber within 1.5 %, core and cloth within 4 %, of one solved in time."""
    found, x = _end(**changed)
    phi, filtrate = _InTime(x).after(float(found.time[0]) - 600.0)
    solids = x["slurry_solidosity"][0] * (x["half_depth"][0] + filtrate)
    assert np.isclose(solids, np.sum(phi * _InTime(x).width), rtol=1e-4)
    assert np.isclose(found.point.solids[0], solids, rtol=0.015)
    cloth, core = (
        float(x["gel_point"][0] * np.exp(value[0]))
        for value in (found.point.face, found.point.middle)
    )
    assert np.isclose(cloth, phi[0], rtol=0.04)
    if found.end[0] != EndOfFill.TIME:  # just met: the front is sharp here, smeared there
        assert np.isclose(core, phi[-1], rtol=0.04)


def test_constant_pressure_is_ruths_parabola() -> None:
    """Large pump, cakes apart: time by Ruth's equation with the law's average resistance, 0.2 %."""
    large = {"pump_flux": 1.0, "initial_fill_time": 0.016, "half_depth": 0.016, "end_flux": 1e-6}
    found, x = _end(**large, longest_filling=600.0, medium_resistance=1e9, local_resistance=1e12)
    point = found.point
    drop = x["liquid_viscosity"] * x["medium_resistance"] * point.flux
    alpha = specific_resistance_average(
        x["feed_pressure"] - drop,
        x["local_resistance"],
        x["resistance_exponent"],
        x["yield_scale"],
    )
    deposited = x["solids_density"] * point.cake / point.filtrate
    time = filtration_time_ruth(
        point.filtrate, 1.0, x["feed_pressure"], 1e-3, deposited, alpha, x["medium_resistance"]
    )
    assert found.end[0] == EndOfFill.TIME
    assert np.isclose(found.time[0] - 0.016, time, rtol=2e-3)


def test_constant_flow_takes_volume_over_flow() -> None:
    """A pump far below its pressure: filling time is volume over flow."""
    found, x = _end(local_resistance=1e8, medium_resistance=1e6, wanted_solids=1e-3)
    volume = 1e-3 / x["slurry_solidosity"]
    assert np.allclose(found.time, volume / x["pump_flux"], rtol=1e-9)
    assert np.all(found.point.pressure < x["feed_pressure"])


@pytest.mark.parametrize("depth", [0.008, 0.02])
def test_time_grows_with_depth_squared(depth: float) -> None:
    """No cloth, a pump that hardly limits: the same state comes after a time as depth squared."""
    times = []
    for half in (depth, 2.0 * depth):
        found, _ = _end(
            half_depth=half,
            pump_flux=0.05,
            initial_fill_time=half / 0.05,
            end_flux=1e-7,
            medium_resistance=1e-6,
            wanted_solids=PUMP["wanted_solids"] * half / 0.016,
        )
        assert found.end[0] == EndOfFill.FULL
        times.append(found.time[0] - half / 0.05)
    assert np.isclose(times[1] / times[0], 4.0, rtol=1e-3)


@pytest.mark.parametrize("place", [0.2, 0.7, 1.0, 1.5, 2.0])
def test_cells_hold_what_the_chamber_holds(place: float) -> None:
    """Void ratio of the cells adds up to the chamber's volume, before and after the cakes meet."""
    x = _inputs()
    point = fill_point(x, np.array([place]))
    edges = np.linspace(0.0, 1.0, 41) ** 2
    cells = filled_cells(x, point, edges)
    volume = np.sum(np.diff(edges)[:, None] * (1.0 + cells) * point.solids, axis=0)
    assert np.allclose(volume, x["half_depth"], rtol=1e-12)
    assert np.all(np.diff(cells[:, 0]) > -1e-9)


def test_thick_feed_beyond_the_pump_fills_nothing() -> None:
    """Feed stiffer than the pump's pressure: no filtrate, and the flow is what ends it."""
    found, _ = _end(slurry_solidosity=0.25, wanted_solids=0.01)
    assert found.end[0] == EndOfFill.FLOW
    assert found.point.filtrate[0] == 0.0
