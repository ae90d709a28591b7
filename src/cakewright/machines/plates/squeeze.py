"""Squeeze of a filled chamber by its membranes: the expression solver on the cake filling left.

It ends at a set dryness, when the filtrate's flow has died down, or with its longest time.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import IntEnum
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np

from cakewright.machines.plates.fill import FillPoint, conductance, flux_powers
from cakewright.machines.stiffening import stiffened_exponent
from cakewright.quantities import FloatArray

if TYPE_CHECKING:
    from cakewright.physics.expression import ExpressionCurve

__all__ = ["EndOfSqueeze", "Pressed", "filled_cells", "squeezed"]

Table: TypeAlias = Mapping[str, FloatArray]

_CELLS, _STEPS = 40, 60
_BLOCK = 128  # samples marched at once: one size of program, little padding
_TIMES = (np.arange(1, _STEPS + 1) / _STEPS) ** 2  # those of the solver


class EndOfSqueeze(IntEnum):
    """What ended the squeeze."""

    NONE = 0
    DRY = 1
    FLOW = 2
    TIME = 3

    @property
    def words(self) -> str:
        """In trade words."""
        return ("no squeeze", "dryness reached", "end flow", "longest squeeze")[self]


@dataclass(frozen=True, slots=True, eq=False)
class Pressed:
    """Cake after filling and squeeze: void ratios (mean, at cloth, in the core), time, water."""

    void: FloatArray
    face: FloatArray
    core: FloatArray
    time: FloatArray
    filtrate: FloatArray
    end: FloatArray


def filled_cells(x: Table, point: FillPoint, edges: FloatArray) -> FloatArray:
    """Void ratio of cells of a filled chamber, from the cloth inward; exact means over the cells.

    ``edges`` are shares of the solids, 0 at the cloth and 1 in the middle.
    """
    flow, bulk = flux_powers(point.exponent, x["resistance_exponent"])
    rate = conductance(x, point.exponent) / point.flux
    place = edges[:, None] * point.solids
    inside = np.minimum(place, point.cake)
    variable = np.expm1(flow * point.face) / flow - inside / rate
    level = np.log1p(np.maximum(flow * variable, -1.0 + 1e-300)) / flow
    level = np.clip(level, point.middle, point.face)
    volume = rate / x["gel_point"] * (np.expm1(bulk * point.face) - np.expm1(bulk * level)) / bulk
    volume = volume + (place - inside) / x["slurry_solidosity"]
    return np.asarray(np.diff(volume, axis=0) / np.diff(place, axis=0) - 1.0)


def squeezed(x: Table, point: FillPoint) -> Pressed:
    """The cake as filled, squeezed where the membrane presses harder than the pump."""
    mean = x["half_depth"] / point.solids - 1.0
    core = np.where(
        point.cake < point.solids * (1.0 - 1e-12),
        1.0 / x["slurry_solidosity"] - 1.0,
        np.exp(-point.middle) / x["gel_point"] - 1.0,
    )
    face = np.exp(-point.face) / x["gel_point"] - 1.0
    zero = np.zeros_like(mean)
    found = {"void": mean, "face": face, "core": core, "time": zero, "filtrate": zero, "end": zero}
    found = {name: np.array(values) for name, values in found.items()}
    works = x["membrane_pressure"] > np.maximum(x["feed_pressure"], 1.0)
    every = np.flatnonzero(works & (x["squeeze_time"] > 0.0))
    for first in range(0, every.size, _BLOCK):
        pick = every[first : first + _BLOCK]
        some = {name: values[pick] for name, values in x.items()}
        part = FillPoint(*(getattr(point, n)[pick] for n in FillPoint.__dataclass_fields__))
        for name, values in _squeeze(some, part).items():
            found[name][pick] = values
    return Pressed(**_resolved(found, point.solids, mean))


def _resolved(
    found: dict[str, FloatArray], solids: FloatArray, before: FloatArray
) -> dict[str, FloatArray]:
    """No number where a march went astray: thin slurry behind a cloth as good as closed."""
    ratios = [found[name] for name in ("void", "face", "core")]
    sound = np.all([np.isfinite(ratio) & (ratio > 0.0) for ratio in ratios], axis=0)
    lost = solids * (before - found["void"]) - found["filtrate"]
    sound &= (found["filtrate"] >= 0.0) & (np.abs(lost) <= 1e-8 * solids * (1.0 + before))
    for ratio in ratios:
        ratio[~sound] = np.nan
    return found


def _squeeze(x: Table, point: FillPoint) -> dict[str, FloatArray]:
    """March to the longest squeeze; where some end earlier, again to the end of each."""
    whole = _march(x, point, x["squeeze_time"])
    dry = x["solids_density"] / x["liquid_density"] * (1.0 / x["squeeze_solids"] - 1.0)
    void = 1.0 / whole.solidosity - 1.0
    flux, least = whole.flux / x["squeeze_time"][:, None], x["squeeze_end_flux"][:, None]
    stops = np.stack(
        [
            _first(void - dry[:, None]),
            _first(np.where(least > 0.0, flux - least, 1.0)),  # 0: never
            np.ones_like(dry),
        ]
    )
    share, end = np.min(stops, axis=0), np.argmin(stops, axis=0)
    time = share * x["squeeze_time"]
    last = _march(x, point, time) if np.any(share < 1.0) else whole
    return _end_of(last, time) | {"end": end + 1.0}


def _first(distance: FloatArray) -> FloatArray:
    """Share of the stage at which a falling distance first reaches 0; 2 where it never does."""
    met = distance <= 0.0
    root = np.sqrt(_TIMES)
    at = np.argmax(met, axis=1)
    rows = np.arange(met.shape[0])
    low = np.maximum(at - 1, 0)
    before, after = distance[rows, low], distance[rows, at]
    part = np.where(at > 0, before / np.maximum(before - after, 1e-300), 1.0)
    place = root[low] + np.clip(part, 0.0, 1.0) * (root[at] - root[low])
    return np.where(met.any(axis=1), place**2, 2.0)


def _end_of(curve: ExpressionCurve, time: FloatArray) -> dict[str, FloatArray]:
    cells = 1.0 / curve.profile - 1.0
    return {
        "void": 1.0 / curve.solidosity[:, -1] - 1.0,
        "face": cells[:, 0],
        "core": cells[:, -1],
        "time": np.array(time),
        "filtrate": curve.filtrate[:, -1],
    }


def _march(x: Table, point: FillPoint, time: FloatArray) -> ExpressionCurve:
    """Squeeze over a time of 1: viscosity and creep rate in each sample's own unit of time."""
    from cakewright.physics.expression import expression_curve
    from cakewright.physics.expression.law import LAW_NAMES

    law: dict[str, Any] = {name: x[name] for name in LAW_NAMES}
    gel, scale = x["gel_point"], x["yield_scale"]
    law["yield_exponent"] = stiffened_exponent(
        x["membrane_pressure"], gel, scale, x["yield_exponent"]
    )
    law["liquid_viscosity"] = x["liquid_viscosity"] / time
    law["creep_rate"] = x["creep_rate"] * time
    return expression_curve(
        _TIMES,
        x["membrane_pressure"],
        point.solids,
        x["slurry_solidosity"],
        medium_resistance=x["medium_resistance"],
        start=_start(x, point, law),
        cells=_CELLS,
        steps=_STEPS,
        **law,
    )


def _start(x: Table, point: FillPoint, law: Table) -> ExpressionCurve:
    """The filled chamber as the layer a stage goes on from; its creep is over after the filling."""
    from cakewright.physics.expression import ExpressionCurve
    from cakewright.physics.expression.device import jnp
    from cakewright.physics.expression.kernel import layer_state, mesh
    from cakewright.physics.expression.law import kernel_law

    width = np.asarray(mesh(_CELLS).width)
    edges = np.concatenate([[0.0], np.cumsum(width)])
    cells = filled_cells(x, point, edges / edges[-1])
    mean = x["half_depth"] / point.solids - 1.0
    wanted = kernel_law(**law)
    even = layer_state(wanted, jnp.asarray(mean), jnp.asarray(x["membrane_pressure"]), _CELLS)
    void = jnp.asarray(cells)
    below = jnp.maximum(wanted.creep_void - void, 0.0)
    state = even._replace(
        stress_void=void,
        void=void,
        creep=-wanted.creep_share * below,
        driest=jnp.min(void, axis=0),
        wettest=jnp.max(void, axis=0),
    )
    none = np.zeros((mean.size, 1))
    return ExpressionCurve(np.ones(1), none, none, none, edges, none, 1, state)
