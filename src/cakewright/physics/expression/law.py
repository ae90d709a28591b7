"""Sludge law in the variables of the pressed layer: JAX, float64, one number per sample."""

from __future__ import annotations

from typing import NamedTuple, TypeAlias

import numpy as np
from jax import Array
from numpy.typing import NDArray

from cakewright.physics.expression.device import jnp

__all__ = ["LAW_NAMES", "SLOPE", "LayerLaw", "flux_variable", "kernel_law"]

Value: TypeAlias = Array | NDArray[np.float64] | float

SLOPE = 1e-9  # stress slope kept below the gel point, relative to the slope just above it
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


def flux_variable(law: LayerLaw, log_ratio: Array, hindered: bool) -> tuple[Array, Array]:
    r"""Kirchhoff variable and its slope; straight and nearly flat below the gel point.

    .. math:: S(l) = \int_0^l e^{a\lambda}\,d\lambda

    Parameters
    ----------
    law : LayerLaw
        Sludge law. [object]
    log_ratio : Array, shape (samples,)
        :math:`l = \ln(\phi/\phi_g)`. [1]
    hindered : bool
        Resistance with the factor 1/(1 - phi)^2. [1]

    Returns
    -------
    value : Array, shape (samples,)
        :math:`S`. [1]
    slope : Array, shape (samples,)
        :math:`dS/dl`. [1]

    References
    ----------
    .. [1] OWN, docs/theory/press.md.
    """
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
    return jnp.where(above, value, SLOPE * log_ratio), jnp.where(above, slope, SLOPE)
