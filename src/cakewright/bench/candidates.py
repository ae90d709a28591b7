"""Which test to make next: candidates ranked by what they would add to the law."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np

from cakewright.bench.fit import Clue, Clues, Learns
from cakewright.bench.joint import clue_covariance, clue_jacobian
from cakewright.bench.law_model import cake_solids_at, values_of
from cakewright.physics.filtration_resistance import specific_resistance_average
from cakewright.quantities import FloatArray, house_name
from cakewright.quantities.tables import packaged_table
from cakewright.sludge.law import LAW_PARAMETERS, SludgeLaw

__all__ = ["NextTest", "rank_next_tests"]

#: Stress at which the worth of a test is shown in words [Pa].
_PRESS_STRESS = 1e5


@dataclass(frozen=True, slots=True)
class NextTest:
    """One candidate: bits it adds, what it narrows most, and what that does to a press.

    ``spread_before`` and ``spread_after`` are standard deviations of (cake solids by mass, ln of
    specific resistance) at 100 kPa.
    """

    kind: str
    words: str
    hours: float
    bits: float
    narrows: tuple[tuple[str, float], ...]
    spread_before: tuple[float, float]
    spread_after: tuple[float, float]


@cache
def _rows() -> tuple[Mapping[str, Any], ...]:
    return tuple(packaged_table("cakewright.bench", "candidates.toml")["candidate"])


def _block(row: Mapping[str, Any], law: SludgeLaw) -> Clues:
    clues = []
    for entry in row["clues"]:
        at = {key: entry[key] for key in entry if key not in ("learns", "sd")}
        if at.get("dose") == "best":
            at["dose"] = law.value("optimum_dose")
        clues.append(Clue(Learns[entry["learns"]], 0.0, float(entry["sd"]), at))
    return Clues(row["words"], row["kind"], tuple(clues))


def _press_jacobian(law: SludgeLaw) -> FloatArray:
    """Derivatives of cake solids and ln specific resistance at the press stress."""

    def outcome(theta: FloatArray) -> FloatArray:
        values = values_of(theta)
        alpha = specific_resistance_average(
            _PRESS_STRESS,
            values["local_resistance"],
            values["resistance_exponent"],
            values["yield_scale"],
        )
        return np.array([float(cake_solids_at(values, _PRESS_STRESS)), float(np.log(alpha))])

    step = 1e-4
    return np.column_stack(
        [
            (outcome(law.centre + s) - outcome(law.centre - s)) / (2 * step)
            for s in np.eye(len(law.parameters)) * step
        ]
    )


def _after(law: SludgeLaw, block: Clues) -> tuple[FloatArray, float]:
    """Covariance once the candidate is made, and the bits it adds."""
    jacobian = clue_jacobian(block, law.centre)
    noise = clue_covariance(block)
    seen = jacobian @ law.covariance @ jacobian.T + noise
    gain = law.covariance @ jacobian.T @ np.linalg.inv(seen)
    bits = 0.5 * (np.linalg.slogdet(seen)[1] - np.linalg.slogdet(noise)[1]) / np.log(2)
    return np.asarray(law.covariance - gain @ jacobian @ law.covariance), float(bits)


def rank_next_tests(law: SludgeLaw, most: int = 5) -> tuple[NextTest, ...]:
    """Candidates by the information they would add to this law, most first."""
    press = _press_jacobian(law)
    ranked = [_candidate(row, law, press) for row in _rows()]
    return tuple(sorted(ranked, key=lambda test: -test.bits)[:most])


def _spread(press: FloatArray, covariance: FloatArray) -> tuple[float, float]:
    variances: Sequence[float] = np.diag(press @ covariance @ press.T).tolist()
    return float(np.sqrt(max(variances[0], 0.0))), float(np.sqrt(max(variances[1], 0.0)))


def _candidate(row: Mapping[str, Any], law: SludgeLaw, press: FloatArray) -> NextTest:
    after, bits = _after(law, _block(row, law))
    left = np.sqrt(np.diag(after) / np.diag(law.covariance))
    order = np.argsort(left)[:3]
    names = list(LAW_PARAMETERS)
    narrows = tuple(
        (house_name(names[i]).label, float(1 - left[i])) for i in order if left[i] < 0.9
    )
    return NextTest(
        kind=row["kind"],
        words=row["words"],
        hours=float(row["hours"]),
        bits=bits,
        narrows=narrows,
        spread_before=_spread(press, law.covariance),
        spread_after=_spread(press, after),
    )
