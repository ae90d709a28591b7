"""The pressed layer, one implicit step at a time: JAX, float64, batch on the last axis.

Layout: cells on axis 0 (0 is the drained face), samples on axis 1. A step is one sweep over the
cells from the closed end to the face and one back, everything of a cell in one place, so that
whatever the number of samples little passes through memory. Docs: ``docs/theory/press.md``.
"""

from __future__ import annotations

from typing import NamedTuple, TypeAlias

import numpy as np
from jax import Array
from numpy.typing import NDArray

from cakewright.physics.expression.device import jax, jnp, lax
from cakewright.physics.expression.face import face_state
from cakewright.physics.expression.law import LayerLaw, flux_variable

__all__ = [
    "LayerState",
    "Mesh",
    "StepScale",
    "at_one_time",
    "layer_state",
    "layer_step",
    "mesh",
]


Sweep: TypeAlias = tuple[tuple[Array, ...], tuple[Array, ...]]

# cells of a sweep in one piece of code: an accelerator pays for every start, a processor does not
_UNROLL = 1 if jax.default_backend() == "cpu" else 16


class Mesh(NamedTuple):
    """Cells in the material coordinate: widths, 1/distance to the centre of the next cell towards
    the face and away from it (0 at the ends), all of shape (N,); first centre."""

    width: NDArray[np.float64]
    towards_face: NDArray[np.float64]
    away: NDArray[np.float64]
    first: float


class StepScale(NamedTuple):
    """What one step multiplies the rates with, each of shape (samples,)."""

    lead: Array | float  # 1 on the first step, 3/2 after (backward differences)
    solids_inverse: Array  # 1 / omega, drained area per solids volume
    drain: Array  # step / omega
    remix: Array  # step x chi f_r
    creep: Array  # step


class LayerState(NamedTuple):
    """Layer at two times, shape (N, samples): void ratio that carries stress, total, creep part.

    Then per sample: face variable, mean total void ratio at both times, bounds of the first part.
    """

    stress_void: Array
    stress_void_before: Array
    void: Array
    void_before: Array
    creep: Array
    creep_before: Array
    face: Array
    mean: Array
    mean_before: Array
    driest: Array
    wettest: Array


def mesh(cells: int, grading: float = 2.0) -> Mesh:
    r"""Cells clustered at the drained face.

    .. math:: \xi(s) = s^g,\; s = i/N

    Parameters
    ----------
    cells : int
        Number of cells; :math:`N`; >= 4. [1]
    grading : float
        Power of the map; :math:`g`; 1 is even. [1]

    Returns
    -------
    mesh : Mesh
        Widths, inverse distances of the centres, first centre. [object]

    Notes
    -----
    Valid for any layer; an even map in s keeps second order in the cells.

    References
    ----------
    .. [1] OWN, docs/theory/press.md, section on the mesh.

    Examples
    --------
    >>> mesh(4, 1.0).width.tolist()
    [0.25, 0.25, 0.25, 0.25]
    """
    edges = np.linspace(0.0, 1.0, cells + 1) ** grading
    centres = 0.5 * (edges[1:] + edges[:-1])
    between = np.concatenate([[0.0], 1.0 / np.diff(centres), [0.0]])
    return Mesh(np.diff(edges), between[:-1], between[1:], float(centres[0]))


def layer_state(law: LayerLaw, void: Array, pressure: Array, cells: int) -> LayerState:
    """Even layer at rest.

    Parameters
    ----------
    law : LayerLaw
        Sludge law. [object]
    void : Array, shape (samples,)
        Void ratio of the layer. [1]
    pressure : Array, shape (samples,)
        Stress about to be put on it. [Pa]
    cells : int
        Number of cells. [1]

    Returns
    -------
    state : LayerState
        The layer, its creep in step with its stress. [object]

    References
    ----------
    .. [1] OWN, docs/theory/press.md.
    """
    layer = jnp.broadcast_to(void, (cells, *void.shape))
    below = jnp.maximum(law.creep_void - layer, 0.0)
    creep = -law.creep_share * below
    face = jnp.log1p(pressure / law.scale) / law.power
    return LayerState(layer, layer, layer, layer, creep, creep, face, void, void, void, void)


