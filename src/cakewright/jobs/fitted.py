"""Machine parameters that trial runs have narrowed, and how the next study draws from them.

Each parameter lives on the line of its prior (``log`` or ``logit``); there the posterior is a
normal distribution. It may carry the scores of the sludge law it was fitted with: on that very
law both are drawn together, on any other sludge the machine's part alone is used.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from cakewright.errors import OutOfRangeError
from cakewright.machines.interface import Kind
from cakewright.machines.press_priors import parameter_priors
from cakewright.quantities import Basis, FloatArray, Mark
from cakewright.sludge.law import SludgeLaw

__all__ = [
    "BUILT_ON",
    "FittedPress",
    "drawn_parameters",
    "from_line",
    "joint_normals",
    "law_key",
    "root_of",
    "to_line",
    "to_line_all",
]

BUILT_ON = "built on"  # begins the note of parameters whose prior was not the class's

Score = Callable[[str], FloatArray]


def law_key(law: SludgeLaw) -> str:
    """Short fingerprint of a law: the same tests give the same one."""
    rounded = np.round(np.concatenate([law.centre, law.covariance.ravel()]), 6) + 0.0
    return hashlib.sha256(rounded.tobytes()).hexdigest()[:16]


@dataclass(frozen=True, slots=True, eq=False)
class FittedPress:
    """Posterior of one machine: its parameters first, then the law's scores if it carries them.

    ``covariance`` covers ``names`` and, where ``law`` is not empty, the law's unit scores.
    """

    machine: Kind
    frame: str
    names: tuple[str, ...]
    mean: FloatArray
    covariance: FloatArray
    runs: int
    date: str
    sludge: str
    law: str = ""
    basis: Basis = Basis.MEASURED
    mark: Mark = Mark.NONE
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        known = parameter_priors(self.machine)
        unknown = [name for name in self.names if name not in known]
        if unknown:
            raise OutOfRangeError(
                f"machine parameters: got {unknown}; allowed for a {self.machine.value}: "
                f"{list(known)}"
            )
        size = self.mean.size
        if self.covariance.shape != (size, size) or size < len(self.names):
            raise OutOfRangeError(
                f"machine parameters: got {size} means and a covariance of "
                f"{self.covariance.shape}; allowed: one row per parameter"
            )
        values = np.linalg.eigvalsh((self.covariance + self.covariance.T) / 2)
        if not np.all(np.isfinite(values)) or values[0] < -1e-9 * max(float(values[-1]), 1.0):
            raise OutOfRangeError(
                f"machine parameters: the covariance is not one (eigenvalue {values[0]:.3g}); "
                "write the file again with the calibrate job"
            )

    def knows(self, law: SludgeLaw) -> bool:
        """True when it was fitted with this very law and carries its scores."""
        return bool(self.law) and self.law == law_key(law) and self.mean.size > len(self.names)


def to_line(value: float, line: str) -> float:
    """Parameter on the line where its spread is normal."""
    return float(np.log(value) if line == "log" else np.log(value / (1.0 - value)))


def to_line_all(values: FloatArray, line: str) -> FloatArray:
    """Parameters on that line."""
    return np.asarray(np.log(values) if line == "log" else np.log(values / (1.0 - values)))


def from_line(place: FloatArray | float, line: str) -> FloatArray:
    """Parameter back from that line."""
    x = np.asarray(place, dtype=float)
    return np.asarray(np.exp(x) if line == "log" else 1.0 / (1.0 + np.exp(-x)))


def root_of(covariance: FloatArray) -> FloatArray:
    """Symmetric root of a covariance."""
    values, vectors = np.linalg.eigh((covariance + covariance.T) / 2)
    return np.asarray((vectors * np.sqrt(np.maximum(values, 0.0))) @ vectors.T)


def joint_normals(fitted: FittedPress, score: Score) -> tuple[FloatArray, FloatArray]:
    """Machine parameters on their lines and law scores, over samples, drawn together."""
    count = fitted.mean.size - len(fitted.names)
    keys = [f"~press.{name}" for name in fitted.names] + [f"~law.{i}" for i in range(count)]
    unit = np.stack([score(key) for key in keys], axis=1)
    place = fitted.mean + unit @ root_of(fitted.covariance).T
    split = len(fitted.names)
    return place[:, :split], place[:, split:]


def drawn_parameters(
    kind: Kind, score: Score, fitted: FittedPress | None, law: SludgeLaw | None
) -> dict[str, FloatArray]:
    """Parameters of one kind over samples: the posterior where there is one, else the prior."""
    priors = parameter_priors(kind)
    found = {name: prior.at(score(f"~press.{name}")) for name, prior in priors.items()}
    if fitted is None or fitted.machine is not kind:
        return found
    if law is not None and fitted.knows(law):
        places = joint_normals(fitted, score)[0]
    else:
        split = len(fitted.names)
        unit = np.stack([score(f"~press.{name}") for name in fitted.names], axis=1)
        places = fitted.mean[:split] + unit @ root_of(fitted.covariance[:split, :split]).T
    for column, name in enumerate(fitted.names):
        found[name] = from_line(places[:, column], priors[name].line)
    return found
