"""Screw pressing path as JAX sees it: the drainage zone, and a march of the pressing zone.

Serves the multi-disc press and the screen-drum press. One sample is one shaft; all arrays have
shape (samples,). Equations and their reasons: ``docs/theory/press.md``.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple, TypeAlias

from jax import Array

from cakewright.physics.expression.device import jax, jnp, lax
from cakewright.physics.expression.kernel import (
    StepScale,
    layer_state,
    layer_step,
    mesh,
)
from cakewright.physics.expression.law import LayerLaw
from cakewright.quantities.constants import GRAVITY

__all__ = [
    "GRADING",
    "Drained",
    "Layer",
    "March",
    "PressEnd",
    "ScrewCase",
    "ScrewFrame",
    "barrel_head",
    "begun_march",
    "drain",
    "drained_residence",
    "drained_void",
    "earliest_start",
    "march_end",
    "press_march",
    "standing_stress",
]

_DRAIN_STEPS = 40
_ABRUPT_STEPS = 3
_FAR = 30.0
GRADING = 2.5


class ScrewFrame(NamedTuple):
    """Geometry of one shaft; core and pitch are quadratics in z/L (three coefficients each)."""

    diameter: Array
    length: Array
    core: tuple[Array, Array, Array]
    pitch: tuple[Array, Array, Array]
    drained_share: Array


class ScrewCase(NamedTuple):
    """Everything that may differ from sample to sample."""

    law: LayerLaw
    solids_density: Array
    water_density: Array
    mean_resistance: Array  # average SRF at the head of a full barrel under the tank
    solids_flow: Array  # solids volume per time and shaft
    feed_void: Array
    speed: Array
    back_pressure: Array  # at the plate, axial
    level: Array  # of the flocculation tank above the crown of the barrel
    grip: Array
    side_ratio: Array
    conveying: Array
    medium: Array
    remix: Array  # chi x events per turn
    renewals: Array  # renewals of the drained face per turn, drainage zone
    extrusion: Array  # m/(s Pa)
    path_share: Array  # way of the water through the kneaded plug over the layer's depth


class Drained(NamedTuple):
    """Drainage zone: ln(e - e_limit) and its slope at stations uniform in sqrt(z/L)."""

    value: Array
    slope: Array
    limit: Array


class PressEnd(NamedTuple):
    """What a march of the pressing zone leaves at the plate, plus integrals on the way."""

    log_stress: Array
    void: Array
    slip: Array  # least 1 - u/(eta N p)
    thrust: Array  # integral of axial stress over z
    lost: Array  # extruded share before saturation
    residence: Array


class Layer(NamedTuple):
    """How the pressed layer is kept and stepped: all cells in one array, or cell by cell."""

    state: Callable[[LayerLaw, Array, Array], Any]
    step: Callable[..., tuple[Any, Array]]


Three: TypeAlias = tuple[Array, Array, Array]
# layer, mean void, the one before, ln stress, slip, z, (terms, integrals, least slip)
March: TypeAlias = tuple[Any, Array, Array, Array, Array, Array, tuple[Three, Three, Array]]


def _quadratic(coefficients: tuple[Array, Array, Array], x: Array) -> Array:
    return coefficients[0] + x * (coefficients[1] + x * coefficients[2])


def _area(frame: ScrewFrame, x: Array) -> Array:
    return 0.25 * jnp.pi * (frame.diameter**2 - _quadratic(frame.core, x) ** 2)


def _fill(case: ScrewCase, frame: ScrewFrame, x: Array, void: Array) -> Array:
    """Volume conveyed over what the screw can convey: u / (eta N p)."""
    swept = case.conveying * case.speed * _quadratic(frame.pitch, x) * _area(frame, x)
    return case.solids_flow * (1.0 + void) / swept


def _wetted(fill: Array) -> Array:
    """Share of a round wall below the surface, from the share of the section filled (explicit)."""
    f = jnp.clip(fill, 1e-6, 1.0 - 1e-6)
    bend = 1.0 - 2.0 * f + jnp.cbrt(f) - jnp.cbrt(1.0 - f)
    wetted: Array = f + (1.5 * jnp.pi) ** (1.0 / 3.0) / jnp.pi * bend
    return wetted


def _yield_stress(law: LayerLaw, void: Array) -> Array:
    ratio = jnp.maximum((1.0 + law.gel_void) / (1.0 + void), 1.0)
    return law.scale * (ratio**law.power - 1.0)


def _equilibrium(law: LayerLaw, stress: Array) -> Array:
    return (1.0 + law.gel_void) * (1.0 + stress / law.scale) ** (-1.0 / law.power) - 1.0


def barrel_head(case: ScrewCase, frame: ScrewFrame) -> Array:
    return case.water_density * GRAVITY * 0.5 * frame.diameter


def _drain_flux(
    case: ScrewCase, frame: ScrewFrame, fill: Array, void: Array, limit: Array
) -> Array:
    """Ruth's mean flux over one renewal of the face, times the wetted share."""
    wetted = _wetted(fill)
    depth = 0.5 * frame.diameter * (1.0 - jnp.cos(jnp.pi * wetted))
    weight = case.water_density * GRAVITY
    head = weight * (0.5 * depth + case.level * jnp.clip(fill, 0.0, 1.0))
    drive = jnp.maximum(head - _yield_stress(case.law, void), 0.0)
    resistance = case.mean_resistance * case.solids_density / jnp.maximum(void - limit, 1e-9)
    interval = 1.0 / (case.speed * case.renewals)
    growth = 2.0 * resistance * drive * interval / case.law.viscosity
    root = jnp.sqrt(case.medium**2 + growth)
    return wetted * 2.0 * drive / (case.law.viscosity * (case.medium + root))


