"""One cell of the pressed layer in one implicit step: what the sweeps over the cells are made of.

All is element by element, so the same functions serve all cells at once, (cells, samples), and one
cell at a time, (samples,). Docs: ``docs/theory/press.md``.
"""

from __future__ import annotations

from typing import NamedTuple, TypeAlias

from jax import Array

from cakewright.physics.expression.device import jnp
from cakewright.physics.expression.face import face_state
from cakewright.physics.expression.law import LayerLaw, flux_variable
from cakewright.physics.expression.state import LayerState, StepScale, StoredState

Pair: TypeAlias = tuple[Array, Array]
Flow: TypeAlias = tuple[Array, Array, Array]  # p, q, g: flow into the next cell
Swept: TypeAlias = tuple[Flow, tuple[Array, ...]]


class Row(NamedTuple):
    """What the sweeps know of every cell, shape (N, samples) or (N,); or of one cell."""

    source: Array
    stored: Array
    potential: Array
    slope: Array
    towards_face: Array | float
    away: Array | float
    width: Array | float


class StepTerms(NamedTuple):
    """What a step knows before its first Newton iteration, each of shape (samples,)."""

    now: Array | float  # weights of the two times in the history
    then: Array | float
    floor: Array  # bounds of the guess
    ceiling: Array
    lead: Array
    kappa: Array  # step times conductance between cells of unit distance
    half: Array  # conductance of the half cell at the face
    behind: Array


class CellTerms(NamedTuple):
    """One cell, or all of them on the first axis, about a guess of its stress void."""

    guess: Array
    log_ratio: Array
    potential: Array  # of the water, -S: it runs to where S is higher
    slope: Array  # of the potential
    source: Array  # width x (history + remixed mean - total at the guess)
    stored: Array  # width x d(total)/d(stress void)
    total: Array
    storage: Array


class Closed(NamedTuple):
    """The first cell and the face brought together: flux out, face variable, change of the mean."""

    flux: Array
    face: Array
    mean_change: Array | float


def step_terms(
    law: LayerLaw, first: float, state: LayerState | StoredState, scale: StepScale, pressure: Array
) -> StepTerms:
    """Terms of one step; ``first`` is the centre of the first cell."""
    limit = jnp.log1p(jnp.maximum(pressure, 0.0) / law.scale) / law.power
    rest = (1.0 + law.gel_void) * jnp.exp(-limit) - 1.0
    then = 1.0 - scale.lead
    return StepTerms(
        now=2.0 * scale.lead - 1.0,
        then=then,
        floor=jnp.minimum(rest, state.driest),
        ceiling=state.wettest,
        lead=scale.lead + scale.remix,
        kappa=scale.drain * law.conductance * scale.solids_inverse,
        half=law.conductance * scale.solids_inverse / first,
        behind=then * (state.mean_before - state.mean),
    )


def creep_terms(
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


def cell_terms(
    law: LayerLaw,
    step: StepTerms,
    scale: StepScale,
    width: Array | float,
    about: Array,
    history: Array,
    creep_history: Array,
    *,
    creeps: bool,
    hindered: bool,
) -> CellTerms:
    """Everything a sweep needs of a cell, linear about a guess held within its bounds."""
    guess = jnp.clip(about, step.floor, step.ceiling)
    log_ratio = jnp.log((1.0 + law.gel_void) / (1.0 + guess))
    value, slope = flux_variable(law, log_ratio, hindered)
    slope = slope / (1.0 + guess)
    total, storage = guess, jnp.ones_like(guess)
    if creeps:
        total, storage = creep_terms(law, guess, creep_history, scale)[1:]
    source = width * (history - step.lead * total)
    stored = width * step.lead * storage
    return CellTerms(guess, log_ratio, -value, slope, source, stored, total, storage)


def towards_face(kappa: Array, remix: Array, flow: Flow, row: Row, remixes: bool) -> Swept:
    """One cell of the sweep to the face: its change as known + mixed m + pivot x flow at its face
    side; the flow into the next cell is p + q m - g (V + dV) of that cell."""
    p, q, g = flow
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


def from_face(kappa: Array, drive: Array, known: Array, pivot: Array, row: Row) -> Pair:
    """One cell of the sweep back: the flow into the next cell, and the cell's change."""
    change = known + pivot * drive
    return kappa * row.away * (row.potential + row.slope * change), change


def closed_face(
    law: LayerLaw,
    step: StepTerms,
    scale: StepScale,
    first: CellTerms,
    swept: tuple[Array, ...],
    face: Array,
    pressure: Array,
    resistance: Array,
    face_iterations: int,
    *,
    hindered: bool,
) -> Closed:
    """The drained face and what it does to the first cell; ``swept`` is the sweep's last row."""
    known, pivot, *mixed = swept
    face, flux, face_slope = face_state(
        law,
        face,
        -first.potential,
        first.log_ratio,
        step.half,
        pressure,
        resistance,
        face_iterations,
        hindered=hindered,
    )
    link = face_slope * first.slope
    held = 1.0 / (1.0 + scale.drain * link * pivot)
    alone = (known - scale.drain * flux * pivot) * held
    mean_change: Array | float = 0.0
    if mixed:  # the mean moves by what the flux takes away
        along = link * mixed[0] * held
        out = scale.drain * (flux + link * alone)
        mean_change = (step.behind - out) / (scale.lead + scale.drain * along)
        flux = flux + along * mean_change
    return Closed(flux + link * alone, face, mean_change)
