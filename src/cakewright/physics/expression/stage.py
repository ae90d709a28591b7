"""One stage of pressing, compiled once per shape; called by `curve` and by machines."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial
from typing import NamedTuple

import numpy as np
from jax import Array
from numpy.typing import NDArray

from cakewright.physics.expression.device import jax, jnp, lax
from cakewright.physics.expression.kernel import (
    LayerState,
    StepScale,
    at_one_time,
    layer_state,
    layer_step,
    mesh,
)
from cakewright.physics.expression.law import LAW_NAMES, LayerLaw, kernel_law

__all__ = ["Layer", "Settings", "at_rest", "joined", "march_stage", "run_stage", "taken"]

_Parameters = Mapping[str, NDArray[np.float64]]


class Settings(NamedTuple):
    """What decides the compiled program."""

    cells: int
    steps: int
    iterations: int
    creeps: bool
    remixes: bool
    hindered: bool


class Layer(NamedTuple):
    """What does not change during a stage, each of shape (samples,)."""

    law: LayerLaw
    solids: Array  # solids volume per drained face
    medium: Array
    growth: Array
    remix: Array
    weight: Array  # specific weight of the layer on its face: adds its head to the stress [Pa/m]
    height: Array  # height of the layer at the start of the stage


def march_stage(
    layer: Layer, state: LayerState, load: Array, duration: Array, how: Settings
) -> tuple[LayerState, tuple[Array, Array, Array]]:
    r"""March a layer through one stage on steps even in the square root of time.

    .. math:: t = t_e s^2,\quad \frac{3e^{k+1}-4e^k+e^{k-1}}{2\Delta s} = t'(s)\,\dot e^{k+1}

    Parameters
    ----------
    layer : Layer
        Law, solids, medium, remixing. [object]
    state : LayerState
        Layer at the start. [object]
    load : Array, shape (steps, samples)
        Stress at the end of every step. [Pa]
    duration : Array
        Length of the stage, one or per sample; :math:`t_e`. [s]
    how : Settings
        Cells, steps, iterations. [object]

    Returns
    -------
    state : LayerState
        Layer at the end. [object]
    rows : tuple
        Filtrate, flux and mean void ratio after every step. [object]

    Notes
    -----
    Filtrate per drained face, from the start of the stage.

    References
    ----------
    .. [1] OWN, docs/theory/press.md.
    """
    grid = mesh(how.cells)
    ds = 1.0 / how.steps
    inverse = 1.0 / layer.solids
    fresh = at_one_time(state)

    def advance(
        carry: tuple[LayerState, Array, Array], row: tuple[Array, Array]
    ) -> tuple[tuple[LayerState, Array, Array], tuple[Array, Array, Array]]:
        state, volume, before = carry
        index, stress = row
        lead = jnp.where(index > 0.0, 1.5, 1.0)
        step = 2.0 * ds * ds * (index + 1.0) * duration + 0.0 * inverse
        scale = StepScale(lead, inverse, step * inverse, step * layer.remix, step)
        ahead = 2.0 * volume - before
        stress = stress + layer.weight * jnp.maximum(layer.height - ahead, 0.0)
        state, flux = layer_step(
            layer.law,
            grid,
            state,
            scale,
            stress,
            layer.medium + layer.growth * ahead,
            iterations=how.iterations,
            face_iterations=4,
            creeps=how.creeps,
            remixes=how.remixes,
            hindered=how.hindered,
        )
        history = (2.0 * lead - 1.0) * volume + (1.0 - lead) * before
        new = (history + step * flux) / lead
        return (state, new, volume), (new, flux, state.mean)

    zero = jnp.zeros_like(inverse)
    steps = jnp.arange(how.steps, dtype=inverse.dtype)
    (state, _, _), rows = lax.scan(advance, (fresh, zero, zero), (steps, load))
    return state, rows


_compiled = partial(jax.jit, static_argnames="how")(march_stage)


def _law(parameters: _Parameters) -> LayerLaw:
    return kernel_law(*(parameters[name] for name in LAW_NAMES))


def at_rest(
    parameters: _Parameters, stress: NDArray[np.float64], faces: int, cells: int
) -> LayerState:
    """Even layer at the start of the first stage.

    Parameters
    ----------
    parameters : Mapping
        Arguments of the curve, per sample. [object]
    stress : ndarray, shape (samples,)
        Stress about to be put on. [Pa]
    faces : int
        Drained faces. [1]
    cells : int
        Number of cells. [1]

    Returns
    -------
    state : LayerState
        The layer. [object]

    References
    ----------
    .. [1] OWN, docs/theory/press.md.
    """
    void = jnp.asarray(1.0 / parameters["initial_solidosity"] - 1.0)
    return layer_state(_law(parameters), void, jnp.asarray(stress), cells)


def run_stage(
    parameters: _Parameters,
    load: NDArray[np.float64],
    end: float,
    faces: int,
    state: LayerState,
    how: Settings,
) -> tuple[LayerState, tuple[NDArray[np.float64], ...]]:
    """Compiled stage on NumPy arrays.

    Parameters
    ----------
    parameters : Mapping
        Arguments of the curve, per sample. [object]
    load : ndarray, shape (steps, samples)
        Stress. [Pa]
    end : float
        Length of the stage. [s]
    faces : int
        Drained faces. [1]
    state : LayerState
        Layer at the start. [object]
    how : Settings
        Cells, steps, iterations. [object]

    Returns
    -------
    state : LayerState
        Layer at the end. [object]
    rows : tuple of ndarray
        Filtrate, flux, mean void ratio at 0 and after every step. [object]

    References
    ----------
    .. [1] OWN, docs/theory/press.md.
    """
    solids = parameters["solids_volume"] / faces
    layer = Layer(
        _law(parameters),
        jnp.asarray(solids),
        jnp.asarray(parameters["medium_resistance"]),
        jnp.asarray(parameters["medium_growth"]),
        jnp.asarray(parameters["remix_rate"]),
        jnp.zeros(solids.shape),
        jnp.zeros(solids.shape),
    )
    first = np.asarray(state.mean)
    state, rows = _compiled(layer, state, jnp.asarray(load), jnp.asarray(end), how=how)
    volume, flux, mean = (np.asarray(row) for row in rows)
    zero = np.zeros_like(first)
    return state, (
        np.vstack([zero, volume]),
        np.vstack([flux[0], flux]),
        np.vstack([first, mean]),
    )


def taken(state: LayerState, samples: NDArray[np.int_]) -> LayerState:
    """Some samples of a layer.

    Parameters
    ----------
    state : LayerState
        The layer. [object]
    samples : ndarray of int
        Which samples. [1]

    Returns
    -------
    state : LayerState
        Those samples. [object]

    References
    ----------
    .. [1] OWN, selection.
    """
    return LayerState(*(jnp.asarray(part)[..., samples] for part in state))


def joined(
    pieces: Sequence[tuple[LayerState, tuple[NDArray[np.float64], ...]]], number: int
) -> tuple[tuple[NDArray[np.float64], ...], LayerState]:
    """Chunks put together again, padding dropped.

    Parameters
    ----------
    pieces : sequence
        State and rows of every chunk. [object]
    number : int
        Samples wanted. [1]

    Returns
    -------
    rows : tuple of ndarray
        Rows of all samples. [object]
    state : LayerState
        Layer of all samples. [object]

    References
    ----------
    .. [1] OWN, concatenation.
    """
    rows = tuple(
        np.concatenate([piece[1][k] for piece in pieces], axis=-1)[..., :number] for k in range(3)
    )
    parts = zip(*(piece[0] for piece in pieces), strict=True)
    state = LayerState(
        *(jnp.concatenate([jnp.asarray(p) for p in part], axis=-1)[..., :number] for part in parts)
    )
    return rows, state
