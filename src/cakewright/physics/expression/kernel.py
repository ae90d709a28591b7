"""The pressed layer, one implicit step at a time: JAX, float64, batch on the last axis.

Layout: cells on axis 0 (0 is the drained face), samples on axis 1, so that the tridiagonal sweep
is one short scan over cells whatever the number of samples. Docs: ``docs/theory/press.md``.
"""

from __future__ import annotations

from typing import NamedTuple, TypeAlias

import numpy as np
from jax import Array
from numpy.typing import NDArray

from cakewright.physics.expression.device import jnp, lax

__all__ = [
    "LAW_NAMES",
    "LayerLaw",
    "LayerState",
    "Mesh",
    "StepScale",
    "face_state",
    "kernel_law",
    "layer_state",
    "layer_step",
    "mesh",
]

Value: TypeAlias = Array | NDArray[np.float64] | float

Sweep: TypeAlias = tuple[tuple[Array, ...], tuple[Array, ...]]

_SLOPE = 1e-9  # stress slope kept below the gel point, relative to the slope just above it
_TINY_EXPONENT = 1e-6  # n (1 - m) = 0 has a logarithm as its limit; stay this far from it

LAW_NAMES = (
    "gel_point",
    "yield_scale",
    "yield_exponent",
    "local_resistance",
    "resistance_exponent",
    "solids_density",
    "liquid_viscosity",
    "creep_share",
    "creep_rate",
    "creep_onset",
)


class LayerLaw(NamedTuple):
    """Sludge law as the kernel wants it, each of shape (samples,)."""

    gel_void: Array
    scale: Array  # p_a
    power: Array  # n
    flux_power: Array  # a = n (1 - m)
    conductance: Array  # p_a n / (alpha_0 mu rho_s)
    viscosity: Array
    creep_share: Array  # B
    creep_rate: Array  # eta
    creep_void: Array  # void ratio from which strain may creep


class Mesh(NamedTuple):
    """Cells in the material coordinate: widths (N,), 1/centre distances (N-1,), first centre."""

    width: NDArray[np.float64]
    gap_inverse: NDArray[np.float64]
    first: float


class StepScale(NamedTuple):
    """What one step multiplies the rates with, each of shape (samples,)."""

    lead: Array | float  # 1 on the first step, 3/2 after (backward differences)
    solids_inverse: Array  # 1 / omega, drained area per solids volume
    drain: Array  # step / omega
    remix: Array  # step x chi f_r
    creep: Array  # step


class LayerState(NamedTuple):
    """Layer at two times: stress void ratio E, total void ratio e, creep part, face variable."""

    stress_void: Array
    stress_void_before: Array
    void: Array
    void_before: Array
    creep: Array
    creep_before: Array
    face: Array


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
        Widths, inverse centre distances, first centre. [object]

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
    return Mesh(np.diff(edges), 1.0 / np.diff(centres), float(centres[0]))


def kernel_law(
    gel_point: Value,
    yield_scale: Value,
    yield_exponent: Value,
    local_resistance: Value,
    resistance_exponent: Value,
    solids_density: Value,
    liquid_viscosity: Value,
    creep_share: Value,
    creep_rate: Value,
    creep_onset: Value,
) -> LayerLaw:
    r"""Sludge law in the kernel's variables.

    .. math:: S = \int_0^{\ln x} e^{a\lambda}\,d\lambda,\; a = n(1-m),\;
        K = \frac{p_a n}{\alpha_0\mu\rho_s}

    Parameters
    ----------
    gel_point : float or ndarray, shape (n,)
        :math:`\phi_g`. [1]
    yield_scale : float or ndarray, shape (n,)
        :math:`p_a`. [Pa]
    yield_exponent : float or ndarray, shape (n,)
        :math:`n`. [1]
    local_resistance : float or ndarray, shape (n,)
        :math:`\alpha_0`. [m/kg]
    resistance_exponent : float or ndarray, shape (n,)
        :math:`m`; above 1 is allowed. [1]
    solids_density : float or ndarray, shape (n,)
        :math:`\rho_s`. [kg/m3]
    liquid_viscosity : float or ndarray, shape (n,)
        :math:`\mu`. [Pa.s]
    creep_share : float or ndarray, shape (n,)
        Share of the strain that creeps; :math:`B`; 0 to below 1. [1]
    creep_rate : float or ndarray, shape (n,)
        Its rate; :math:`\eta`. [1/s]
    creep_onset : float or ndarray, shape (n,)
        Stress from which strain may creep. [Pa]

    Returns
    -------
    law : LayerLaw
        The same law. [object]

    References
    ----------
    .. [1] OWN, docs/theory/press.md.
    """
    power = yield_exponent * (1.0 - resistance_exponent)
    for pole in (0.0, -1.0, -2.0):  # the integral is a logarithm there; stay beside it
        near = jnp.abs(power - pole) < _TINY_EXPONENT
        power = jnp.where(near, pole + _TINY_EXPONENT, power)
    onset = jnp.asarray(creep_onset)
    flow = local_resistance * liquid_viscosity * solids_density
    return LayerLaw(
        1.0 / jnp.asarray(gel_point) - 1.0,
        jnp.asarray(yield_scale),
        jnp.asarray(yield_exponent),
        jnp.asarray(power),
        jnp.asarray(yield_scale * yield_exponent / flow),
        jnp.asarray(liquid_viscosity),
        jnp.asarray(creep_share),
        jnp.asarray(creep_rate),
        (1.0 + onset / yield_scale) ** (-1.0 / yield_exponent) / jnp.asarray(gel_point) - 1.0,
    )


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
    return LayerState(layer, layer, layer, layer, creep, creep, face)


