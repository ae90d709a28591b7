"""The layer's step cell by cell, with its numbers in a store: for one piece of accelerator code.

Arrays of all cells pass through memory at every operation; here a sample goes through a whole
march in one program, and only the rows below go to and from the store, which stays in cache. The
same functions as in ``kernel``, in the same order; only the loops over the cells are written out.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple, TypeAlias

from jax import Array

from cakewright.physics.expression._cell import (
    CellTerms,
    Flow,
    Row,
    cell_terms,
    closed_face,
    creep_terms,
    from_face,
    step_terms,
    towards_face,
)
from cakewright.physics.expression.device import jnp, lax
from cakewright.physics.expression.law import LayerLaw
from cakewright.physics.expression.state import StepScale, StoredState

__all__ = ["ROWS", "Store", "StoredState", "stored_state", "stored_step"]

Index: TypeAlias = Array | int

# rows of the store for each cell: void that carries stress, total void and creep at two times,
# their histories, what the sweep to the face leaves for the one back
_STRESS, _STRESS_BEFORE, _VOID, _VOID_BEFORE, _CREEP, _CREEP_BEFORE = range(6)
_HISTORY, _CREEP_HISTORY, _KNOWN, _PIVOT, _MIXED, _POTENTIAL, _SLOPE = range(6, 13)
ROWS = 13
_SWEPT = (_KNOWN, _PIVOT, _MIXED, _POTENTIAL, _SLOPE)


class Store(NamedTuple):
    """Where the cells are kept: ``read(row, cell)`` and ``write(row, cell, value)`` of (samples,);
    ``mesh(cell)`` gives width and the two inverse distances of a cell; ``first`` its first centre.
    """

    read: Callable[[int, Index], Array]
    write: Callable[[int, Index, Array], None]
    mesh: Callable[[Index], tuple[Array, Array, Array]]
    cells: int
    first: float


def stored_state(store: Store, law: LayerLaw, void: Array, pressure: Array) -> StoredState:
    """Even layer at rest, as `layer_state`, written to a store.

    Parameters
    ----------
    store : Store
        Where the cells are kept. [object]
    law : LayerLaw
        Sludge law. [object]
    void : Array, shape (samples,)
        Void ratio of the layer. [1]
    pressure : Array, shape (samples,)
        Stress about to be put on it. [Pa]

    Returns
    -------
    state : StoredState
        The layer, its creep in step with its stress. [object]

    References
    ----------
    .. [1] OWN, docs/theory/press.md.
    """
    creep = -law.creep_share * jnp.maximum(law.creep_void - void, 0.0)

    def fill(i: Array, done: Array) -> Array:
        for row in (_STRESS, _STRESS_BEFORE, _VOID, _VOID_BEFORE):
            store.write(row, i, void)
        for row in (_CREEP, _CREEP_BEFORE):
            store.write(row, i, creep)
        return done

    lax.fori_loop(0, store.cells, fill, 0)
    face = jnp.log1p(pressure / law.scale) / law.power
    return StoredState(face, void, void, void, void)


def stored_step(
    store: Store,
    law: LayerLaw,
    state: StoredState,
    scale: StepScale,
    pressure: Array,
    resistance: Array,
    *,
    iterations: Index,
    face_iterations: int,
    creeps: bool,
) -> tuple[StoredState, Array]:
    """One backward-difference step of a remixed layer, as `layer_step`, on the cells of a store.

    Parameters
    ----------
    store : Store
        Where the cells are kept. [object]
    law : LayerLaw
        Sludge law. [object]
    state : StoredState
        The rest of the layer. [object]
    scale : StepScale
        Step times the rates. [object]
    pressure : Array, shape (samples,)
        Stress on the layer at the new time. [Pa]
    resistance : Array, shape (samples,)
        Medium resistance at the new time. [1/m]
    iterations : int or Array
        Newton steps. [1]
    face_iterations : int
        Newton steps of the drained face within each. [1]
    creeps : bool
        Whether the creep branch is carried. [1]

    Returns
    -------
    state : StoredState
        The layer at the new time; its cells are in the store. [object]
    flux : Array, shape (samples,)
        Filtrate flux. [m/s]

    References
    ----------
    .. [1] OWN, docs/theory/press.md.
    """
    step = step_terms(law, store.first, state, scale, pressure)
    cells, zero = store.cells, jnp.zeros_like(step.kappa)

    def turn(i: Array, done: Array) -> Array:
        """The new time becomes the one before; the guess runs ahead."""
        for now, before, row, weights in (
            (_STRESS, _STRESS_BEFORE, _STRESS, (2.0, -1.0)),
            (_VOID, _VOID_BEFORE, _HISTORY, (step.now, step.then)),
            (_CREEP, _CREEP_BEFORE, _CREEP_HISTORY, (step.now, step.then)),
        ):
            new, old = store.read(now, i), store.read(before, i)
            store.write(row, i, weights[0] * new + weights[1] * old)
            store.write(before, i, new)
        return done

    def terms(i: Index, width: Array) -> CellTerms:
        history = store.read(_HISTORY, i) + scale.remix * state.mean
        about, creep = store.read(_STRESS, i), store.read(_CREEP_HISTORY, i)
        return cell_terms(
            law, step, scale, width, about, history, creep, creeps=creeps, hindered=False
        )

    def newton(_: Array, carry: tuple[Array, ...]) -> tuple[Array, ...]:
        def down(j: Array, carry: tuple[Flow, CellTerms]) -> tuple[Flow, CellTerms]:
            i = cells - 1 - j
            width, towards, away = store.mesh(i)
            cell = terms(i, width)
            row = Row(cell.source, cell.stored, cell.potential, cell.slope, towards, away, width)
            flow, swept = towards_face(step.kappa, scale.remix, carry[0], row, True)
            kept = (*swept, cell.potential, cell.slope)
            for place, value in zip(_SWEPT, kept, strict=True):
                store.write(place, i, value)
            return flow, cell

        nothing = CellTerms(*(zero,) * len(CellTerms._fields))
        _, first = lax.fori_loop(0, cells, down, ((zero,) * 3, nothing))
        swept = tuple(store.read(place, 0) for place in _SWEPT[:3])
        end = closed_face(
            law, step, scale, first, swept, carry[0], pressure, resistance, face_iterations,
            hindered=False,
        )  # fmt: skip

        def up(i: Array, carry: tuple[Array, ...]) -> tuple[Array, ...]:
            drive, mean, driest, wettest = carry
            known, pivot, mixed, potential, slope = (store.read(place, i) for place in _SWEPT)
            width, towards, away = store.mesh(i)
            row = Row(zero, zero, potential, slope, towards, away, width)
            known = known + mixed * end.mean_change
            drive, change = from_face(step.kappa, drive, known, pivot, row)
            guess = jnp.clip(store.read(_STRESS, i), step.floor, step.ceiling)
            total, storage, creep = guess, jnp.ones_like(guess), store.read(_CREEP_HISTORY, i)
            if creeps:
                total, storage = creep_terms(law, guess, creep, scale)[1:]
                store.write(_CREEP, i, creep_terms(law, guess + change, creep, scale)[0])
            total = total + storage * change
            new = jnp.clip(guess + change, step.floor, step.ceiling)
            store.write(_STRESS, i, new)
            store.write(_VOID, i, total)
            return (
                drive, mean + width * total, jnp.minimum(driest, new), jnp.maximum(wettest, new)
            )  # fmt: skip

        begun = (-scale.drain * end.flux, zero, zero + jnp.inf, zero - jnp.inf)
        return end.face, end.flux, *lax.fori_loop(0, cells, up, begun)[1:]

    lax.fori_loop(0, cells, turn, 0)
    begun = (state.face, zero, zero, zero, zero)
    face, flux, mean, driest, wettest = lax.fori_loop(0, iterations, newton, begun)
    return StoredState(face, mean, state.mean, driest, wettest), flux