def drain(case: ScrewCase, frame: ScrewFrame) -> Drained:
    """March the drainage zone once over the whole length (fourth-order Runge-Kutta)."""
    weight = case.water_density * GRAVITY
    top = barrel_head(case, frame) + weight * case.level
    limit = _equilibrium(case.law, top) - 1e-3
    start = jnp.log(jnp.maximum(case.feed_void - limit, 1e-6))
    per_solids = jnp.pi * frame.diameter * frame.drained_share / case.solids_flow

    def slope(s: Array, y: Array) -> Array:
        x = s * s
        excess = jnp.exp(jnp.maximum(y, -12.0))
        void = limit + excess
        flux = _drain_flux(case, frame, _fill(case, frame, x, void), void, limit)
        return -2.0 * s * frame.length * per_solids * flux / excess

    h = 1.0 / _DRAIN_STEPS

    def step(y: Array, i: Array) -> tuple[Array, tuple[Array, Array]]:
        def stage(before: Array, row: Array) -> tuple[Array, Array]:
            k = slope((i + row) * h, y + row * h * before)
            return k, k

        _, k = lax.scan(stage, jnp.zeros_like(y), jnp.asarray([0.0, 0.5, 0.5, 1.0]))
        new = jnp.maximum(y + h * (k[0] + 2.0 * k[1] + 2.0 * k[2] + k[3]) / 6.0, -12.0)
        return new, (y, k[0])

    stations = jnp.arange(_DRAIN_STEPS, dtype=start.dtype)
    last, (values, slopes) = lax.scan(step, start, stations)
    end_slope = slope(jnp.ones_like(last), last)
    return Drained(
        jnp.concatenate([values, last[None]]), jnp.concatenate([slopes, end_slope[None]]), limit
    )


def _at(rows: Array, index: Array) -> Array:
    return jnp.take_along_axis(rows, index[None], axis=0)[0]