def at_one_time(state: LayerState) -> LayerState:
    """The layer as it is, with no step behind it.

    Parameters
    ----------
    state : LayerState
        The layer. [object]

    Returns
    -------
    state : LayerState
        The same layer, its time before being now. [object]

    References
    ----------
    .. [1] OWN, docs/theory/press.md.
    """
    return state._replace(
        stress_void_before=state.stress_void,
        void_before=state.void,
        creep_before=state.creep,
        mean_before=state.mean,
    )


class _Rows(NamedTuple):
    """What the sweep knows of every cell, shape (N, samples) or (N,)."""

    source: Array  # width x (history + remixed mean - total at the guess)
    stored: Array  # width x d(total)/d(stress void)
    potential: Array  # of the water, -S: it runs to where S is higher
    slope: Array  # of the potential
    towards_face: Array
    away: Array
    width: Array


def _creep_terms(
    law: LayerLaw, guess: Array, history: Array, scale: StepScale
) -> tuple[Array, Array, Array]:
    """Creep part at the guess, total void there, and d(total)/d(stress void)."""
    below = jnp.maximum(law.creep_void - guess, 0.0)
    rate = law.creep_rate * scale.creep
    divisor = scale.lead + rate
    creep = (history - rate * law.creep_share * below) / divisor
    share = law.creep_share * scale.lead / divisor
    storage = jnp.where(below > 0.0, 1.0 - share, 1.0)
    return creep, guess + law.creep_share * below + creep, storage


def _eliminate(kappa: Array, remix: Array, rows: _Rows, remixes: bool) -> tuple[Array, ...]:
    """Sweep to the face: change of every cell as known + mixed m + pivot x flow at its face side.

    The flow into the next cell is p + q m - g (V + dV) of that cell; m is the change of the mean.
    """

    def down(carry: tuple[Array, ...], row: _Rows) -> Sweep:
        p, q, g = carry
        link = kappa * row.towards_face
        stored = row.stored + g * row.slope
        pivot = 1.0 / (stored + link * row.slope)
        known = row.source + p - (g + link) * row.potential
        share = link * row.slope * pivot
        ahead = link * row.potential + share * known
        if not remixes:
            return (ahead, q, link * stored * pivot), (known * pivot, pivot)
        mixed = row.width * remix + q
        return (ahead, share * mixed, link * stored * pivot), (known * pivot, pivot, mixed * pivot)

    start: tuple[Array, ...] = (jnp.zeros_like(kappa),) * 3
    return lax.scan(down, start, rows, reverse=True, unroll=_UNROLL)[1]


def _substitute(kappa: Array, drive: Array, known: Array, pivot: Array, rows: _Rows) -> Array:
    """Sweep back from the face: the change of every cell."""

    def up(drive: Array, row: tuple[Array, Array, _Rows]) -> tuple[Array, Array]:
        known, pivot, cell = row
        change = known + pivot * drive
        return kappa * cell.away * (cell.potential + cell.slope * change), change

    return lax.scan(up, drive, (known, pivot, rows), unroll=_UNROLL)[1]


