"""Machine parameters that trial runs have narrowed, and how the next study draws from them.

Each parameter lives on the line of its prior (``log`` or ``logit``). The posterior is carried as
its draws: what runs learn is bent by the limits they met, and a normal about it would lose that.
It may carry the scores of the sludge law it was fitted with: on that very law both are drawn
together, on any other sludge the machine's part alone is used.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from cakewright.errors import OutOfRangeError
from cakewright.jobs.path_error import Seen
from cakewright.machines.interface import Kind
from cakewright.machines.press_priors import parameter_priors
from cakewright.quantities import Basis, FloatArray, Mark
from cakewright.sludge.law import SludgeLaw

__all__ = [
    "BUILT_ON",
    "FittedPress",
    "Score",
    "chosen_draws",
    "drawn_parameters",
    "from_line",
    "joint_normals",
    "joint_places",
    "law_key",
    "root_of",
    "to_line",
    "to_line_all",
]

BUILT_ON = "built on"  # begins the note of parameters whose prior was not the class's

_JITTER = 1e-9

Score = Callable[[str], FloatArray]


def law_key(law: SludgeLaw) -> str:
    """Short fingerprint of a law: the same tests give the same one."""
    rounded = np.round(np.concatenate([law.centre, law.covariance.ravel()]), 6) + 0.0
    return hashlib.sha256(rounded.tobytes()).hexdigest()[:16]


@dataclass(frozen=True, slots=True, eq=False)
class FittedPress:
    """Posterior of one machine: its parameters first, then the law's scores if it carries them.

    ``covariance`` covers ``names`` and, where ``law`` is not empty, the law's unit scores; it is
    the start of a next trial. Studies take ``draws``, one row each, and the errors ``seen``; where
    there are none (a fleet, a file of format 1) a normal about the mean stands for them.
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
    draws: FloatArray = field(default_factory=lambda: np.empty((0, 0)))
    seen: Seen | None = None

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
        if self.draws.size and self.draws.shape[1] != size:
            raise OutOfRangeError(
                f"machine parameters: got draws of {self.draws.shape[1]} columns; allowed: {size}, "
                "one per parameter and law score"
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


def score_keys(fitted: FittedPress, *, with_law: bool) -> tuple[str, ...]:
    """Names of the scores that choose among the posterior's draws."""
    count = fitted.mean.size - len(fitted.names) if with_law else 0
    return (*(f"~press.{n}" for n in fitted.names), *(f"~law.{i}" for i in range(count)))


def chosen_draws(fitted: FittedPress, score: Score, *, with_law: bool) -> NDArray[np.int_]:
    """Draw of the posterior for every sample, -1 (their mean) for the point case.

    Samples and draws are paired so that draws go with the scores as far as they can: inputs keep
    their share of the spread, and every draw is used equally often.
    """
    keys = score_keys(fitted, with_law=with_law)
    unit = np.ascontiguousarray(np.stack([score(key) for key in keys], axis=1))
    return np.array(_paired(fitted, unit.tobytes(), unit.shape[0]))


@lru_cache(maxsize=16)
def _paired(fitted: FittedPress, scores: bytes, samples: int) -> tuple[int, ...]:
    from scipy.optimize import linear_sum_assignment

    unit = np.frombuffer(scores).reshape(samples, -1)
    wide = unit.shape[1]
    draws, block = fitted.draws[:, :wide], fitted.covariance[:wide, :wide]
    white = np.linalg.solve(root_of(block + _JITTER * np.eye(wide)), (draws - draws.mean(axis=0)).T)
    found = np.full(samples, -1)
    size = len(draws)
    for first in range(1, samples, size):
        rows = unit[first : first + size]
        found[first : first + len(rows)] = linear_sum_assignment(-rows @ white)[1]
    return tuple(found.tolist())


def joint_places(fitted: FittedPress, score: Score, *, with_law: bool) -> FloatArray:
    """Parameters on their lines, and the law's scores behind them where asked for, over samples."""
    wide = fitted.mean.size if with_law else len(fitted.names)
    mean = fitted.mean[:wide]
    if fitted.draws.size:
        rows = np.concatenate([fitted.draws[:, :wide], mean[None, :]])
        return np.asarray(rows[chosen_draws(fitted, score, with_law=with_law)])
    unit = np.stack([score(key) for key in score_keys(fitted, with_law=with_law)], axis=1)
    return np.asarray(mean + unit @ root_of(fitted.covariance[:wide, :wide]).T)


def joint_normals(fitted: FittedPress, score: Score) -> tuple[FloatArray, FloatArray]:
    """Machine parameters on their lines and law scores, over samples, drawn together."""
    place, split = joint_places(fitted, score, with_law=True), len(fitted.names)
    return place[:, :split], place[:, split:]


def drawn_parameters(
    kind: Kind, score: Score, fitted: FittedPress | None, law: SludgeLaw | None
) -> dict[str, FloatArray]:
    """Parameters of one kind over samples: the posterior where there is one, else the prior."""
    priors = parameter_priors(kind)
    found = {name: prior.at(score(f"~press.{name}")) for name, prior in priors.items()}
    if fitted is None or fitted.machine is not kind:
        return found
    places = joint_places(fitted, score, with_law=law is not None and fitted.knows(law))
    for column, name in enumerate(fitted.names):
        found[name] = from_line(places[:, column], priors[name].line)
    return found