def drained_void(drained: Drained, s: Array) -> Array:
    """Void ratio at s = sqrt(z/L), by cubic Hermite interpolation of the logarithm."""
    position = jnp.clip(s, 0.0, 1.0) * _DRAIN_STEPS
    i = jnp.clip(jnp.floor(lax.stop_gradient(position)), 0, _DRAIN_STEPS - 1).astype(int)
    t = position - i
    h = 1.0 / _DRAIN_STEPS
    a, b = _at(drained.value, i), _at(drained.value, i + 1)
    da, db = h * _at(drained.slope, i), h * _at(drained.slope, i + 1)
    u = 1.0 - t
    y = a * u * u * (1 + 2 * t) + b * t * t * (3 - 2 * t) + da * t * u * u - db * t * t * u
    return drained.limit + jnp.exp(y)


def earliest_start(case: ScrewCase, frame: ScrewFrame, drained: Drained) -> tuple[Array, Array]:
    """Earliest s where the floc network stands, and earliest s beyond which the plug is conveyed.

    A value of 1 or more means: nowhere within the length.
    """
    stations = jnp.linspace(0.0, 1.0, _DRAIN_STEPS + 1)
    voids = drained.limit + jnp.exp(drained.value)
    over_gel = voids - case.law.gel_void
    fills = _fill(case, frame, (stations**2)[:, None], voids) - 1.0
    return _last_crossing(over_gel), _last_crossing(fills)


def _last_crossing(values: Array) -> Array:
    """Place in 0..1 after which ``values`` stays at or below zero; above 1 when it never does."""
    above = values > 0.0
    n = values.shape[0] - 1
    last = jnp.where(above.any(0), n - jnp.argmax(above[::-1], axis=0), -1)
    i = jnp.clip(last, 0, n - 1)
    a = jnp.take_along_axis(values, i[None], axis=0)[0]
    b = jnp.take_along_axis(values, i[None] + 1, axis=0)[0]
    part = jnp.clip(a / jnp.where(a > b, a - b, 1.0), 0.0, 1.0)
    inside = (i + part) / n
    return jnp.where(last < 0, 0.0, jnp.where(last >= n, 1.0 + jnp.abs(values[-1]), inside))


def press_march(
    case: ScrewCase,
    frame: ScrewFrame,
    drained: Drained,
    start: Array,
    cells: int,
    steps: int,
    creeps: bool,
) -> tuple[PressEnd, tuple[Array, ...]]:
    """March layer and stress from z = start to the plate; also the profile along the way."""
    void = drained_void(drained, jnp.sqrt(start / frame.length))
    grid = mesh(cells, GRADING)
    layer = Layer(
        lambda law, void, stress: layer_state(law, void, stress, cells),
        lambda law, *given, **how: layer_step(law, grid, *given, **how, remixes=True),
    )
    begun, advance = begun_march(case, frame, start, void, steps, creeps, layer)

    def step(carry: March, index: Array) -> tuple[March, tuple[Array, ...]]:
        carry, row = advance(carry, index)
        voids = carry[0].stress_void
        return carry, (*row, voids[0], voids[-1])

    profile: tuple[Array, ...]
    carry, profile = lax.scan(step, begun, jnp.arange(0.0, steps))
    return march_end(case, carry), profile


def march_end(case: ScrewCase, carry: March) -> PressEnd:
    """What a march that has reached the plate leaves."""
    _, mean, _, log_stress, _, _, (_, total, least) = carry
    lost = case.extrusion * total[1] / case.solids_flow
    return PressEnd(log_stress, mean, least, total[0], lost, total[2])


