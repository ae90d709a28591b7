"""Trial points and plant figures: a pilot decanter, screw presses, plate-press conditioning."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

from cakewright.quantities import Mark
from cakewright.reference import _tables
from cakewright.reference.rows import RowKind

__all__ = [
    "Conditioning",
    "PilotPoint",
    "ScrewPoint",
    "conditioning",
    "pilot_decanter",
    "screw_points",
]

#: A band as printed: low and high; None where not given.
Span = tuple[float | None, float | None]


@dataclass(frozen=True, slots=True)
class PilotPoint:
    """One point of the pilot decanter, in the units of the names; None = not reported."""

    point_id: str
    where: str
    sludge: str
    feed_ts_pct: float | None
    loi_pct: float | None
    temp_C: float | None  # noqa: N815
    polymer_form: str
    polymer_kg_active_per_t: float | None
    solution_pct: float | None
    hydraulic_L_h: float | None  # noqa: N815
    solids_kg_h: float | None
    diff_speed_rpm: float | None
    g_force: float | None
    weir_mm: float | None
    dosing_point: str
    cake_ts_pct: float | None
    separation_ratio_pct: float | None
    note: str
    source: str


@dataclass(frozen=True, slots=True)
class ScrewPoint:
    """What a plant or pilot published, in the units of the names; None = not given."""

    point: str
    sludge: str
    machine: str
    feed_ts_pct: Span
    speed_rpm: Span
    polymer_kg_t: Span
    cake_ts_pct: Span
    capture_pct: Span
    note: str
    source: str
    kind: RowKind

    @property
    def mark(self) -> Mark:
        """The mark that travels with the point."""
        return self.kind.mark


@dataclass(frozen=True, slots=True)
class Conditioning:
    """Ferric chloride and lime for plate presses, per cent of dry solids; None = not used."""

    sludge: str
    house_class: str
    feed_ts_pct: Span
    ferric_chloride_pct: float | None
    lime_pct: float | None
    other: str
    cake_ts_pct: Span
    source: str
    where: str
    note: str
    kind: RowKind

    @property
    def mark(self) -> Mark:
        """The mark that travels with the row."""
        return self.kind.mark


_TEXT = frozenset({"point_id", "where", "sludge", "polymer_form", "dosing_point", "note", "source"})


@cache
def pilot_decanter() -> tuple[PilotPoint, ...]:
    """The trial points of one small decanter on four municipal sludges."""
    return tuple(_pilot_point(cells) for cells in _tables.csv_table("pilot_decanter"))


def _pilot_point(cells: Mapping[str, str]) -> PilotPoint:
    text = {name: cells[name] for name in _TEXT}
    numbers = {name: _tables.number(cell) for name, cell in cells.items() if name not in _TEXT}
    return PilotPoint(**text, **numbers)  # type: ignore[arg-type]


def _span(cells: Mapping[str, str], name: str) -> Span:
    stem, unit = name.rsplit("|", 1)
    low, high = (cells[f"{stem}_{end}_{unit}"] for end in ("low", "high"))
    return _tables.number(low), _tables.number(high)


@cache
def screw_points() -> tuple[ScrewPoint, ...]:
    """Cake, dose and capture that plants and pilots published, machines side by side."""
    return tuple(
        ScrewPoint(
            point=cells["point"],
            sludge=cells["sludge"],
            machine=cells["machine"],
            feed_ts_pct=_span(cells, "feed_ts|pct"),
            speed_rpm=_span(cells, "speed|rpm"),
            polymer_kg_t=_span(cells, "polymer|kg_t"),
            cake_ts_pct=_span(cells, "cake_ts|pct"),
            capture_pct=_span(cells, "capture|pct"),
            note=cells["note"],
            source=cells["source"],
            kind=RowKind(cells["kind"]),
        )
        for cells in _tables.csv_table("screw_points")
    )


@cache
def _conditioning() -> tuple[Conditioning, ...]:
    return tuple(
        Conditioning(
            sludge=cells["sludge"],
            house_class=cells["house_class"],
            feed_ts_pct=_span(cells, "feed_ts|pct"),
            ferric_chloride_pct=_tables.number(cells["ferric_chloride_pct"]),
            lime_pct=_tables.number(cells["lime_pct"]),
            other=cells["other"],
            cake_ts_pct=_span(cells, "cake_ts|pct"),
            source=cells["source"],
            where=cells["where"],
            note=cells["note"],
            kind=RowKind(cells["kind"]),
        )
        for cells in _tables.csv_table("conditioning")
    )


def conditioning(house_class: str | None = None) -> tuple[Conditioning, ...]:
    """Published lime and ferric doses of plate presses; of one class or all."""
    return tuple(row for row in _conditioning() if house_class in (None, row.house_class))
