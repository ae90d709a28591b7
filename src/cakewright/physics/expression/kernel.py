"""The pressed layer, one implicit step at a time: JAX, float64, batch on the last axis.

Layout: cells on axis 0 (0 is the drained face), samples on axis 1. A step is one sweep over the
cells from the closed end to the face and one back, everything of a cell in one place, so that
whatever the number of samples little passes through memory. Docs: ``docs/theory/press.md``.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from jax import Array
from numpy.typing import NDArray

from cakewright.physics.expression._cell import (
    CellTerms,
    Flow,
    Pair,
    Row,
    Swept,
    cell_terms,
    closed_face,
    creep_terms,
    from_face,
    step_terms,
    towards_face,
)
from cakewright.physics.expression.device import jax, jnp, lax
from cakewright.physics.expression.law import LayerLaw
from cakewright.physics.expression.state import LayerState, StepScale

__all__ = [
    "LayerState",
    "Mesh",
    "StepScale",
    "at_one_time",
    "layer_state",
    "layer_step",
    "mesh",
]


# cells of a sweep in one piece of code: an accelerator pays for every start, a processor does not
_UNROLL = 1 if jax.default_backend() == "cpu" else 16


class Mesh(NamedTuple):
    """Cells in the material coordinate: widths, 1/distance to the centre of the next cell towards
    the face and away from it (0 at the ends), all of shape (N,); first centre."""

    width: NDArray[np.float64]
    towards_face: NDArray[np.float64]
    away: NDArray[np.float64]
    first: float


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
    step = step_terms(law, grid.first, state, scale, pressure)
    width = jnp.asarray(grid.width)
    links = (jnp.asarray(grid.towards_face), jnp.asarray(grid.away), width)
    history = step.now * state.void + step.then * state.void_before + scale.remix * state.mean
    creep_history = step.now * state.creep + step.then * state.creep_before
    zero = jnp.zeros_like(step.kappa)

    def newton(_: int, carry: tuple[Array, ...]) -> tuple[Array, ...]:
        cells = cell_terms(
            law, step, scale, width[:, None], carry[0], history, creep_history,
            creeps=creeps, hindered=hindered,
        )  # fmt: skip
        rows = Row(cells.source, cells.stored, cells.potential, cells.slope, *links)

        def down(flow: Flow, row: Row) -> Swept:
            return towards_face(step.kappa, scale.remix, flow, row, remixes)

        def up(drive: Array, row: tuple[Array, Array, Row]) -> Pair:
            return from_face(step.kappa, drive, *row)

        swept = lax.scan(down, (zero,) * 3, rows, reverse=True, unroll=_UNROLL)[1]
        first, last = CellTerms(*(row[0] for row in cells)), tuple(row[0] for row in swept)
        end = closed_face(
            law, step, scale, first, last, carry[2], pressure, resistance, face_iterations,
            hindered=hindered,
        )  # fmt: skip
        known, pivot, *mixed = swept
        if remixes:
            known = known + mixed[0] * end.mean_change
        change = lax.scan(up, -scale.drain * end.flux, (known, pivot, rows), unroll=_UNROLL)[1]
        return cells.guess + change, cells.total + cells.storage * change, end.face, end.flux

    ahead = 2.0 * state.stress_void - state.stress_void_before
    carry: tuple[Array, ...] = (ahead, ahead, state.face, jnp.zeros_like(state.face))
    if isinstance(iterations, int) and iterations == 1:
        carry = newton(0, carry)
    else:
        carry = lax.fori_loop(0, iterations, newton, carry)
    new, total, face, flux = carry
    creep = creep_terms(law, new, creep_history, scale)[0] if creeps else state.creep
    inside = jnp.clip(new, step.floor, step.ceiling)
    following = LayerState(
        inside, state.stress_void, total, state.void, creep, state.creep, face,
        jnp.sum(width[:, None] * total, axis=0), state.mean, inside.min(0), inside.max(0),
    )  # fmt: skip
    return following, flux
