"""The drained face of a pressed layer: stress there and flux out, through the medium."""

from __future__ import annotations

from jax import Array

from cakewright.physics.expression.device import jnp
from cakewright.physics.expression.law import SLOPE, LayerLaw, flux_variable

__all__ = ["face_state"]


def _face_stress(law: LayerLaw, face: Array) -> tuple[Array, Array]:
    """Solid stress at the drained face over p_a n, and its slope, from ln x there."""
    above = face > 0.0
    growth = jnp.exp(law.power * jnp.where(above, face, 0.0))
    stress = jnp.where(above, (growth - 1.0) / law.power, SLOPE * face)
    return stress, jnp.where(above, growth, SLOPE)


def face_state(
    law: LayerLaw,
    face: Array,
    cellflux_variable: Array,
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
    cellflux_variable : Array, shape (samples,)
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
        value, value_slope = flux_variable(law, face, hindered)
        residual = pressure - unit * stress - medium * (value - cellflux_variable)
        face = face + residual / (unit * stress_slope + medium * value_slope)
    face = jnp.clip(face, low, high)
    _, stress_slope = _face_stress(law, face)
    value, value_slope = flux_variable(law, face, hindered)
    flux = half_conductance * (value - cellflux_variable)
    slope = half_conductance / (1.0 + medium * value_slope / (unit * stress_slope))
    return face, flux, slope
