"""What a fleet knows: each site's law without its name, pooled by frame with partial pooling.

Each parameter is pooled by itself: the site's estimate scatters about its own truth, the truths of
sites scatter about the fleet's mean. How much they scatter is integrated over, not guessed, so
that three sites give a humble answer. Sites enter without names and a fleet of fewer than three
is not given out, so that nobody's site can be read off.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cakewright.errors import DataError, Fault
from cakewright.quantities import FloatArray
from cakewright.running.expectation import (
    CONDITIONS,
    BaselineLaw,
    ExpectedResponse,
    Slope,
    expected_response,
    fit_baseline,
    in_logs,
)

__all__ = [
    "FEWEST_SITES",
    "REFERENCE",
    "Contribution",
    "FleetPrior",
    "Pooled",
    "PooledParameter",
    "contribution",
    "pool_fleet",
    "pool_parameter",
]

FEWEST_SITES = 3
_WIDE = 20.0  # the table's spread is widened so: a site gives only what its own log says
# Conditions at which levels of different sites are compared; nothing rests on their choice.
REFERENCE: Mapping[str, float] = {
    "feed_solids": 0.02,
    "solids_load": 0.05,
    "dose": 0.008,
    "screw_speed": 0.02,
    "plate_pressure": 5e4,
    "feed_temperature": 288.15,
}


@dataclass(frozen=True, slots=True, eq=False)
class _Widened:
    """A table of slopes of which almost nothing is believed."""

    table: ExpectedResponse

    def slope(self, response: str, condition: str) -> Slope:
        """Slope with a spread many times as wide."""
        one = self.table.slope(response, condition)
        return Slope(0.0, _WIDE * one.spread, one.source)


@dataclass(frozen=True, slots=True)
class Contribution:
    """One nameless site's estimates: parameter -> (value, standard error), and its weight.

    ``token`` is a digest of the numbers: the same contribution given twice is counted once.
    """

    frame: str
    parameters: Mapping[str, tuple[float, float]]
    shifts: int
    token: str


@dataclass(frozen=True, slots=True, eq=False)
class Pooled:
    """Fleet mean and its error, scatter between sites, and each site's estimate drawn to it."""

    mean: float
    error: float
    between: float
    drawn: FloatArray
    drawn_error: FloatArray


@dataclass(frozen=True, slots=True)
class PooledParameter:
    """One parameter of the fleet, without any site."""

    mean: float
    error: float
    between: float
    sites: int


@dataclass(frozen=True, slots=True, eq=False)
class FleetPrior:
    """What a new site of this frame starts from; also an `ExpectedResponse` for its watch."""

    frame: str
    sites: int
    parameters: Mapping[str, PooledParameter]
    under: ExpectedResponse | None = None

    def slope(self, response: str, condition: str) -> Slope:
        """Fleet slope joined with what stands under it (a press model, or the documented table)."""
        table = (self.under or expected_response()).slope(response, condition)
        one = self.parameters.get(f"{response}.{condition}")
        if one is None:
            return table
        fleet = float(np.hypot(one.error, one.between))
        weight_fleet, weight_table = fleet**-2, table.spread**-2
        mean = (one.mean * weight_fleet + table.slope * weight_table) / (
            weight_fleet + weight_table
        )
        spread = float((weight_fleet + weight_table) ** -0.5)
        return Slope(mean, spread, f"{table.source} fleet of {one.sites}")


def _reference(law: BaselineLaw) -> FloatArray:
    lines = {key: np.array([REFERENCE[key]]) for key in law.conditions}
    return np.asarray(in_logs(lines, law.conditions)[0] - law.centre)


