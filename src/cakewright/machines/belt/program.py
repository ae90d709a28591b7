"""Compiled program of the belt press: gravity zone, wedge, rollers with rests between."""

from __future__ import annotations

from functools import partial

from jax import Array

from cakewright.physics.expression.device import jax, jnp, lax
from cakewright.physics.expression.kernel import LayerState, layer_state
from cakewright.physics.expression.law import LAW_NAMES, kernel_law
from cakewright.physics.expression.stage import Layer, Settings, march_stage
from cakewright.quantities.constants import GRAVITY

__all__ = ["belt_answers"]

_SEALED = 1e25  # medium resistance of a face no water passes
_CELLS, _STEPS = 32, 24

Columns = dict[str, Array]


def _evened(state: LayerState) -> LayerState:
    """Layer turned over at the fold: every cell takes the mean."""
    width = jnp.asarray((jnp.linspace(0.0, 1.0, _CELLS + 1) ** 2)[1:])
    share = jnp.diff(width, prepend=0.0)

    def even(cells: Array) -> Array:
        return jnp.broadcast_to(jnp.tensordot(share, cells, axes=1), cells.shape)

    layers = LayerState._fields[:6]
    state = state._replace(**{name: even(getattr(state, name)) for name in layers})
    return state._replace(driest=state.stress_void[0], wettest=state.stress_void[0])


@partial(jax.jit, static_argnames=("creeps",))
def belt_answers(
    x: Columns,
    rollers: tuple[Array, Array, Array],
    geometry: Columns,
    *,
    creeps: bool,
) -> Columns:
    """March one layer through the machine; ``rollers`` are radius, contact and rest lengths."""
    law = kernel_law(*(x[name] for name in LAW_NAMES))
    feed = x["feed_solids"]
    void = (1.0 - feed) / feed * x["solids_density"] / x["liquid_density"]
    kept = (1.0 - x["fines_share"]) ** x["fines_factor"]
    rate = x["dry_solids_flow"] * kept / x["solids_density"]
    solids = rate / (x["belt_speed"] * geometry["width"])
    grown = x["medium_growth"] * x["solids_since_wash"] * (1.0 + x["oil_blinding"] * x["oil_share"])
    cloth = x["medium_resistance"] * (1.0 + grown)
    zero = jnp.zeros_like(solids)
    weight = x["liquid_density"] * GRAVITY + zero
    drained = Layer(law, solids, cloth, zero, x["plough_rate"], weight, solids * (1.0 + void))
    state = layer_state(law, void, weight * solids * (1.0 + void), _CELLS)
    gravity = Settings(_CELLS, 2 * _STEPS, 3, creeps, True, False)
    pressed = Settings(_CELLS, _STEPS, 2, creeps, False, False)
    still = jnp.zeros((2 * _STEPS, *solids.shape))
    state, rows = march_stage(
        drained, state, still, geometry["gravity_length"] / x["belt_speed"], gravity
    )
    drained_void = rows[2][-1]
    state = _evened(state)
    layer = Layer(law, 0.5 * solids, cloth, zero, zero, zero, zero)
    fraction = (jnp.arange(1, _STEPS + 1) / _STEPS)[:, None] ** 2
    tension = x["belt_tension"]
    ramp = fraction * tension / rollers[0][0]
    state, _ = march_stage(layer, state, ramp, geometry["wedge_length"] / x["belt_speed"], pressed)

    def roller(state: LayerState, row: tuple[Array, Array, Array]) -> tuple[LayerState, Array]:
        radius, contact, rest = row
        stress = jnp.broadcast_to(tension / radius, (_STEPS, *solids.shape))
        state, rows = march_stage(layer, state, stress, contact / x["belt_speed"], pressed)
        closed = layer._replace(medium=zero + _SEALED)
        state, _ = march_stage(closed, state, stress, rest / x["belt_speed"], pressed)
        return state, rows[2][-1]

    state, voids = lax.scan(roller, state, rollers)
    return _figures(x, geometry, rollers, voids[-1], drained_void, kept, cloth)


def _figures(
    x: Columns,
    geometry: Columns,
    rollers: tuple[Array, Array, Array],
    void: Array,
    drained_void: Array,
    kept: Array,
    cloth: Array,
) -> Columns:
    length = geometry["gravity_length"] + geometry["wedge_length"]
    length = length + jnp.sum(rollers[1]) + jnp.sum(rollers[2])
    pull = x["traction"] * x["belt_tension"] * geometry["width"]
    network = 1.0 / (x["gel_point"] * (1.0 + drained_void)) - 1.0
    return {
        "cake_solids": x["solids_density"] / (x["solids_density"] + void * x["liquid_density"]),
        "capture": kept + 0.0 * void,
        "residence": length / x["belt_speed"],
        "power": 2.0 * pull * x["belt_speed"] / x["drive_efficiency"],
        "cake_void": void,
        "drained_solids": x["solids_density"]
        / (x["solids_density"] + drained_void * x["liquid_density"]),
        "cloth_resistance": cloth + 0.0 * void,
        "margin_hydraulic": network,
    }
