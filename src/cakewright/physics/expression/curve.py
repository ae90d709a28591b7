"""Filtration and consolidation of one layer under a given stress, for arrays of samples."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from cakewright.errors import OutOfRangeError
from cakewright.physics._checked import Floats, checked
from cakewright.quantities import FloatArray

if TYPE_CHECKING:
    from cakewright.physics.expression.kernel import LayerState

__all__ = ["ExpressionCurve", "expression_curve"]

_SIZES = (1, 16, 128, 1024)


@dataclass(frozen=True, slots=True, eq=False)
class ExpressionCurve:
    """Answer of one stage of pressing; n samples, k times, N cells.

    ``filtrate`` and ``flux`` are per pressed area (all drained faces together) and count from the
    start of this stage. ``material`` runs from 0 at the drained face to 1 at the closed end or the
    middle. Hand the whole curve to ``start`` of the next stage to go on from here.
    """

    time: FloatArray
    filtrate: FloatArray
    flux: FloatArray
    solidosity: FloatArray
    material: FloatArray
    profile: FloatArray
    faces: int
    state: LayerState


def expression_curve(
    time: FloatArray,
    pressure: Floats,
    solids_volume: Floats,
    initial_solidosity: Floats,
    gel_point: Floats,
    yield_scale: Floats,
    yield_exponent: Floats,
    local_resistance: Floats,
    resistance_exponent: Floats,
    solids_density: Floats,
    liquid_viscosity: Floats,
    medium_resistance: Floats = 0.0,
    *,
    medium_growth: Floats = 0.0,
    remix_rate: Floats = 0.0,
    creep_share: Floats = 0.0,
    creep_rate: Floats = 0.0,
    creep_onset: Floats = 0.0,
    faces: int = 1,
    hindered: bool = False,
    start: ExpressionCurve | None = None,
    cells: int = 64,
    steps: int = 160,
) -> ExpressionCurve:
    r"""Filtrate, solidosity and profile of a layer under stress: filtration, then consolidation.

    .. math:: \frac{\partial e}{\partial t} = \frac{1}{\omega^2}\frac{\partial}{\partial\xi}
        \left[\frac{1}{\mu\rho_s\alpha(p_s)}\frac{\partial p_l}{\partial\xi}\right]
        + \chi f_r(\bar e - e),\quad p_l = P - p_s,\; p_s = P_y(\phi)

    Parameters
    ----------
    time : ndarray, shape (k,)
        Times wanted, rising from 0 or later; the last one ends the stage. [s]
    pressure : float or ndarray, shape (n,) or (n, k)
        Stress on the layer; constant, or at ``time`` with straight lines between; :math:`P`;
        > 0. [Pa]
    solids_volume : float or ndarray, shape (n,)
        Solids volume per pressed area; :math:`\omega_0`; > 0. [m]
    initial_solidosity : float or ndarray, shape (n,)
        Solidosity at the start, above or below the gel point; :math:`\phi_0`; 0 to 1. [1]
    gel_point : float or ndarray, shape (n,)
        Gel point; :math:`\phi_g`; 0 to 1. [1]
    yield_scale : float or ndarray, shape (n,)
        Stress scale; :math:`p_a`; > 0. [Pa]
    yield_exponent : float or ndarray, shape (n,)
        Exponent of the yield stress; :math:`n`; > 0. [1]
    local_resistance : float or ndarray, shape (n,)
        Local resistance at no stress; :math:`\alpha_0`; > 0. [m/kg]
    resistance_exponent : float or ndarray, shape (n,)
        Exponent of the local resistance; :math:`m`; above 1 is allowed. [1]
    solids_density : float or ndarray, shape (n,)
        Density of the dry solids; :math:`\rho_s`; > 0. [kg/m3]
    liquid_viscosity : float or ndarray, shape (n,)
        Viscosity of the filtrate; :math:`\mu`; > 0. [Pa.s]
    medium_resistance : float or ndarray, shape (n,)
        Resistance of the drained face; :math:`R_m`; >= 0. [1/m]
    medium_growth : float or ndarray, shape (n,)
        Growth of it per filtrate through one face; >= 0. [1/m2]
    remix_rate : float or ndarray, shape (n,)
        Share renewed times renewals per time; :math:`\chi f_r`; 0 is a still cake. [1/s]
    creep_share : float or ndarray, shape (n,)
        Share of the strain that creeps; :math:`B`; 0 to below 1. [1]
    creep_rate : float or ndarray, shape (n,)
        Rate of the creep; :math:`\eta`; >= 0. [1/s]
    creep_onset : float or ndarray, shape (n,)
        Solid stress from which strain may creep; >= 0. [Pa]
    faces : int
        Drained faces, 1 or 2. [1]
    hindered : bool
        True multiplies the local resistance by :math:`(1-\phi)^{-2}`, which turns the power law
        into a hindered settling function :math:`R = r\,\phi^{nm}`. [object]
    start : ExpressionCurve or None
        End of the stage before, instead of an even layer of ``initial_solidosity``. [object]
    cells : int
        Cells over the thickness (over half of it with two faces); >= 4. [1]
    steps : int
        Time steps of the stage; >= 4. [1]

    Returns
    -------
    curve : ExpressionCurve
        Filtrate, flux, mean solidosity, profile at the end. [object]

    Raises
    ------
    OutOfRangeError
        If a number lies where the equations have no meaning.

    Notes
    -----
    Second order in cells and in time; water is conserved to rounding. Leaves out gravity, friction
    on the wall and the permeability lost by creep.

    References
    ----------
    .. [1] T39, compressional rheology; OWN discretisation, docs/theory/press.md.

    Examples
    --------
    >>> curve = expression_curve(
    ...     [60.0, 3600.0], 1e5, 2e-4, 0.02, 0.02, 10.0, 4.0, 1e10, 0.5, 1500.0, 1e-3)
    >>> round(float(curve.solidosity[0, -1]), 4)
    0.2
    """
    times = _times(time)
    given = _given(locals())
    load, number = _load(pressure, times, steps, given)
    parameters = {name: np.broadcast_to(value, (number,)) for name, value in given.items()}
    if faces not in (1, 2):
        raise OutOfRangeError(f"drained faces: got {faces}; allowed: 1 or 2")
    if cells < 4 or steps < 4:
        raise OutOfRangeError(f"cells and steps: got {cells} and {steps}; allowed: 4 or more")
    rows, state = _run(parameters, load, times[-1], faces, hindered, start, cells, steps)
    return _read(rows, state, times, faces, cells)


_RANGES: dict[str, tuple[str, float, float, bool]] = {
    "solids_volume": ("m", 0.0, np.inf, True),
    "initial_solidosity": ("1", 0.0, 1.0, True),
    "gel_point": ("1", 0.0, 1.0, True),
    "yield_scale": ("Pa", 0.0, np.inf, True),
    "yield_exponent": ("1", 0.0, np.inf, True),
    "local_resistance": ("m/kg", 0.0, np.inf, True),
    "resistance_exponent": ("1", 0.0, np.inf, False),
    "solids_density": ("kg/m3", 0.0, np.inf, True),
    "liquid_viscosity": ("Pa.s", 0.0, np.inf, True),
    "medium_resistance": ("1/m", 0.0, np.inf, False),
    "medium_growth": ("1/m2", 0.0, np.inf, False),
    "remix_rate": ("1/s", 0.0, np.inf, False),
    "creep_share": ("1", 0.0, 0.999, False),
    "creep_rate": ("1/s", 0.0, np.inf, False),
    "creep_onset": ("Pa", 0.0, np.inf, False),
}


def _given(values: dict[str, Any]) -> dict[str, FloatArray]:
    found: dict[str, FloatArray] = {}
    for name, (unit, low, high, above) in _RANGES.items():
        words = name.replace("_", " ")
        found[name] = np.atleast_1d(checked(values[name], words, unit, low, high, above=above))
    return found


def _times(time: FloatArray) -> FloatArray:
    times = np.atleast_1d(checked(np.asarray(time, dtype=float), "time", "s", 0.0))
    if times.ndim != 1 or np.any(np.diff(times) <= 0.0) or times[-1] <= 0.0:
        raise OutOfRangeError(
            f"time: got {times!r}; allowed: one row rising strictly to an end above 0 s"
        )
    return times


def _load(
    pressure: Floats, times: FloatArray, steps: int, given: dict[str, FloatArray]
) -> tuple[FloatArray, int]:
    """Stress at the solver's own times, shape (steps, n), and the number of samples."""
    stress = np.atleast_1d(checked(pressure, "pressure", "Pa", 0.0, above=True))
    own = times[-1] * (np.arange(1, steps + 1) / steps) ** 2
    if stress.ndim == 2:
        if stress.shape[1] != times.size:
            raise OutOfRangeError(
                f"pressure: got {stress.shape[1]} columns for {times.size} times; allowed: as many"
            )
        stress = np.stack([np.interp(own, times, row) for row in stress])
    else:
        stress = np.broadcast_to(stress[:, None], (stress.size, steps))
    number = max([stress.shape[0], *(v.size for v in given.values())])
    return np.broadcast_to(stress, (number, steps)).T, number


