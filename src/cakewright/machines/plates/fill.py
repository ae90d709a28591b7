"""Filling of plate chambers: the pump gives a constant flow, then its constant pressure.

Cakes grow from both faces until they meet; feeding goes on and packs them, with a flow that dies.
The profile is that of steady flow through the cake, in closed form. ``docs/theory/press.md``.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import IntEnum
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from cakewright.machines.stiffening import stiffened_exponent
from cakewright.quantities import FloatArray

__all__ = ["EndOfFill", "FillPoint", "Filled", "fill_point", "filled"]

Table: TypeAlias = Mapping[str, FloatArray]
BoolArray: TypeAlias = npt.NDArray[np.bool_]

_NODES = 80
_TINY = 1e-6  # exponents this near a pole stay beside it


class EndOfFill(IntEnum):
    """What ended the feeding."""

    FULL = 0
    FLOW = 1
    TIME = 2

    @property
    def words(self) -> str:
        """In trade words."""
        return ("chamber full", "end flow", "longest filling time")[self]


@dataclass(frozen=True, slots=True, eq=False)
class FillPoint:
    """One state of filling, per face: ``face`` and ``middle`` are ln(solidosity / gel point).

    ``cake`` is the solids volume in the cake, ``solids`` that in the chamber, slurry included;
    ``filtrate`` the volume that has left. All per filter area.
    """

    face: FloatArray
    middle: FloatArray
    exponent: FloatArray
    pressure: FloatArray
    flux: FloatArray
    cake: FloatArray
    thickness: FloatArray
    filtrate: FloatArray
    solids: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Filled:
    """End of filling: its state, time, pump work per area, and how near each end was.

    ``shares`` are solids in over those wanted, end flow over flow, time over the longest: the
    one that reached 1 ended the feeding.
    """

    point: FillPoint
    time: FloatArray
    work: FloatArray
    shares: Table
    end: FloatArray
    touching: FloatArray


def _grown(power: FloatArray, value: FloatArray) -> FloatArray:
    """Integral of exp(power x) from 0 to ``value``."""
    return np.asarray(np.expm1(power * value) / power)


def _beside(power: FloatArray) -> FloatArray:
    return np.where(np.abs(power) < _TINY, _TINY, power)


def _start(x: Table) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Flux at the start, end of the constant-flow part as face stress, and the slurry's own l."""
    medium = x["liquid_viscosity"] * x["medium_resistance"]
    flux = np.minimum(x["pump_flux"], x["feed_pressure"] / np.maximum(medium, 1e-300))
    slurry = np.maximum(np.log(x["slurry_solidosity"] / x["gel_point"]), 0.0)
    stands = x["yield_scale"] * np.expm1(x["yield_exponent"] * slurry)
    return flux, np.maximum(x["feed_pressure"] - medium * flux, stands), slurry


def fill_point(x: Table, place: FloatArray) -> FillPoint:
    """State at a place of the filling: 0 to 1 at constant flow, 1 to 2 at constant pressure."""
    first, top, slurry = _start(x)
    slow = np.minimum(x["end_flux"], first)
    late = np.clip(place - 1.0, 0.0, 1.0)
    flux = first * (slow / first) ** late
    medium = x["liquid_viscosity"] * x["medium_resistance"]
    early = x["yield_scale"] * np.expm1(np.minimum(place, 1.0) * np.log1p(top / x["yield_scale"]))
    stress = np.where(place > 1.0, np.maximum(x["feed_pressure"] - medium * flux, top), early)
    law = (x["gel_point"], x["yield_scale"], x["yield_exponent"])
    exponent = stiffened_exponent(stress, *law)
    face = np.maximum(np.log1p(stress / x["yield_scale"]) / exponent, slurry)
    return _profile(x, face, slurry, exponent, stress + medium * flux, flux)


def _profile(
    x: Table,
    face: FloatArray,
    slurry: FloatArray,
    exponent: FloatArray,
    pressure: FloatArray,
    flux: FloatArray,
) -> FillPoint:
    """Cake of steady flow: the Kirchhoff variable is straight in the solids, so all is closed."""
    flow, bulk = flux_powers(exponent, x["resistance_exponent"])
    rate = conductance(x, exponent) / flux
    reach = x["gel_point"] * x["half_depth"] / rate
    left = _grown(bulk, face) - reach
    full = left >= _grown(bulk, slurry)
    inner = np.log1p(bulk * np.where(full, left, 0.0)) / bulk
    middle = np.where(full, inner, slurry)
    cake = rate * (_grown(flow, face) - _grown(flow, middle))
    thickness = rate / x["gel_point"] * (_grown(bulk, face) - _grown(bulk, middle))
    filtrate = np.maximum(cake / x["slurry_solidosity"] - thickness, 0.0)
    solids = x["slurry_solidosity"] * (x["half_depth"] + filtrate)
    return FillPoint(face, middle, exponent, pressure, flux, cake, thickness, filtrate, solids)