def _flux_variable(law: LayerLaw, log_ratio: Array, hindered: bool) -> tuple[Array, Array]:
    """Kirchhoff variable S(ln x) and dS/d ln x; straight and nearly flat below the gel point."""
    power = law.flux_power
    above = log_ratio > 0.0
    held = jnp.where(above, log_ratio, 0.0)
    growth = jnp.exp(power * held)
    value = (growth - 1.0) / power
    slope = growth
    if hindered:
        gel = 1.0 / (1.0 + law.gel_void)
        ratio = jnp.exp(held)
        value = value - 2.0 * gel * (growth * ratio - 1.0) / (power + 1.0)
        value = value + gel**2 * (growth * ratio**2 - 1.0) / (power + 2.0)
        slope = growth * (1.0 - gel * ratio) ** 2
    return jnp.where(above, value, _SLOPE * log_ratio), jnp.where(above, slope, _SLOPE)


def _face_stress(law: LayerLaw, face: Array) -> tuple[Array, Array]:
    """Solid stress at the drained face over p_a n, and its slope, from ln x there."""
    above = face > 0.0
    growth = jnp.exp(law.power * jnp.where(above, face, 0.0))
    stress = jnp.where(above, (growth - 1.0) / law.power, _SLOPE * face)
    return stress, jnp.where(above, growth, _SLOPE)


def face_state(
    law: LayerLaw,
    face: Array,
    cell_flux_variable: Array,
    cell_log_ratio: Array,
    half_conductance: Array,
    pressure: Array,
    resistance: Array,
    iterations: int,
    *,
    hindered: bool = False,
) -> tuple[Array, Array, Array]:
    r"""Drained face: stress there, flux out, and how the flux falls with the first cell.

    .. math:: P - p_s(l) = \mu R_m q,\qquad q = G\,[S(l) - S_1]

    Parameters
    ----------
    law : LayerLaw
        Sludge law. [object]
    face : Array, shape (samples,)
        First guess of :math:`l = \ln(\phi/\phi_g)` at the face. [1]
    cell_flux_variable : Array, shape (samples,)
        Kirchhoff variable of the first cell; :math:`S_1`. [1]
    cell_log_ratio : Array, shape (samples,)
        :math:`l` of the first cell. [1]
    half_conductance : Array, shape (samples,)
        Conductance of the half cell; :math:`G`. [m/s]
    pressure : Array, shape (samples,)
        Stress on the layer; :math:`P`. [Pa]
    resistance : Array, shape (samples,)
        Medium resistance; :math:`R_m`; >= 0. [1/m]
    iterations : int
        Newton steps. [1]
    hindered : bool
        Resistance with the factor 1/(1 - phi)^2. [1]

    Returns
    -------
    face : Array, shape (samples,)
        :math:`l` at the face. [1]
    flux : Array, shape (samples,)
        Filtrate flux. [m/s]
    slope : Array, shape (samples,)
        :math:`-\partial q/\partial S_1`. [m/s]

    Notes
    -----
    The root lies between the first cell and the equilibrium at P, and every step stays there.

    References
    ----------
    .. [1] OWN, docs/theory/press.md, section on the drained face.
    """
    unit = law.scale * law.power
    limit = jnp.log1p(jnp.maximum(pressure, 0.0) / law.scale) / law.power
    low, high = jnp.minimum(limit, cell_log_ratio), jnp.maximum(limit, cell_log_ratio)
    medium = law.viscosity * resistance * half_conductance
    for _ in range(iterations):
        face = jnp.clip(face, low, high)
        stress, stress_slope = _face_stress(law, face)
        value, value_slope = _flux_variable(law, face, hindered)
        residual = pressure - unit * stress - medium * (value - cell_flux_variable)
        face = face + residual / (unit * stress_slope + medium * value_slope)
    face = jnp.clip(face, low, high)
    _, stress_slope = _face_stress(law, face)
    value, value_slope = _flux_variable(law, face, hindered)
    flux = half_conductance * (value - cell_flux_variable)
    slope = half_conductance / (1.0 + medium * value_slope / (unit * stress_slope))
    return face, flux, slope


