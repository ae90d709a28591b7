"""What every test's fit hands on: estimates, warnings, a curve to draw, clues for the law."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

import numpy as np

from cakewright.errors import UnknownNameError
from cakewright.quantities import CalculationLine, FloatArray

__all__ = ["Axis", "Clue", "Clues", "Curve", "Estimate", "Learns", "TestFit"]


class Learns(StrEnum):
    """What a clue says something about."""

    SOLIDS_DENSITY = "density of dry solids"
    RESISTANCE = "average specific resistance"
    MEDIUM = "medium resistance"
    CAKE_SOLIDS = "solids of a pressed cake"
    CONSOLIDATION = "consolidation coefficient"
    CREEP_SHARE = "creep share"
    CREEP_RATE = "creep rate"
    OPTIMUM_DOSE = "optimum dose"
    DOSE_CURVATURE = "dose curvature"
    DOSE_GAIN = "gain by conditioning"
    FINES = "fines"
    FINES_CURVATURE = "fines curvature"


@dataclass(frozen=True, slots=True)
class Estimate:
    """One fitted quantity in SI with its 95 % interval; ``name`` is a house name."""

    name: str
    value: float
    low: float
    high: float
    note: str = ""

    @property
    def log_sd(self) -> float:
        """Standard deviation of the logarithm that the interval amounts to."""
        if self.value <= 0 or self.high <= 0:
            return float("inf")
        low = max(self.low, self.value * self.value / self.high, 1e-300)
        return float(np.log(self.high / low) / (2 * 1.959964))


@dataclass(frozen=True, slots=True)
class Axis:
    """One axis: words, symbol, SI unit and the unit to show."""

    label: str
    unit: str
    shown: str
    log: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Curve:
    """Readings and fit to draw, SI; ``used`` False marks what was left out and ``reasons`` why."""

    key: str
    title: str
    x_axis: Axis
    y_axis: Axis
    x: FloatArray
    y: FloatArray
    used: np.ndarray
    reasons: tuple[str, ...]
    line_x: FloatArray
    line_y: FloatArray
    band_low: FloatArray | None = None
    band_high: FloatArray | None = None
    region: tuple[float, float] | None = None
    marks: tuple[tuple[str, float], ...] = ()
    residuals: FloatArray | None = None


@dataclass(frozen=True, slots=True)
class Clue:
    """One observation about the law: ``value`` and ``sd`` on the line of what it is about."""

    learns: Learns
    value: float
    sd: float
    at: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, eq=False)
class Clues:
    """Clues of one test with their correlation; the law's own misfit is added by the joint fit."""

    test: str
    kind: str
    clues: tuple[Clue, ...]
    correlation: FloatArray | None = None

    @property
    def covariance(self) -> FloatArray:
        """Covariance of the clues from the test alone."""
        spread = np.array([clue.sd for clue in self.clues])
        shape = np.eye(len(spread)) if self.correlation is None else self.correlation
        return np.asarray(shape * np.outer(spread, spread))


@dataclass(frozen=True, slots=True, eq=False)
class TestFit:
    """One test, fitted and judged."""

    __test__ = False

    id: str
    kind: str
    title: str
    sludge: str
    estimates: tuple[Estimate, ...]
    warnings: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()
    curves: tuple[Curve, ...] = ()
    clues: Clues | None = None
    lines: tuple[CalculationLine, ...] = ()
    conditions: Mapping[str, float] = field(default_factory=dict)
    polymer: str = ""
    invented: bool = False

    def estimate(self, name: str) -> Estimate:
        """Estimate by house name.

        Raises
        ------
        UnknownNameError
            If this test does not give it.
        """
        for estimate in self.estimates:
            if estimate.name == name:
                return estimate
        have = [estimate.name for estimate in self.estimates]
        raise UnknownNameError(f"test {self.id} gives no {name!r}; it gives {have}")
