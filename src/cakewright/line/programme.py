"""Programme from order to handover: steps, what waits for what, the longest way."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

from cakewright.errors import DataError, Fault
from cakewright.quantities.constants import WEEK
from cakewright.quantities.tables import packaged_table

__all__ = ["ProgrammeStage", "Scheduled", "programme_stages", "scheduled"]


@dataclass(frozen=True, slots=True)
class ProgrammeStage:
    """One step with its low, typical and high duration [s] and the keys it waits for."""

    key: str
    label: str
    low: float
    typical: float
    high: float
    after: tuple[str, ...]
    who: str


@dataclass(frozen=True, slots=True)
class Scheduled:
    """A step with its earliest start and end from the order [s].

    ``decides`` is True on the longest way: a day lost there is a day lost at the end.
    """

    stage: ProgrammeStage
    start: float
    end: float
    decides: bool


@cache
def programme_stages() -> tuple[ProgrammeStage, ...]:
    """The usual steps (from memory and judgement)."""
    found = []
    for row in packaged_table("cakewright.line", "data", "programme.toml")["step"]:
        low, typical, high = (WEEK * weeks for weeks in row["weeks"])
        after = tuple(row["after"])
        found.append(
            ProgrammeStage(row["key"], row["label"], low, typical, high, after, row["who"])
        )
    return tuple(found)


def scheduled(stages: Sequence[ProgrammeStage], which: str = "typical") -> tuple[Scheduled, ...]:
    """Each step as early as what it waits for allows.

    Parameters
    ----------
    stages : sequence
        Steps; each after those it waits for.
    which : str
        Duration taken: low, typical or high.

    Returns
    -------
    scheduled : tuple
        The steps in their order with start and end from the order. [s]

    Raises
    ------
    DataError
        If a step waits for one that is not before it.
    """
    ends: dict[str, float] = {}
    starts: dict[str, float] = {}
    for stage in stages:
        missing = [key for key in stage.after if key not in ends]
        if missing:
            fault = Fault(
                f"step {stage.key}", f"waits for {', '.join(missing)}", "steps before it",
                "put the steps in an order in which each follows what it waits for",
            )  # fmt: skip
            raise DataError("programme", [fault])
        starts[stage.key] = max((ends[key] for key in stage.after), default=0.0)
        ends[stage.key] = starts[stage.key] + float(getattr(stage, which))
    latest = dict.fromkeys(ends, max(ends.values(), default=0.0))
    for stage in reversed(stages):
        own = latest[stage.key] - float(getattr(stage, which))
        for key in stage.after:
            latest[key] = min(latest[key], own)
    return tuple(
        Scheduled(s, starts[s.key], ends[s.key], latest[s.key] - ends[s.key] < 1.0) for s in stages
    )