def _tridiagonal(lower: Array, diagonal: Array, upper: Array, *rights: Array) -> list[Array]:
    """Sweep down and up over the cells; no pivoting, the matrix is diagonally dominant."""
    zero = jnp.zeros_like(diagonal[0])

    def down(carry: tuple[Array, ...], row: tuple[Array, ...]) -> Sweep:
        low, diag, up, *rhs = row
        inverse = 1.0 / (diag - low * carry[0])
        reduced = ((r - low * c) * inverse for r, c in zip(rhs, carry[1:], strict=True))
        out = (up * inverse, *reduced)
        return out, out

    def back(above: tuple[Array, ...], row: tuple[Array, ...]) -> Sweep:
        value = tuple(r - row[0] * x for r, x in zip(row[1:], above, strict=True))
        return value, value

    reduced: tuple[Array, ...]
    solution: tuple[Array, ...]
    _, reduced = lax.scan(down, (zero,) * (1 + len(rights)), (lower, diagonal, upper, *rights))
    _, solution = lax.scan(back, (zero,) * len(rights), reduced, reverse=True)
    return list(solution)


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


def layer_step(
    law: LayerLaw,
    grid: Mesh,
    state: LayerState,
    scale: StepScale,
    pressure: Array,
    resistance: Array,
    *,
    iterations: int,
    face_iterations: int,
    creeps: bool,
    remixes: bool,
    hindered: bool = False,
) -> tuple[LayerState, Array]:
    r"""One backward-difference step of filtration and consolidation in one.

    .. math:: \frac{de}{dt} = \frac{1}{\omega}\frac{\partial}{\partial\xi}
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
    iterations : int
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
    old, before = state.void, state.void_before
    history = now * old + then * before
    creep_history = now * state.creep + then * state.creep_before
    mean_old = _mean(grid, old)
    width = grid.width[:, None]
    limit = jnp.log1p(jnp.maximum(pressure, 0.0) / law.scale) / law.power
    floor = jnp.minimum((1.0 + law.gel_void) * jnp.exp(-limit) - 1.0, state.stress_void.min(0))
    ceiling = state.stress_void.max(0)
    kappa = scale.drain * law.conductance * scale.solids_inverse
    half = law.conductance * scale.solids_inverse / grid.first
    links = kappa * grid.gap_inverse[:, None]

    def newton(carry: tuple[Array, ...], _: None) -> tuple[tuple[Array, ...], None]:
        guess = jnp.clip(carry[0], floor, ceiling)
        log_ratio = jnp.log((1.0 + law.gel_void) / (1.0 + guess))
        value, slope = _flux_variable(law, log_ratio, hindered)
        slope = slope / (1.0 + guess)
        face, flux, face_slope = face_state(
            law,
            carry[1],
            value[0],
            log_ratio[0],
            half,
            pressure,
            resistance,
            face_iterations,
            hindered=hindered,
        )
        total, storage = guess, jnp.ones_like(guess)
        if creeps:
            total, storage = _creep_terms(law, guess, creep_history, scale)[1:]
        flow = links * (value[:-1] - value[1:])
        lead = scale.lead + scale.remix
        balance = _inflow(flow, scale.drain * flux) / width
        residual = history - lead * total + scale.remix * mean_old + balance
        matrix = _matrix(lead * storage, links, slope, scale.drain * face_slope, width)
        if remixes:
            pull = jnp.broadcast_to(scale.remix, residual.shape)
            change, answer = _tridiagonal(*matrix, residual, pull)
            off = _mean(grid, total + storage * change) - mean_old
            change = change + answer * off / (1.0 - _mean(grid, storage * answer))
        else:
            (change,) = _tridiagonal(*matrix, residual)
        flux = flux + face_slope * slope[0] * change[0]
        return (guess + change, face, flux, total + storage * change), None

    ahead = 2.0 * state.stress_void - state.stress_void_before
    carry: tuple[Array, ...] = (ahead, state.face, jnp.zeros_like(state.face), ahead)
    if iterations == 1:
        carry = newton(carry, None)[0]
    else:
        carry = lax.scan(newton, carry, None, length=iterations)[0]
    new, face, flux, total = carry
    creep = state.creep
    if creeps:
        creep, _, _ = _creep_terms(law, new, creep_history, scale)
    inside = jnp.clip(new, floor, ceiling)
    following = LayerState(inside, state.stress_void, total, old, creep, state.creep, face)
    return following, flux


def _inflow(flow: Array, out: Array) -> Array:
    """Water into each cell less water out of it; nothing passes the closed end."""
    below = jnp.concatenate([out[None], flow])
    above = jnp.concatenate([flow, jnp.zeros_like(flow[:1])])
    return above - below


def _matrix(
    storage: Array, links: Array, slope: Array, face_link: Array, width: NDArray[np.float64]
) -> tuple[Array, Array, Array]:
    """Lower, main and upper diagonal of the linearised balance."""
    face = face_link[None]
    zero = jnp.zeros_like(face)
    own = jnp.concatenate([face, links]) + jnp.concatenate([links, zero])
    lower = jnp.concatenate([zero, -links * slope[:-1]]) / width
    upper = jnp.concatenate([-links * slope[1:], zero]) / width
    return lower, storage + own * slope / width, upper


def _mean(grid: Mesh, cells: Array) -> Array:
    return jnp.tensordot(jnp.asarray(grid.width), cells, axes=1)
