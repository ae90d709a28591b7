"""Frames: one size of machine each, read from rows, all faults at once."""

from __future__ import annotations

import difflib
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

from cakewright.errors import DataError, Fault, UnknownNameError
from cakewright.machines.interface import Frame, Kind
from cakewright.machines.registry import data_of
from cakewright.quantities import Mark, to_si
from cakewright.quantities.tables import packaged_table
from cakewright.reference import sludge_classes
from cakewright.sources import sources

__all__ = ["Column", "catalogue_columns", "frame_named", "parse_catalogue", "shipped_catalogue"]

LARGEST_CATALOGUE = 2000


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a catalogue: its title, the frame's field, unit, range, and who needs it."""

    title: str
    field: str
    kind: str
    unit: str
    si_unit: str
    low: float
    high: float
    required: bool
    machines: tuple[str, ...]
    meaning: str

    def needed_by(self, machine: str) -> bool:
        """True when a frame of this kind cannot do without it."""
        return self.required and (not self.machines or machine in self.machines)


def _data(name: str) -> Mapping[str, Any]:
    return packaged_table("cakewright.machines", "data", name)


@cache
def catalogue_columns() -> Mapping[str, Column]:
    """Every column a catalogue may hold, by title."""
    found: dict[str, Column] = {}
    for title, entry in _data("frame_columns.toml").items():
        found[title] = Column(
            title=title,
            field=entry["field"],
            kind=entry.get("kind", "number"),
            unit=entry.get("unit", "1"),
            si_unit=entry.get("si_unit", "1"),
            low=float(entry.get("low", 0.0)),
            high=float(entry.get("high", math.inf)),
            required=bool(entry.get("required", False)),
            machines=_needing(title) if entry.get("by_kind") else (),
            meaning=entry["meaning"],
        )
    return found


def _needing(title: str) -> tuple[str, ...]:
    return tuple(key for key in Kind if title in data_of(key, "kind.toml")["frame_needs"])


def parse_catalogue(
    rows: Iterable[Mapping[str, Any]], subject: str = "catalogue"
) -> tuple[Frame, ...]:
    """Frames from rows of a catalogue (titles as in `catalogue_columns`).

    Raises
    ------
    DataError
        With every fault found: unknown or missing columns, values outside their range, names
        used twice, too many rows, none at all.
    """
    faults: list[Fault] = []
    frames: list[Frame] = []
    seen: dict[str, int] = {}
    count = 0
    for count, row in enumerate(rows, start=1):
        if count > LARGEST_CATALOGUE:
            faults.append(
                Fault(subject, f"more than {LARGEST_CATALOGUE} rows", "a catalogue", "split it")
            )
            break
        found = _parse_row(row, f"{subject} row {count}", faults)
        if found is None:
            continue
        first = seen.setdefault(found.name.casefold(), count)
        if first != count:
            allowed = f"each name once (first used in row {first})"
            faults.append(
                Fault(f"{subject} row {count}: name", repr(found.name), allowed, "rename one")
            )
        frames.append(found)
    if not count:
        faults.append(Fault(subject, "no rows", "one frame or more", "add a frame"))
    if faults:
        raise DataError(subject, faults)
    return tuple(frames)


def _parse_row(row: Mapping[str, Any], where: str, faults: list[Fault]) -> Frame | None:
    before = len(faults)
    columns = catalogue_columns()
    given = {k: v for k, v in row.items() if v is not None and str(v).strip() != ""}
    for title in given.keys() - columns.keys():
        near = difflib.get_close_matches(str(title), columns, n=1)
        hint = f"did you mean {near[0]!r}?" if near else "drop it or see the list of columns"
        faults.append(Fault(f"{where}: {title}", "a column not known here", "known columns", hint))
    machine = str(given.get("machine", ""))
    if machine not in set(Kind):
        allowed = ", ".join(Kind)
        faults.append(Fault(f"{where}: machine", repr(machine), allowed, "use one of these"))
    values: dict[str, Any] = {}
    for title, column in columns.items():
        if title in given:
            _take(column, given[title], f"{where}: {title}", values, faults)
        elif column.needed_by(machine):
            faults.append(Fault(f"{where}: {title}", "nothing", column.meaning, "give a value"))
    if len(faults) > before:
        return None
    values["machine"] = Kind(machine)
    return _completed(Frame(**values))


def _known(column: Column, text: str) -> bool:
    """True unless the column names a sludge class or source that does not exist."""
    if column.field == "rated_on":
        return text in sludge_classes()
    return column.field != "source" or set(text.split()) <= set(sources())


def _take(
    column: Column, raw: Any, where: str, values: dict[str, Any], faults: list[Fault]
) -> None:
    allowed = f"{column.low:g} to {column.high:g} {column.unit}"
    if not _known(column, str(raw)):
        faults.append(Fault(where, repr(raw), column.meaning, "see its list; words go to `note`"))
        return
    try:
        value = _value(column, raw)
    except ValueError:
        faults.append(Fault(where, repr(raw), f"a {column.kind}", "see the list of columns"))
        return
    if isinstance(value, int | float) and not column.low <= value <= column.high:
        faults.append(Fault(where, f"{value:g} {column.unit}", allowed, "check the unit"))
        return
    if column.kind == "number" and column.unit != column.si_unit:
        value = float(to_si(float(value), column.unit, column.si_unit))
    values[column.field] = value


def _value(column: Column, raw: Any) -> Any:
    if column.kind == "text":
        return str(raw).strip()
    if column.kind == "mark":
        return Mark(str(raw).strip())
    if isinstance(raw, bool):
        raise ValueError
    number = float(raw)
    if not math.isfinite(number):
        raise ValueError
    if column.kind == "integer":
        if number != int(number):
            raise ValueError
        return int(number)
    return number


def _completed(frame: Frame) -> Frame:
    if frame.installed_power:
        return frame
    return replace(frame, installed_power=frame.power)


@cache
def shipped_catalogue() -> tuple[Frame, ...]:
    """The catalogue that comes with the package: invented throughout, and marked so.

    A kind may bring frames of its own in its folder (``frames.toml``).
    """
    own = [row for key in Kind for row in data_of(key, "frames.toml").get("frame", ())]
    return parse_catalogue([*_data("catalogue.toml")["frame"], *own], "shipped catalogue")


def frame_named(name: str, frames: Iterable[Frame]) -> Frame:
    """One frame by its name.

    Raises
    ------
    UnknownNameError
        If there is none; names the nearest one.
    """
    by_name = {frame.name: frame for frame in frames}
    if name in by_name:
        return by_name[name]
    near = difflib.get_close_matches(name, by_name, n=1)
    hint = f"did you mean {near[0]!r}?" if near else "see the catalogue for its names"
    raise UnknownNameError(f"{name!r} is no frame of this catalogue; {hint}")
