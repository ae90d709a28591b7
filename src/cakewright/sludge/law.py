"""The sludge law: its parameters with their joint uncertainty, and the file that carries it.

Each parameter lives on a line without limits (``log`` of a positive number, ``logit`` of a share);
there the uncertainty is a normal distribution with a covariance.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from cakewright.errors import OutOfRangeError, UnknownNameError
from cakewright.quantities import Basis, FloatArray, Mark

__all__ = [
    "LAW_PARAMETERS",
    "LawParameter",
    "SludgeLaw",
    "Space",
    "diagonal_law",
    "from_space",
    "to_space",
]


class Space(StrEnum):
    """The line on which a parameter's uncertainty is normal."""

    LOG = "log"
    LOGIT = "logit"


LAW_PARAMETERS: Mapping[str, Space] = {
    "solids_density": Space.LOG,
    "gel_point": Space.LOG,
    "yield_scale": Space.LOG,
    "yield_exponent": Space.LOG,
    "local_resistance": Space.LOG,
    "resistance_exponent": Space.LOG,
    "medium_resistance": Space.LOG,
    "optimum_dose": Space.LOG,
    "dose_curvature": Space.LOG,
    "dose_gain": Space.LOG,
    "fines_share": Space.LOGIT,
    "fines_curvature": Space.LOG,
    "creep_share": Space.LOGIT,
    "creep_rate": Space.LOG,
}


def to_space(value: float, space: Space) -> float:
    """Parameter on its line.

    Raises
    ------
    OutOfRangeError
        If the value lies outside what the parameter can be.
    """
    top = np.inf if space is Space.LOG else 1.0
    if not 0.0 < value < top:
        limit = "above 0" if space is Space.LOG else "between 0 and 1"
        raise OutOfRangeError(f"law parameter: got {value:g}; allowed: {limit}; check its unit")
    return float(np.log(value) if space is Space.LOG else np.log(value / (1.0 - value)))


def from_space(position: FloatArray | float, space: Space) -> FloatArray:
    """Parameter back from its line."""
    x = np.asarray(position, dtype=float)
    return np.asarray(np.exp(x) if space is Space.LOG else 1.0 / (1.0 + np.exp(-x)))


@dataclass(frozen=True, slots=True)
class LawParameter:
    """One parameter: most likely value in SI, spread on its line, and where it is from.

    ``learnt`` is the share of the prior's variance that the tests took away (0 to 1).
    """

    name: str
    value: float
    sd: float
    basis: Basis
    source: str
    mark: Mark = Mark.NONE
    note: str = ""
    learnt: float = 0.0

    @property
    def space(self) -> Space:
        """The line its spread lives on."""
        return LAW_PARAMETERS[self.name]

    def quantile(self, z: float) -> float:
        """Value ``z`` standard deviations along its line (z = -1.2816 is the 10 % point)."""
        return float(from_space(to_space(self.value, self.space) + z * self.sd, self.space))


@dataclass(frozen=True, slots=True, eq=False)
class SludgeLaw:
    """Parameters in the order of `LAW_PARAMETERS` with their covariance on their lines.

    ``dose_low`` and ``dose_high`` bound the doses that were tested [kg/kg]; both 0 when none was.
    """

    sludge: str
    sludge_class: str
    parameters: tuple[LawParameter, ...]
    covariance: FloatArray
    dose_low: float = 0.0
    dose_high: float = 0.0
    polymer: str = ""
    tests: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    invented: bool = False

    def __post_init__(self) -> None:
        names = tuple(p.name for p in self.parameters)
        if names != tuple(LAW_PARAMETERS):
            odd = sorted(set(names) ^ set(LAW_PARAMETERS))
            raise OutOfRangeError(
                f"sludge law of {self.sludge!r}: parameters missing, unknown or out of order: "
                f"{odd or names}; allowed: {list(LAW_PARAMETERS)}"
            )
        size = len(names)
        if self.covariance.shape != (size, size) or not np.all(np.isfinite(self.covariance)):
            raise OutOfRangeError(
                f"sludge law of {self.sludge!r}: got a covariance of shape "
                f"{self.covariance.shape}; allowed: {size} by {size}, all finite"
            )
        lowest = float(np.linalg.eigvalsh(self.covariance / 2 + self.covariance.T / 2)[0])
        if lowest < -1e-9 * float(np.trace(self.covariance)) - 1e-15:
            raise OutOfRangeError(
                f"sludge law of {self.sludge!r}: the covariance is not one (eigenvalue "
                f"{lowest:.3g} below zero); write it again with the bench job"
            )

    def parameter(self, name: str) -> LawParameter:
        """One parameter by its house name.

        Raises
        ------
        UnknownNameError
            If the law has no such parameter.
        """
        for parameter in self.parameters:
            if parameter.name == name:
                return parameter
        raise UnknownNameError(f"{name!r} is no law parameter; those are {list(LAW_PARAMETERS)}")

    def value(self, name: str) -> float:
        """Most likely value of one parameter, SI."""
        return self.parameter(name).value

    @property
    def centre(self) -> FloatArray:
        """Most likely values, each on its line."""
        return np.array([to_space(p.value, p.space) for p in self.parameters])

    def at_normals(self, normals: FloatArray) -> dict[str, FloatArray]:
        """Parameters at independent unit normals, shape (n, number of parameters)."""
        unit = np.atleast_2d(np.asarray(normals, dtype=float))
        if unit.shape[1] != len(self.parameters):
            raise OutOfRangeError(
                f"sludge law: got {unit.shape[1]} normals per sample; "
                f"allowed: {len(self.parameters)}, one per parameter"
            )
        lines = self.centre + unit @ _root(self.covariance).T
        return {p.name: from_space(lines[:, i], p.space) for i, p in enumerate(self.parameters)}

    def untried(self, dose: FloatArray | float) -> NDArray[np.bool_]:
        """Whether a dose [kg/kg] lies outside the tested ones; no where none was tested."""
        given = np.asarray(dose, dtype=float)
        tested = self.dose_high > self.dose_low
        return np.asarray(tested & ((given < self.dose_low) | (given > self.dose_high)))

    def sample(self, count: int, rng: np.random.Generator) -> dict[str, FloatArray]:
        """``count`` samples; sample 0 is the most likely law, the rest are drawn."""
        normals = rng.standard_normal((count, len(self.parameters)))
        normals[0] = 0.0
        return self.at_normals(normals)


def _root(covariance: FloatArray) -> FloatArray:
    """Symmetric square root: unlike a triangular one it also takes a flat direction."""
    values, vectors = np.linalg.eigh((covariance + covariance.T) / 2)
    return np.asarray((vectors * np.sqrt(np.maximum(values, 0.0))) @ vectors.T)


def diagonal_law(
    sludge: str,
    sludge_class: str,
    parameters: Sequence[LawParameter],
    *,
    notes: tuple[str, ...] = (),
) -> SludgeLaw:
    """A law whose parameters are independent (a prior)."""
    ordered = {p.name: p for p in parameters}
    missing = [name for name in LAW_PARAMETERS if name not in ordered]
    if missing:
        raise OutOfRangeError(f"sludge law of {sludge!r}: no value for {missing}")
    rows = tuple(ordered[name] for name in LAW_PARAMETERS)
    spread = np.array([p.sd for p in rows])
    return SludgeLaw(sludge, sludge_class, rows, np.diag(spread**2), notes=notes)
