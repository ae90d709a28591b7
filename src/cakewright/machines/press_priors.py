"""Priors of the machine parameters of the pressing paths: table, draws, records."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from functools import cache
from types import MappingProxyType
from typing import Any, TypeVar

import numpy as np

from cakewright.machines.interface import Kind
from cakewright.machines.registry import data_of, shared_data
from cakewright.quantities import FloatArray, Mark
from cakewright.quantities.constants import NORMAL_90

__all__ = [
    "ParameterPrior",
    "drawn",
    "judged_priors",
    "parameter_draws",
    "parameter_priors",
    "parameter_scores",
    "record_from",
]


Record = TypeVar("Record")


@dataclass(frozen=True, slots=True)
class ParameterPrior:
    """One parameter before any trial: 10, 50 and 90 % points, its line, where it is from."""

    name: str
    low: float
    typical: float
    high: float
    unit: str
    line: str
    source: str
    mark: Mark
    based_on: str
    note: str

    def at(self, normal: FloatArray | float) -> FloatArray:
        """Value at a unit normal; each side of the middle has its own spread on the line."""
        low, middle, high = (self._to_line(v) for v in (self.low, self.typical, self.high))
        z = np.asarray(normal, dtype=float)
        spread = np.where(z < 0.0, middle - low, high - middle) / NORMAL_90
        place = middle + z * spread
        return np.asarray(np.exp(place) if self.line == "log" else 1.0 / (1.0 + np.exp(-place)))

    def _to_line(self, value: float) -> float:
        return float(np.log(value) if self.line == "log" else np.log(value / (1.0 - value)))


@cache
def parameter_priors(machine: Kind) -> Mapping[str, ParameterPrior]:
    """Priors of one kind of machine by parameter.

    A row of the kind's own folder takes the place of one it shares with another kind.
    """
    rows = {**shared_data(machine, "priors.toml"), **data_of(machine, "priors.toml")}
    return MappingProxyType({name: _prior(name, row) for name, row in rows.items()})


@cache
def judged_priors(machine: Kind) -> Mapping[str, ParameterPrior]:
    """The same before the published trials of whole machines moved any of them."""
    rows = {**shared_data(machine, "priors.toml"), **data_of(machine, "priors.toml")}
    before = {n: {**row, "values": row.get("judged", row["values"])} for n, row in rows.items()}
    return MappingProxyType({name: _prior(name, row) for name, row in before.items()})


def _prior(name: str, row: Mapping[str, object]) -> ParameterPrior:
    values = row["values"]
    low, typical, high = (float(v) for v in values)  # type: ignore[attr-defined]
    source = str(row.get("source", "JUDGEMENT"))
    return ParameterPrior(
        name=name,
        low=low,
        typical=typical,
        high=high,
        unit=str(row["unit"]),
        line=str(row["line"]),
        source=source,
        mark=Mark.JUDGEMENT if source == "JUDGEMENT" else Mark.NONE,
        based_on=str(row.get("based_on", "")),
        note=str(row["note"]),
    )


def parameter_scores(kind: Kind) -> tuple[str, ...]:
    """Names of the normal scores the machine's parameters need."""
    return tuple(f"~press.{name}" for name in parameter_priors(kind))


def parameter_draws(machine: Kind, count: int, rng: np.random.Generator) -> dict[str, FloatArray]:
    """Independent draws of every parameter; sample 0 is the typical machine."""
    found: dict[str, FloatArray] = {}
    for name, prior in parameter_priors(machine).items():
        normals = rng.standard_normal(count)
        normals[0] = 0.0
        found[name] = prior.at(normals)
    return found


def record_from(record: type[Record], values: Mapping[str, Any]) -> Record:
    """Parameter record (`ScrewParameters` and the like) from a table of its parameters."""
    return record(**{one.name: values[one.name] for one in fields(record)})  # type: ignore[arg-type]


def drawn(record: type[Record], machine: Kind, count: int, rng: np.random.Generator) -> Record:
    """Parameter record of ``count`` prior draws; sample 0 is the typical machine."""
    return record_from(record, parameter_draws(machine, count, rng))
