"""A result: one quantity over all samples, with its basis."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cakewright.quantities.basis import Basis, Mark

__all__ = ["Band", "Figure", "FloatArray"]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Band:
    """The 10 %, 50 % and 90 % points of a result, in SI."""

    p10: float
    p50: float
    p90: float


@dataclass(frozen=True, slots=True, eq=False)
class Figure:
    """A result over samples, in SI; ``samples[0]`` is the study's point case.

    ``name`` is a house name: symbol, units and meaning are looked up there.
    NaN is never stored: where no answer exists ``samples`` is empty and ``note`` says why.
    """

    name: str
    samples: FloatArray
    basis: Basis
    mark: Mark = Mark.NONE
    source: str | None = None
    note: str = ""

    @property
    def exists(self) -> bool:
        """True when there is an answer."""
        return self.samples.size > 0

    @property
    def point(self) -> float:
        """The study's point case, in SI."""
        return float(self.samples[0])

    @property
    def band(self) -> Band:
        """10 %, 50 % and 90 % points of the samples (of the point alone if there is only one)."""
        drawn = self.samples[1:] if self.samples.size > 1 else self.samples
        low, middle, high = np.quantile(drawn, (0.1, 0.5, 0.9))
        return Band(float(low), float(middle), float(high))