def contribution(
    frame: str,
    conditions: Mapping[str, FloatArray],
    responses: Mapping[str, FloatArray],
    rows: NDArray[np.bool_],
) -> Contribution:
    """What one site's months say by themselves, with nothing that names the site.

    Raises
    ------
    DataError
        If the log is too short.
    """
    law = fit_baseline(conditions, responses, rows, _Widened(expected_response()))
    away = np.concatenate([[1.0], _reference(law)])
    parameters: dict[str, tuple[float, float]] = {}
    for name, one in law.laws.items():
        level = float(away @ one.parameters)
        spread = float(np.sqrt(away @ one.covariance @ away))
        parameters[f"{name}.level"] = (level, spread)
        errors = np.sqrt(np.diag(one.covariance))[1:]
        for key, value, error in zip(law.conditions, one.parameters[1:], errors, strict=True):
            parameters[f"{name}.{key}"] = (float(value), float(error))
    digest = hashlib.sha256(repr(sorted(parameters.items())).encode()).hexdigest()[:16]
    return Contribution(frame, parameters, int(rows.sum()), digest)


def pool_parameter(value: FloatArray, error: FloatArray, scale: float = 1.0) -> Pooled:
    r"""Normal-normal pooling with the scatter between sites integrated over a grid.

    The scatter has a half-Cauchy prior with scale ``scale``; the fleet mean a flat one.

    Raises
    ------
    DataError
        If there are no sites or an error is not positive.
    """
    if not value.size or not np.all(error > 0):
        fault = Fault("sites", f"{value.size} estimates", "at least one, errors > 0", "add sites")
        raise DataError("pooling", [fault])
    grid = scale * np.concatenate([[0.0], np.geomspace(1e-3, 30.0, 200)])
    width = np.gradient(grid)
    variance = error[None, :] ** 2 + grid[:, None] ** 2
    weight = 1 / variance
    mean = (weight * value).sum(axis=1) / weight.sum(axis=1)
    spread = 1 / weight.sum(axis=1)
    likely = -0.5 * (np.log(variance) + (value - mean[:, None]) ** 2 / variance).sum(axis=1)
    likely += 0.5 * np.log(spread) - np.log1p((grid / scale) ** 2) + np.log(width)
    share = np.exp(likely - likely.max())
    share /= share.sum()
    centre = float(share @ mean)
    doubt = float(np.sqrt(share @ (spread + (mean - centre) ** 2)))
    between = float(np.sqrt(share @ grid**2))
    keep = grid[:, None] ** 2 / variance
    drawn = keep * value + (1 - keep) * mean[:, None]
    within = keep * error**2 + (1 - keep) ** 2 * spread[:, None]
    middle = share @ drawn
    deviation = np.sqrt(share @ (within + (drawn - middle) ** 2))
    return Pooled(centre, doubt, between, np.asarray(middle), np.asarray(deviation))


def pool_fleet(contributions: Sequence[Contribution]) -> FleetPrior:
    """All contributions of one frame, pooled parameter by parameter.

    Raises
    ------
    DataError
        If frames are mixed or fewer than three different sites contribute.
    """
    frames = sorted({one.frame for one in contributions})
    unique = {one.token: one for one in contributions}
    faults = []
    if len(frames) > 1:
        faults.append(Fault("frame", ", ".join(frames), "one frame", "pool each frame by itself"))
    if len(unique) < FEWEST_SITES:
        got = f"{len(unique)} different sites"
        faults.append(Fault("sites", got, f"at least {FEWEST_SITES}", "wait for more sites"))
    if faults:
        raise DataError("fleet", faults)
    names = dict.fromkeys(name for site in unique.values() for name in site.parameters)
    pooled = {}
    for name in names:
        pairs = [one.parameters[name] for one in unique.values() if name in one.parameters]
        if len(pairs) < FEWEST_SITES:
            continue
        value, error = (np.array(column) for column in zip(*pairs, strict=True))
        one = pool_parameter(value, error, _scale(name))
        pooled[name] = PooledParameter(one.mean, one.error, one.between, len(pairs))
    return FleetPrior(frames[0], len(unique), pooled)


def _scale(name: str) -> float:
    """Scatter between sites that would not surprise: the table's own spread, or a fifth."""
    response, _, condition = name.partition(".")
    if condition not in CONDITIONS:
        return 0.2
    return max(expected_response().slope(response, condition).spread, 0.02)