def begun_march(
    case: ScrewCase,
    frame: ScrewFrame,
    start: Array,
    void: Array,
    steps: int,
    creeps: bool,
    layer: Layer,
) -> tuple[March, Callable[[March, Array], tuple[March, tuple[Array, ...]]]]:
    """State of a march at its start, where the void ratio is given, and the step it repeats."""
    law = case.law
    x0 = start / frame.length
    # the tank's level drives the water only: it rubs on nothing, so it starts no pressing
    stress0 = jnp.maximum(barrel_head(case, frame), _yield_stress(law, void))
    span = frame.length - start
    wall = jnp.pi * frame.diameter * frame.drained_share
    perimeter = wall / case.path_share
    # a start far too early builds what no layer has to bear: it is only too early
    most = jnp.log(_FAR * case.side_ratio * case.back_pressure)
    ds = 1.0 / steps

    def local(x: Array, mean: Array, flow: Array) -> tuple[Array, Array, Array]:
        area = _area(frame, x)
        velocity = flow * (1.0 + mean) / area
        carry = velocity / (case.conveying * case.speed * _quadratic(frame.pitch, x))
        return area, velocity, 1.0 - carry

    def left(lost: Array) -> Array:
        return case.solids_flow / (1.0 + case.extrusion * lost / case.solids_flow)

    def terms(stress: Array, mean: Array, velocity: Array) -> Three:
        # only stress the network does not bear drives paste through a gap
        loose = jnp.maximum(stress - _yield_stress(law, mean), 0.0)
        return stress / case.side_ratio, loose * wall / (1.0 + mean), 1.0 / velocity

    def advance(carry: March, index: Array) -> tuple[March, tuple[Array, ...]]:
        state, mean, mean_before, log_stress, slip_old, z_old, sums = carry
        lead = jnp.minimum(1.0 + 0.5 * index, 1.5)
        s = (index + 1.0) * ds
        z = start + span * s * s
        guess = (1.0 + mean) ** 2 / (1.0 + mean_before) - 1.0
        flow = left(sums[1][1] + (z - z_old) * sums[0][1])
        area, velocity, slip = local(z / frame.length, guess, flow)
        log_stress = log_stress + 0.5 * (z - z_old) * case.grip * (slip + slip_old)
        stress = jnp.exp(jnp.minimum(log_stress, most))
        step = ds * 2.0 * s * span
        # the face meets its stress at once: the first steps are far from linear, no others
        abrupt = jnp.clip(_ABRUPT_STEPS - index, 0.0, 1.0)
        scale = StepScale(
            lead,
            perimeter * (1.0 + guess) / area,
            step * perimeter / flow,
            step * case.remix * case.speed / velocity,
            step / velocity,
        )
        state, flux = layer.step(
            law,
            state,
            scale,
            stress,
            case.medium,
            iterations=1 + 3 * abrupt.astype(int),
            face_iterations=3,
            creeps=creeps,
        )
        new_mean = state.mean
        previous, total, least = sums
        here = terms(stress, new_mean, velocity)
        half = 0.5 * (z - z_old)
        grown = zip(total, here, previous, strict=True)
        first, second, third = (t + half * (new + old) for t, new, old in grown)
        row = (z, new_mean, stress, flux, slip)
        sums = (here, (first, second, third), jnp.minimum(least, slip))
        return (state, new_mean, mean, log_stress, slip, z, sums), row

    _, velocity0, slip0 = local(x0, void, case.solids_flow)
    state = layer.state(law, void, stress0)
    nothing = (jnp.zeros_like(start),) * 3
    sums = (terms(stress0, void, velocity0), nothing, slip0)
    return (state, void, void, jnp.log(stress0), slip0, start, sums), advance


def drained_residence(case: ScrewCase, frame: ScrewFrame, drained: Drained, start: Array) -> Array:
    """Time in the drainage zone: carried at the pace of the screw, or flowing through if full."""
    s = jnp.linspace(0.0, 1.0, 17)[:, None] * jnp.sqrt(start / frame.length)
    flat = jax.vmap(drained_void, in_axes=(None, 0))(drained, s)
    x = s * s
    pace = case.conveying * case.speed * _quadratic(frame.pitch, x)
    velocity = pace * jnp.maximum(_fill(case, frame, x, flat), 1.0)
    terms = 2.0 * s * frame.length / velocity
    return jnp.trapezoid(terms, s, axis=0)


def standing_stress(case: ScrewCase, frame: ScrewFrame, drained: Drained) -> Array:
    """Stress at the plate without a pressing zone: the barrel's head, or what the cake bears."""
    void = drained_void(drained, jnp.ones_like(drained.limit))
    return jnp.maximum(barrel_head(case, frame), _yield_stress(case.law, void))
