"""Compiled programs of the screw presses: plain columns in, plain columns out, differentiable."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from typing import Any

from jax import Array

from cakewright.machines.pressing_path import PathStatus
from cakewright.machines.screw.kernel import (
    Drained,
    ScrewCase,
    ScrewFrame,
    drain,
    drained_void,
    press_march,
)
from cakewright.machines.screw.root import Resolution, Solved, miss_from, solve
from cakewright.physics.expression.device import jax, jnp
from cakewright.physics.expression.law import LAW_NAMES, kernel_law
from cakewright.quantities.constants import GRAVITY

__all__ = ["FINE", "REFINED", "answers", "plate_miss", "profile", "sensitivities"]

# One piece of code takes a sample through its march where there is a GPU to run it on.
FINE = Resolution(32, 48, searches=4, polishes=3, fused=jax.default_backend() == "gpu")
REFINED = Resolution(cells=144, steps=240, searches=24, polishes=12)
_GAP = 0.5e-3  # ring gap at which extrusion and washing are given
_FLUX = 2e-4  # water per drained area [m/s] at which washing is given

Columns = dict[str, Array]


def _mean_resistance(x: Columns, stress: Array) -> Array:
    """Average resistance at a stress: closed integral of the local law."""
    ratio = stress / x["yield_scale"]
    log_growth = jnp.log1p(ratio)
    power = (1.0 - x["resistance_exponent"]) * log_growth
    small = jnp.abs(power) < 1e-6
    safe = jnp.where(small, 1.0, power)
    growth = jnp.where(small, 1.0 + 0.5 * power, jnp.expm1(safe) / safe)
    return x["local_resistance"] * ratio / (log_growth * growth)


def _frame(geometry: Columns) -> ScrewFrame:
    return ScrewFrame(
        geometry["screw_diameter"],
        geometry["drained_length"],
        (geometry["core_0"], geometry["core_1"], geometry["core_2"]),
        (geometry["pitch_0"], geometry["pitch_1"], geometry["pitch_2"]),
        geometry["drained_share"],
    )


def _shear(x: Columns, geometry: Columns) -> Array:
    """Shear rate between flight and rings: pace of the flight's tip over the channel's depth."""
    core = geometry["core_0"] + 0.5 * geometry["core_1"] + 0.25 * geometry["core_2"]
    depth = 0.5 * (geometry["screw_diameter"] - core)
    return jnp.pi * geometry["screw_diameter"] * x["speed"] / depth


def _broken(x: Columns, geometry: Columns) -> Array:
    """What shear does to flocs: 1 unsheared, 2 at the critical shear rate."""
    return 1.0 + _shear(x, geometry) / x["critical_shear"]


def _kept(x: Columns, geometry: Columns) -> Array:
    """Share of the solids that does not leave as fines with the drained water."""
    wall = jnp.pi * geometry["screw_diameter"] * geometry["drained_length"]
    water = x["dry_solids_flow"] / geometry["shafts"] * (1.0 / x["feed_solids"] - 1.0)
    flux = water / (x["liquid_density"] * wall * geometry["drained_share"])
    washing = (flux / _FLUX) ** x["wash_load"] * (geometry["ring_gap"] / _GAP) ** x["wash_gap"]
    power = x["fines_factor"] * washing * _broken(x, geometry)
    return (1.0 - x["fines_share"]) ** power


def _case(x: Columns, geometry: Columns) -> ScrewCase:
    # the cake on the wall is as tight as the head makes it: more level drains hardly faster
    head = x["liquid_density"] * GRAVITY * (0.5 * geometry["screw_diameter"] + x["level"])
    kneaded = x["local_resistance"] * _broken(x, geometry) / x["kneading"]
    pressed = {**x, "local_resistance": kneaded}
    law = kernel_law(*(pressed[name] for name in LAW_NAMES))
    feed = x["feed_solids"]
    void = (1.0 - feed) / feed * x["solids_density"] / x["liquid_density"]
    # all solids fed load the path: what is lost on the way has been carried there
    flow = x["dry_solids_flow"] / (x["solids_density"] * geometry["shafts"])
    return ScrewCase(
        law=law,
        solids_density=x["solids_density"],
        water_density=x["liquid_density"],
        mean_resistance=_mean_resistance(pressed, head),
        solids_flow=flow,
        feed_void=void,
        speed=x["speed"],
        back_pressure=x["back_pressure"],
        level=x["level"],
        grip=x["grip"] / geometry["screw_diameter"],
        side_ratio=x["side_ratio"],
        conveying=x["conveying"],
        medium=x["medium_resistance"],
        remix=x["remix"],
        renewals=x["renewals"],
        extrusion=x["extrusion"] * (geometry["ring_gap"] / _GAP) ** 2,
        path_share=x["path_share"],
    )


def _status(solved: Solved, torque_margin: Array, plate_room: Array, cake: Array) -> Array:
    """First cause that applies, in the order the sludge meets them along the barrel."""
    late = solved.earliest_conveyed > solved.earliest_network
    # without a start nothing is known of what lies behind it: slip and torque come after
    lost = ~(solved.found | solved.short) | ~jnp.isfinite(cake)
    causes = (
        (solved.earliest_network >= 1.0, PathStatus.HYDRAULIC),
        (solved.earliest_conveyed >= 1.0, PathStatus.CONVEYING),
        (solved.head_excess > 0.0, PathStatus.PLATE_IDLE),
        ((plate_room < 0.0) & late, PathStatus.CONVEYING),
        (plate_room < 0.0, PathStatus.PLATE),
        (lost, PathStatus.UNRESOLVED),
        (solved.end.slip <= 0.0, PathStatus.CONVEYING),
        (torque_margin < 0.0, PathStatus.TORQUE),
    )
    status = jnp.full(cake.shape, int(PathStatus.ANSWER))
    for applies, cause in reversed(causes):
        status = jnp.where(applies, int(cause), status)
    return status


def answers(
    x: Mapping[str, Any],
    geometry: Mapping[str, Any],
    patience: Array | int = 1,
    *,
    how: Resolution,
    creeps: bool,
) -> Columns:
    """Every figure of the path for a batch; figures without an answer are not masked here.

    ``patience`` multiplies the marches a sample may take before it ends unresolved.
    """
    alone = x["speed"].shape == (1,) and jax.default_backend() == "cpu"
    found: Columns = (_alone if alone else _many)(x, geometry, patience, how=how, creeps=creeps)
    return found


def _answers(
    x: Columns, geometry: Columns, patience: Array | int, *, how: Resolution, creeps: bool
) -> Columns:
    case, frame = _case(x, geometry), _frame(geometry)
    kept = _kept(x, geometry)
    solved = solve(case, frame, how, creeps, jnp.asarray(patience))
    end = solved.end
    cake = x["solids_density"] / (x["solids_density"] + end.void * x["liquid_density"])
    arm = 0.5 * frame.diameter
    surface = jnp.pi * frame.diameter * arm
    push = x["friction"] * x["side_ratio"] * end.thrust
    torque = surface * (push + x["idle_shear"] * frame.length)
    torque_margin = 1.0 - torque / geometry["rated_torque"]
    plate_room = _plate_room(solved)
    earliest = jnp.clip(jnp.maximum(solved.earliest_network, solved.earliest_conveyed), 0.0, 1.0)
    return {
        "status": _status(solved, torque_margin, plate_room, cake),
        "cake_solids": cake,
        "capture": kept / (1.0 + end.lost),
        "residence": solved.drained_residence + end.residence,
        "power": geometry["shafts"] * 2.0 * jnp.pi * x["speed"] * torque / x["drive_efficiency"],
        "torque": torque,
        "earliest_start": frame.length * earliest**2,
        "pressing_start": solved.start,
        "pressing_length": frame.length - solved.start,
        "cake_void": end.void,
        "extruded": end.lost / (1.0 + end.lost),
        "fines_lost": 1.0 - kept,
        "margin_hydraulic": 1.0 - solved.earliest_network,
        "margin_plate": plate_room,
        "margin_conveying": jnp.minimum(end.slip, 1.0 - solved.earliest_conveyed),
        "margin_torque": torque_margin,
    }


_many = jax.jit(_answers, static_argnames=("how", "creeps"))
# One sample is asked for by someone who waits: compiled in half the time, a fifth slower to run.
_QUICKLY = {"xla_cpu_use_fusion_emitters": False}


def _taken(options: dict[str, bool]) -> dict[str, bool] | None:
    """The options, or none where this release of the compiler does not know them."""
    try:
        jax.jit(lambda: 0.0, compiler_options=options)()
    except (RuntimeError, TypeError, ValueError):
        return None
    return options


_OPTIONS = _taken(_QUICKLY) if jax.default_backend() == "cpu" else None
_alone = jax.jit(_answers, static_argnames=("how", "creeps"), compiler_options=_OPTIONS)


def _plate_room(solved: Solved) -> Array:
    """Reachable over asked stress at the plate, less one; its sign is the verdict of the search."""
    room = jnp.expm1(jnp.clip(solved.reach, -50.0, 50.0))
    least = 1e-12
    return jnp.where(solved.short, jnp.minimum(room, -least), jnp.maximum(room, least))


@partial(jax.jit, static_argnames=("how", "creeps"))
def plate_miss(
    x: Columns, geometry: Columns, start: Array, *, how: Resolution, creeps: bool
) -> Array:
    """ln of the stress at the plate over the stress asked, marched from given starts."""
    case, frame = _case(x, geometry), _frame(geometry)
    return miss_from(case, frame, drain(case, frame), start, how, creeps)


@partial(jax.jit, static_argnames=("how", "creeps"))
def profile(
    x: Columns, geometry: Columns, start: Array, *, how: Resolution, creeps: bool
) -> Columns:
    """Along the barrel: drainage zone from the inlet, pressing zone from its start to the plate."""
    case, frame = _case(x, geometry), _frame(geometry)
    drained: Drained = drain(case, frame)
    _, rows = press_march(case, frame, drained, start, how.cells, how.steps, creeps)
    z, mean, stress, flux, slip, face, core = rows
    s = jnp.linspace(0.0, 1.0, 25)[:, None] * jnp.sqrt(start / frame.length)
    void = jax.vmap(drained_void, in_axes=(None, 0))(drained, s)
    return {
        "drainage_z": s**2 * frame.length,
        "drainage_void": void,
        "pressing_z": z,
        "pressing_void": mean,
        "pressing_void_face": face,
        "pressing_void_core": core,
        "pressing_stress": stress / case.side_ratio,
        "pressing_flux": flux,
        "pressing_slip": slip,
    }


@partial(
    jax.jit,
    static_argnames=("how", "creeps"),
    compiler_options=_OPTIONS,
)
def sensitivities(x: Columns, geometry: Columns, *, how: Resolution, creeps: bool) -> Columns:
    """Derivative of every answer by every input at one sample: rows are inputs by name.

    The sample is repeated once per input and pushed forward along one input each, so one pass of
    the batch program gives the whole table.
    """
    names = sorted(x)
    wide = {name: jnp.broadcast_to(x[name][0], (len(names),)) for name in names}
    along = {name: jnp.zeros(len(names)).at[i].set(1.0) for i, name in enumerate(names)}

    def smooth(columns: Columns) -> Columns:
        found = answers(columns, geometry, how=how, creeps=creeps)
        return {k: v for k, v in found.items() if k != "status"}

    change: Columns = jax.jvp(smooth, (wide,), (along,))[1]
    return change