def _run(
    parameters: dict[str, FloatArray],
    load: FloatArray,
    end: float,
    faces: int,
    hindered: bool,
    start: ExpressionCurve | None,
    cells: int,
    steps: int,
) -> tuple[tuple[FloatArray, ...], LayerState]:
    """Chunks of a few fixed sizes, so that few programs are ever compiled."""
    from cakewright.physics.expression import stage

    number = load.shape[1]
    size = next((s for s in _SIZES if s >= number), _SIZES[-1])
    settings = stage.Settings(
        cells=cells,
        steps=steps,
        iterations=4 if np.any(parameters["initial_solidosity"] < parameters["gel_point"]) else 2,
        creeps=bool(np.any(parameters["creep_share"] > 0.0)),
        remixes=bool(np.any(parameters["remix_rate"] > 0.0)),
        hindered=hindered,
    )
    pieces = []
    for first in range(0, number, size):
        take = np.minimum(np.arange(first, first + size), number - 1)
        piece = {name: value[take] for name, value in parameters.items()}
        before = None if start is None else stage.taken(start.state, take)
        if before is None:
            before = stage.at_rest(piece, load[0, take], faces, cells)
        pieces.append(stage.run_stage(piece, load[:, take], end, faces, before, settings))
    return stage.joined(pieces, number)


def _read(
    rows: tuple[FloatArray, ...],
    state: LayerState,
    times: FloatArray,
    faces: int,
    cells: int,
) -> ExpressionCurve:
    """Values at the times asked for; all curves are smooth in the square root of time."""
    from scipy.interpolate import PchipInterpolator

    from cakewright.physics.expression.kernel import mesh

    own = np.linspace(0.0, 1.0, rows[0].shape[0])
    at = np.sqrt(times / times[-1])
    filtrate, flux, void = (PchipInterpolator(own, row, axis=0)(at).T for row in rows)
    edges = np.concatenate([[0.0], np.cumsum(mesh(cells).width)])
    return ExpressionCurve(
        times,
        faces * filtrate,
        faces * flux,
        1.0 / (1.0 + void),
        0.5 * (edges[1:] + edges[:-1]),
        1.0 / (1.0 + np.asarray(state.void).T),
        faces,
        state,
    )