def layer_step(
    law: LayerLaw,
    grid: Mesh,
    state: LayerState,
    scale: StepScale,
    pressure: Array,
    resistance: Array,
    *,
    iterations: int | Array,
    face_iterations: int,
    creeps: bool,
    remixes: bool,
    hindered: bool = False,
) -> tuple[LayerState, Array]:
    r"""One backward-difference step of filtration and consolidation in one.

    .. math:: \frac{de}{dt} = -\frac{1}{\omega}\frac{\partial}{\partial\xi}
        \left[\frac{K}{\omega}\frac{\partial S}{\partial\xi}\right]
        + \chi f_r(\bar e - e)

    Parameters
    ----------
    law : LayerLaw
        Sludge law. [object]
    grid : Mesh
        Cells. [object]
    state : LayerState
        Layer at the two times before. [object]
    scale : StepScale
        Step times the rates. [object]
    pressure : Array, shape (samples,)
        Stress on the layer at the new time. [Pa]
    resistance : Array, shape (samples,)
        Medium resistance at the new time. [1/m]
    iterations : int or Array
        Newton steps; 1 is a linearly implicit step about the extrapolated state. [1]
    face_iterations : int
        Newton steps of the drained face within each. [1]
    creeps : bool
        Whether the creep branch is carried. [1]
    remixes : bool
        Whether the layer is remixed; its mean then enters the step implicitly. [1]
    hindered : bool
        Resistance with the factor 1/(1 - phi)^2. [1]

    Returns
    -------
    state : LayerState
        Layer at the new time and the one before. [object]
    flux : Array, shape (samples,)
        Filtrate flux consistent with the change of water content to rounding. [m/s]

    Notes
    -----
    Water is conserved whatever the number of Newton steps because the flux returned is the
    linearised one. Bounds on the guess: never denser than the equilibrium at P or the layer itself.

    References
    ----------
    .. [1] OWN, docs/theory/press.md.
    .. [2] T33, Lagrangian form, section 3.1.
    """
    now, then = 2.0 * scale.lead - 1.0, 1.0 - scale.lead
    limit = jnp.log1p(jnp.maximum(pressure, 0.0) / law.scale) / law.power
    rest = (1.0 + law.gel_void) * jnp.exp(-limit) - 1.0
    floor, ceiling = jnp.minimum(rest, state.driest), state.wettest
    lead = scale.lead + scale.remix
    kappa = scale.drain * law.conductance * scale.solids_inverse
    half = law.conductance * scale.solids_inverse / grid.first
    width = jnp.asarray(grid.width)
    links = (jnp.asarray(grid.towards_face), jnp.asarray(grid.away), width)
    history = now * state.void + then * state.void_before + scale.remix * state.mean
    creep_history = now * state.creep + then * state.creep_before
    behind = then * (state.mean_before - state.mean)

    def newton(_: int, carry: tuple[Array, ...]) -> tuple[Array, ...]:
        guess = jnp.clip(carry[0], floor, ceiling)
        log_ratio = jnp.log((1.0 + law.gel_void) / (1.0 + guess))
        value, slope = flux_variable(law, log_ratio, hindered)
        slope = slope / (1.0 + guess)
        total, storage = guess, jnp.ones_like(guess)
        if creeps:
            total, storage = _creep_terms(law, guess, creep_history, scale)[1:]
        source = width[:, None] * (history - lead * total)
        rows = _Rows(source, width[:, None] * lead * storage, -value, slope, *links)
        known, pivot, *mixed = _eliminate(kappa, scale.remix, rows, remixes)
        face, flux, face_slope = face_state(
            law,
            carry[2],
            value[0],
            log_ratio[0],
            half,
            pressure,
            resistance,
            face_iterations,
            hindered=hindered,
        )
        link = face_slope * slope[0]
        held = 1.0 / (1.0 + scale.drain * link * pivot[0])
        alone = (known[0] - scale.drain * flux * pivot[0]) * held
        if remixes:  # the mean moves by what the flux takes away
            along = link * mixed[0][0] * held
            out = scale.drain * (flux + link * alone)
            mean_change = (behind - out) / (scale.lead + scale.drain * along)
            known = known + mixed[0] * mean_change
            flux = flux + along * mean_change
        flux = flux + link * alone
        change = _substitute(kappa, -scale.drain * flux, known, pivot, rows)
        return guess + change, total + storage * change, face, flux

    ahead = 2.0 * state.stress_void - state.stress_void_before
    carry: tuple[Array, ...] = (ahead, ahead, state.face, jnp.zeros_like(state.face))
    if isinstance(iterations, int) and iterations == 1:
        carry = newton(0, carry)
    else:
        carry = lax.fori_loop(0, iterations, newton, carry)
    new, total, face, flux = carry
    creep = _creep_terms(law, new, creep_history, scale)[0] if creeps else state.creep
    inside = jnp.clip(new, floor, ceiling)
    following = LayerState(
        inside, state.stress_void, total, state.void, creep, state.creep, face,
        jnp.sum(width[:, None] * total, axis=0), state.mean, inside.min(0), inside.max(0),
    )  # fmt: skip
    return following, flux
