"""What the press should do on that day's feed at those settings, with a band.

`Expectation` is the interface; a calibrated press model may stand behind it. `fit_baseline`
is the one at work today: a log-linear law fitted to a good stretch of the site's own log,
leaning on a documented table where the log cannot tell.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from cakewright.errors import DataError, Fault
from cakewright.quantities import FloatArray
from cakewright.quantities.constants import NORMAL_90
from cakewright.quantities.tables import packaged_table

__all__ = [
    "CONDITIONS",
    "RESPONSES",
    "BaselineLaw",
    "Expectation",
    "Expected",
    "ExpectedResponse",
    "PressResponse",
    "ResponseLaw",
    "Slope",
    "expected_response",
    "fit_baseline",
    "in_logs",
]

CONDITIONS = (
    "feed_solids", "solids_load", "dose", "screw_speed", "plate_pressure", "feed_temperature",
)  # fmt: skip
RESPONSES = ("cake_solids", "loss", "torque", "floc_level", "power")
_TEN_KELVIN = 10.0
_LEVEL_SPREAD = 3.0  # prior on the level of a response, natural log: as good as unknown


@dataclass(frozen=True, slots=True)
class Slope:
    """Belief in d ln(response) / d ln(condition), with its source."""

    slope: float
    spread: float
    source: str


class ExpectedResponse(Protocol):
    """How responses move when one condition moves alone (the press model's sensitivities)."""

    def slope(self, response: str, condition: str) -> Slope:
        """Slope of one response to one condition."""


@dataclass(frozen=True, slots=True)
class _Table:
    rows: Mapping[str, Mapping[str, Slope]]

    def slope(self, response: str, condition: str) -> Slope:
        """Slope of one response to one condition."""
        return self.rows[response][condition]


@dataclass(frozen=True, slots=True, eq=False)
class PressResponse:
    """Slopes of a calibrated press model where it gives them, the documented table elsewhere.

    ``elasticity`` maps (answer, condition) to d ln(answer) / d ln(condition) for cake solids and
    capture at the working point; ``capture`` is the model's capture there. A model's slope is
    believed to a third of itself, and never more sharply than a third of the table's spread
    (judgement): it is right about the direction before it is right about the size.
    """

    elasticity: Mapping[tuple[str, str], float]
    capture: float

    def slope(self, response: str, condition: str) -> Slope:
        """Slope of one response to one condition."""
        table = expected_response().slope(response, condition)
        answer = {"cake_solids": "cake_solids", "loss": "capture"}.get(response, "")
        known = self.elasticity.get((answer, condition))
        if known is None or not 0 < self.capture < 1:
            return table
        if response == "loss":  # d ln(1 - capture) = -capture / (1 - capture) d ln capture
            known = -known * self.capture / (1 - self.capture)
        spread = max(abs(known) / 3, table.spread / 3)
        return Slope(float(known), float(spread), "OWN")


@cache
def expected_response() -> ExpectedResponse:
    """The documented table of slopes."""
    table = packaged_table("cakewright.running", "expected_response.toml")
    return _Table({r: {c: Slope(**e) for c, e in row.items()} for r, row in table.items()})


@dataclass(frozen=True, slots=True, eq=False)
class Expected:
    """Expected natural logarithm of a response and the standard deviation of one shift about it."""

    log_mean: FloatArray
    log_spread: FloatArray

    @property
    def mean(self) -> FloatArray:
        """Expected value (median) in SI."""
        return np.exp(self.log_mean)

    def low(self, z: float = NORMAL_90) -> FloatArray:
        """Lower end of the band (10 % by default)."""
        return np.exp(self.log_mean - z * self.log_spread)

    def high(self, z: float = NORMAL_90) -> FloatArray:
        """Upper end of the band (90 % by default)."""
        return np.exp(self.log_mean + z * self.log_spread)


class Expectation(Protocol):
    """Feed and settings in, expected responses out; NaN where conditions are not known."""

    @property
    def responses(self) -> tuple[str, ...]:
        """Responses this expectation can give."""

    def expected(self, conditions: Mapping[str, FloatArray]) -> Mapping[str, Expected]:
        """Each response under these conditions (SI arrays of one length)."""


@dataclass(frozen=True, slots=True, eq=False)
class ResponseLaw:
    """Posterior of one response's law: level and slopes about the centre, covariance, scatter."""

    parameters: FloatArray
    covariance: FloatArray
    scatter: float
    memory: float
    shifts: int

    @property
    def level(self) -> float:
        """Expected logarithm at the centre of the baseline."""
        return float(self.parameters[0])


@dataclass(frozen=True, slots=True, eq=False)
class BaselineLaw:
    """A log-linear `Expectation`: one law per response about a common centre."""

    conditions: tuple[str, ...]
    centre: FloatArray
    laws: Mapping[str, ResponseLaw]

    @property
    def responses(self) -> tuple[str, ...]:
        """Responses that the baseline carried."""
        return tuple(self.laws)

    def expected(self, conditions: Mapping[str, FloatArray]) -> Mapping[str, Expected]:
        """Each response under these conditions."""
        design = _design(conditions, self.conditions, self.centre)
        result = {}
        for name, law in self.laws.items():
            doubt = np.einsum("ij,jk,ik->i", design, law.covariance, design)
            spread = np.sqrt(law.scatter**2 + doubt)
            result[name] = Expected(design @ law.parameters, spread)
        return result


def in_logs(conditions: Mapping[str, FloatArray], keys: Sequence[str]) -> FloatArray:
    """Conditions as natural logarithms (temperature in tens of kelvin), one column per key."""
    if not keys:  # nothing is known of feed or settings: the level alone is expected
        return np.zeros((next(iter(conditions.values())).size, 0))
    columns = []
    for key in keys:
        value = np.asarray(conditions[key], dtype=float)
        with np.errstate(invalid="ignore", divide="ignore"):
            line = value / _TEN_KELVIN if key == "feed_temperature" else np.log(value)
        columns.append(np.where(np.isfinite(line), line, np.nan))
    return np.column_stack(columns)


def _design(
    conditions: Mapping[str, FloatArray], keys: Sequence[str], centre: FloatArray
) -> FloatArray:
    moved = in_logs(conditions, keys) - centre
    return np.column_stack([np.ones(len(moved)), moved])


def _prior(
    response: str, keys: Sequence[str], table: ExpectedResponse
) -> tuple[FloatArray, FloatArray]:
    slopes = [table.slope(response, key) for key in keys]
    return (
        np.array([0.0, *(s.slope for s in slopes)]),
        np.array([_LEVEL_SPREAD, *(s.spread for s in slopes)]),
    )


def _lag_one(residual: FloatArray) -> float:
    """Correlation between neighbouring shifts, put right for its small-sample bias."""
    centred = residual - residual.mean()
    total = float(centred @ centred)
    if total <= 0 or residual.size < 8:
        return 0.0
    raw = float(centred[1:] @ centred[:-1]) / total
    return float(np.clip(raw + (1 + 3 * raw) / residual.size, 0.0, 0.95))


def _law(design: FloatArray, y: FloatArray, mean: FloatArray, spread: FloatArray) -> ResponseLaw:
    """Posterior by iterated scatter: neighbours that resemble one another count for less."""
    start = y - design @ mean
    mean = mean.copy()
    mean[0] = float(np.median(start))
    scatter, memory = max(float(np.std(start)), 1e-6), 0.0
    for _ in range(20):
        weight = (1 - memory) / (1 + memory) / scatter**2
        precision = np.diag(spread**-2) + weight * design.T @ design
        covariance: FloatArray = np.asarray(np.linalg.inv(precision), dtype=float)
        parameters = covariance @ (mean / spread**2 + weight * design.T @ y)
        residual = y - design @ parameters
        clipped = np.clip(residual, -3 * scatter, 3 * scatter)
        new = max(float(np.sqrt(np.mean(clipped**2))), 1e-6)
        memory = _lag_one(clipped)
        if abs(new - scatter) < 1e-9 * scatter:
            break
        scatter = new
    return ResponseLaw(parameters, covariance, scatter, memory, y.size)


def fit_baseline(
    conditions: Mapping[str, FloatArray],
    responses: Mapping[str, FloatArray],
    rows: NDArray[np.bool_],
    table: ExpectedResponse | None = None,
    fewest: int = 15,
) -> BaselineLaw:
    """A baseline law from the shifts marked in ``rows``.

    Raises
    ------
    DataError
        If no response has enough shifts with all conditions known.
    """
    table = table or expected_response()
    keys = tuple(
        key for key in CONDITIONS
        if key in conditions and np.mean(np.isfinite(conditions[key][rows])) > 0.5
    )  # fmt: skip
    lines = in_logs(conditions, keys)
    whole = rows & np.isfinite(lines).all(axis=1)
    laws: dict[str, ResponseLaw] = {}
    counts: dict[str, int] = {}
    centre = np.median(lines[whole], axis=0) if whole.any() else np.zeros(len(keys))
    for name in RESPONSES:
        if name not in responses:
            continue
        good = whole & np.isfinite(responses[name]) & (responses[name] > 0)
        counts[name] = int(good.sum())
        if counts[name] >= fewest:
            design = np.column_stack([np.ones(counts[name]), lines[good] - centre])
            laws[name] = _law(design, np.log(responses[name][good]), *_prior(name, keys, table))
    if not laws:
        got = ", ".join(f"{name} {count}" for name, count in counts.items()) or "no response"
        fault = Fault("baseline", f"usable shifts: {got}", f"at least {fewest} of one response",
                      "choose a longer baseline, or map feed solids and cake solids")  # fmt: skip
        raise DataError("expectation", [fault])
    return BaselineLaw(keys, centre, laws)