def flux_powers(exponent: FloatArray, resistance: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Powers of the flux variable and of the bulk volume along the cake."""
    flow = _beside(exponent * (1.0 - resistance))
    return flow, _beside(flow - 1.0)


def conductance(x: Table, exponent: FloatArray) -> FloatArray:
    """Solids volume through which a unit of the flux variable drives a unit of flux."""
    resistance = x["local_resistance"] * x["liquid_viscosity"] * x["solids_density"]
    return np.asarray(x["yield_scale"] * exponent / resistance)


@dataclass(frozen=True, slots=True, eq=False)
class _Route:
    """The filling at even places, with time and work from its start to each of them."""

    x: Table
    point: FillPoint
    time: FloatArray
    work: FloatArray

    def to(self, place: FloatArray) -> tuple[FillPoint, FloatArray, FloatArray]:
        """State, time and work at a place."""
        node = np.clip(np.floor(place * _NODES), 0, 2 * _NODES - 1).astype(int)[None]
        point = fill_point(self.x, place)

        def before(values: FloatArray) -> FloatArray:
            return np.asarray(np.take_along_axis(values, node, axis=0)[0])

        grown = point.filtrate - before(self.point.filtrate)
        slow = 0.5 * (1.0 / before(self.point.flux) + 1.0 / point.flux)
        push = 0.5 * (before(self.point.pressure) + point.pressure)
        return point, before(self.time) + slow * grown, before(self.work) + push * grown


def _routed(x: Table) -> _Route:
    places = np.linspace(0.0, 2.0, 2 * _NODES + 1)[:, None] + np.zeros_like(x["half_depth"])
    point = fill_point(x, places)
    time = x["initial_fill_time"] + _along(point.filtrate, 1.0 / point.flux)
    return _Route(x, point, time, _along(point.filtrate, point.pressure))


def filled(x: Table) -> Filled:
    """Where feeding ends: enough solids in, flow died down, or time up, whichever is first."""
    route, wanted = _routed(x), x["wanted_solids"]
    longest = x["longest_filling"]
    stops = np.stack(
        [
            _reached(route.point.solids >= wanted, lambda at: fill_point(x, at).solids >= wanted),
            np.full_like(wanted, 2.0),
            _reached(route.time >= longest, lambda at: route.to(at)[1] >= longest),
        ]
    )
    end = np.argmin(stops, axis=0)
    point, time, work = route.to(np.min(stops, axis=0))
    shares = {
        "solids": point.solids / wanted,
        "flow": x["end_flux"] / point.flux,
        "time": time / longest,
    }
    return Filled(point, time, work, shares, end.astype(float), _touching(x, point))


def _touching(x: Table, point: FillPoint) -> FloatArray:
    """Solids of two cakes that just meet, at the face stress reached: the middle still slurry."""
    slurry = np.broadcast_to(_start(x)[2], point.face.shape)
    flow, bulk = flux_powers(point.exponent, x["resistance_exponent"])
    solids = _grown(flow, point.face) - _grown(flow, slurry)
    volume = (_grown(bulk, point.face) - _grown(bulk, slurry)) / x["gel_point"]
    grown = (solids > 0.0) & (volume > 0.0)
    loose = np.exp(point.face) * x["gel_point"]
    share = np.where(grown, solids / np.where(grown, volume, 1.0), loose)
    return np.asarray(x["half_depth"] * share)


def _along(grown: FloatArray, rate: FloatArray) -> FloatArray:
    """Integral of ``rate`` over what has grown, by trapezia: exact along Ruth's parabola."""
    steps = 0.5 * (rate[1:] + rate[:-1]) * np.diff(grown, axis=0)
    return np.concatenate([np.zeros_like(grown[:1]), np.cumsum(steps, axis=0)])


def _reached(met: BoolArray, meets: Callable[[FloatArray], BoolArray]) -> FloatArray:
    """First place that meets a wish, bisected between two nodes; 3 where none does."""
    at = np.argmax(met, axis=0)
    low, high = np.maximum(at - 1, 0) / _NODES, at / _NODES
    for _ in range(30):
        middle = 0.5 * (low + high)
        enough = meets(middle)
        low, high = np.where(enough, low, middle), np.where(enough, middle, high)
    return np.where(met.any(axis=0), high, 3.0)
