"""Measured consolidation of sewage sludge, check values of water, letters of instrument tags."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

from cakewright.reference import _tables
from cakewright.reference.rows import RowKind

__all__ = [
    "Consolidation",
    "TagLetter",
    "WaterPoint",
    "consolidation",
    "instrument_letters",
    "water_points",
]

#: A band as printed: low and high; None where not given.
Span = tuple[float | None, float | None]


@dataclass(frozen=True, slots=True)
class Consolidation:
    """Soil-mechanics results on one material, in SI; indices per decade of stress."""

    key: str
    material: str
    volatile_share: Span
    stress: Span
    void_ratio: Span
    compression_index: Span
    recompression_index: Span
    consolidation_coefficient: Span
    permeability: Span
    creep: str
    source: str
    kind: RowKind


@dataclass(frozen=True, slots=True)
class WaterPoint:
    """Water at one temperature [K]: viscosity [Pa*s] and density [kg/m3]."""

    temperature: float
    viscosity: float
    density: float
    source: str


@dataclass(frozen=True, slots=True)
class TagLetter:
    """One letter of an instrument tag: its position, meaning and source."""

    position: str
    letter: str
    meaning: str
    source: str


def _span(cells: Mapping[str, str], stem: str, tail: str = "", scale: float = 1.0) -> Span:
    low, high = (_tables.number(cells[f"{stem}_{end}{tail}"]) for end in ("low", "high"))
    return (None if low is None else low * scale, None if high is None else high * scale)


@cache
def consolidation() -> tuple[Consolidation, ...]:
    """Everything measured on sewage sludge and biosolids that could be read."""
    return tuple(
        Consolidation(
            key=cells["key"],
            material=cells["material"],
            volatile_share=_span(cells, "volatile", "_pct", 0.01),
            stress=_span(cells, "stress", "_kPa", 1e3),
            void_ratio=_span(cells, "void_ratio"),
            compression_index=_span(cells, "compression_index"),
            recompression_index=_span(cells, "recompression_index"),
            consolidation_coefficient=_span(cells, "consolidation_coefficient"),
            permeability=_span(cells, "permeability"),
            creep=cells["creep"],
            source=cells["source"],
            kind=RowKind(cells["kind"]),
        )
        for cells in _tables.csv_table("consolidation")
    )


@cache
def water_points() -> tuple[WaterPoint, ...]:
    """Viscosity and density of water at 101.3 kPa, 5 to 40 degC."""
    return tuple(
        WaterPoint(
            temperature=float(cells["temperature_C"]) + 273.15,
            viscosity=float(cells["viscosity_mPa_s"]) * 1e-3,
            density=float(cells["density_kg_m3"]),
            source=cells["source"],
        )
        for cells in _tables.csv_table("water")
    )


@cache
def instrument_letters(position: str) -> Mapping[str, TagLetter]:
    """Letters by position: ``first``, ``modifier`` or ``succeeding``.

    Raises
    ------
    UnknownNameError
        If there is no such position.
    """
    table = _tables.csv_table("instrument_letters")
    found = {c["letter"]: TagLetter(**c) for c in table if c["position"] == position}
    if not found:
        raise _tables.unknown(position, {c["position"] for c in table}, "a position in a tag")
    return MappingProxyType(found)
