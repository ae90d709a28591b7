"""The lists of a designed line as plain tables, the same for page, PDF and workbook."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from cakewright.line import items as line_items
from cakewright.line.balance import Balance
from cakewright.line.design import LineDesign
from cakewright.line.levels import levels
from cakewright.line.practice import mark_of
from cakewright.machines.piece import faults_of_kind, wear_of_kind
from cakewright.quantities import FloatArray, Mark, house_name
from cakewright.reports.book import Book
from cakewright.reports.content import Cell, Column, Table
from cakewright.reports.numbers import decimals_for, number_text, plain_text, shown

__all__ = [
    "LISTS",
    "Entry",
    "Limits",
    "ListTable",
    "Value",
    "limits_text",
    "list_table",
    "stream_table",
]


@dataclass(frozen=True, slots=True)
class Value:
    """A number of a house name in SI, shown in the reader's units."""

    name: str
    value: float


@dataclass(frozen=True, slots=True)
class Limits:
    """Set points of a signal of one house name, shown in the reader's units."""

    name: str
    points: tuple[line_items.SetPoint, ...]


Entry = str | int | float | Value | Limits | None


@dataclass(frozen=True, slots=True)
class ListTable:
    """One list: title, heads with their shares of the width, and rows."""

    title: str
    heads: tuple[tuple[str, float], ...]
    rows: tuple[tuple[Entry, ...], ...]


def list_table(book: Book, table: ListTable) -> Table:
    """The list for the report; a value carries its unit where the head has none."""
    numeric = [
        all(isinstance(row[at], (int, float, Value, type(None))) for row in table.rows)
        for at in range(len(table.heads))
    ]
    columns, names = [], []
    for at, (head, share) in enumerate(table.heads):
        named = {v.name for row in table.rows if isinstance(v := row[at], Value)}
        single = named.pop() if numeric[at] and len(named) == 1 else ""
        names.append(single)
        unit = book.unit(single) if single else ""
        columns.append(Column(head, unit, "right" if numeric[at] else "left", share))
    digits = [_digits(book, table, at, name) for at, name in enumerate(names)]
    rows = tuple(
        tuple(
            Cell(_text(book, entry, names[at], digits[at]), strong=at == 0)
            for at, entry in enumerate(row)
        )
        for row in table.rows
    )
    return Table(tuple(columns), rows, kind="dense")


def _digits(book: Book, table: ListTable, at: int, name: str) -> int:
    if not name:
        return 0
    values = [v.value for row in table.rows if isinstance(v := row[at], Value)]
    return decimals_for(name, values, book.units)


def _text(book: Book, entry: Entry, name: str, digits: int) -> str:
    match entry:
        case None:
            return ""
        case Value() if name:
            return number_text(shown(entry.name, entry.value, book.units), digits)
        case Value():
            return book.quantity(entry.name, entry.value)
        case Limits():
            return limits_text(book, entry)
        case float():
            return plain_text(entry, 3)
    return str(entry)


def limits_text(book: Book, limits: Limits) -> str:
    """All set points of a signal, the normal span first."""
    usual = [p for p in limits.points if p.which.startswith("normal")]
    others = [p for p in limits.points if not p.which.startswith("normal")]
    words = [f"{p.which} {_limit(book, limits.name, p)}" for p in others]
    if usual:
        low, high = _limit(book, limits.name, usual[0]), _limit(book, limits.name, usual[-1])
        words.insert(0, f"normal {low}" if low == high else f"normal {low} to {high}")
    return "; ".join(words)


def _limit(book: Book, name: str, point: line_items.SetPoint) -> str:
    """One set point: its value, or its share of what it is measured against."""
    if point.of:
        return f"{number_text(100 * point.value, 0)} % of {point.of}"
    return book.quantity(name, point.value)


def _basis(source: str, mark: Mark) -> str:
    """Source ids and the warning that goes with them."""
    read = " ".join(s for s in source.split() if s not in ("MEM", "JUDGEMENT", "OWN"))
    return ", ".join(x for x in (read, mark.value) if x)


def _size(item: line_items.Item) -> Value | None:
    """The first figure of an item that says how large it is; of a pump its duty point."""
    return Value(item.data[0].name, item.data[0].value) if item.data else None


def _highest(item: line_items.Item) -> Value | None:
    """The highest flow of a pump."""
    named = (d for d in item.data if d.label == "highest flow")
    return next((Value(d.name, d.value) for d in named), None)


def equipment(design: LineDesign) -> ListTable:
    """Equipment list."""
    rows = tuple(
        (i.tag, i.label, i.service, i.duty, i.standby, _size(i), _highest(i), i.material, i.note)
        for i in design.items
    )
    heads = (
        ("tag", 0.8),
        ("item", 1.7),
        ("service", 1.2),
        ("duty", 0.5),
        ("standby", 0.7),
        ("size, duty point", 1.1),
        ("highest", 0.9),
        ("material", 2.0),
        ("note", 1.8),
    )
    return ListTable("Equipment", heads, rows)


def motors(design: LineDesign) -> ListTable:
    """Motor list."""
    rows = tuple(
        (
            m.tag,
            m.label,
            m.number,
            m.running,
            Value("power", m.shaft_power),
            Value("power", m.rated_power),
            Value("power", m.installed),
            Value("power", m.simultaneous),
            m.control,
        )
        for m in design.motors
    )
    heads = (
        ("tag", 0.9),
        ("drive", 1.8),
        ("number", 0.6),
        ("running", 0.7),
        ("shaft", 0.7),
        ("rated", 0.7),
        ("installed", 0.8),
        ("drawn together", 0.9),
        ("control", 1.3),
    )
    return ListTable("Motors", heads, rows)


def instruments(design: LineDesign) -> ListTable:
    """Instruments and signals, in both sets of letters."""
    rows = tuple(
        (
            s.tag,
            s.tag_other,
            s.item,
            s.meaning,
            s.signal.value,
            _range(s),
            Limits(s.name, s.set_points),
            "; ".join(s.alarms),
            _basis(s.source, s.mark),
        )
        for s in design.signals
    )
    heads = (
        ("tag", 0.8),
        ("other letters", 0.7),
        ("at", 0.6),
        ("measures", 1.6),
        ("signal", 0.7),
        ("up to", 0.8),
        ("set points", 1.8),
        ("at the limit", 1.9),
        ("basis", 0.9),
    )
    return ListTable("Instruments and signals", heads, rows)


def _range(signal: line_items.Signal) -> Value | None:
    switch = signal.signal in (line_items.SignalType.DI, line_items.SignalType.DO)
    return None if switch else Value(signal.name, signal.high)


def floor_plan(design: LineDesign) -> ListTable:
    """What stands on the floor: size and load on its foundation, as far as known."""
    rows = tuple(
        (
            f.tag,
            f"{f.label}, outside" if f.outdoors else f.label,
            Value("pipe_length", f.length),
            Value("pipe_length", f.width),
            Value("pipe_length", f.height),
            Value("machine_mass", f.mass_full) if f.mass_full > 0.0 else None,
        )
        for f in design.footprints
    )
    heads = (("tag", 0.7), ("item", 2.0), ("length", 0.7), ("width", 0.7), ("height", 0.7))
    return ListTable("On the floor", (*heads, ("full, as known", 0.9)), rows)


def inputs_outputs(design: LineDesign) -> ListTable:
    """Inputs and outputs of the control panel: each signal with its kind."""
    rows = tuple((s.tag, s.item, s.meaning, s.signal.value) for s in design.signals)
    heads = (("tag", 0.8), ("item", 0.8), ("what", 2.6), ("kind", 1.0))
    return ListTable("Inputs and outputs", heads, rows)


def cables(design: LineDesign) -> ListTable:
    """One cable to each motor and each signal; sections are for licensed electrical practice."""
    rows: tuple[tuple[Entry, ...], ...] = (
        *(
            (f"W-{m.tag}", m.item, "motor panel", Value("power", m.rated_power))
            for m in design.motors
        ),
        *((f"W-{s.tag}", s.item, "control panel", s.signal.value) for s in design.signals),
    )
    heads = (("cable", 1.0), ("from", 1.0), ("to", 1.2), ("carries", 1.2))
    return ListTable("Cables", heads, rows)


def pipes(design: LineDesign) -> ListTable:
    """Pipe list."""
    rows = tuple(
        (
            p.tag,
            p.service,
            f"{p.source} to {p.target}",
            p.nominal,
            Value("volume_flow", p.flow_high),
            Value("pipe_velocity", p.velocity_low),
            Value("pipe_velocity", p.velocity_high),
            Value("line_pressure", p.pressure_drop),
            p.regime,
        )
        for p in design.pipes
    )
    heads = (
        ("tag", 0.7),
        ("service", 1.3),
        ("way", 1.4),
        ("DN", 0.4),
        ("highest flow", 0.8),
        ("slowest", 0.7),
        ("fastest", 0.7),
        ("drop", 0.7),
        ("regime", 1.4),
    )
    return ListTable("Pipes", heads, rows)


def valves(design: LineDesign) -> ListTable:
    """Valve list."""
    rows = tuple(
        (v.tag, v.kind, f"{v.source} to {v.target}", v.nominal or None, v.medium, v.normal, v.why)
        for v in design.valves
    )
    heads = (
        ("tag", 0.7),
        ("valve", 1.0),
        ("on the line", 1.2),
        ("DN", 0.4),
        ("medium", 0.7),
        ("while it runs", 0.9),
        ("why", 3.0),
    )
    return ListTable("Valves", heads, rows)


def level_list(design: LineDesign) -> ListTable:
    """Levels that gravity and falling cake set."""
    rows = tuple((x.item, x.what, Value("floor_level", x.height), x.why) for x in levels(design))
    heads = (("item", 0.7), ("level", 1.2), ("above the floor", 0.8), ("set by", 2.4))
    return ListTable("Levels", heads, rows)


def utilities(design: LineDesign) -> ListTable:
    """Utilities."""
    rows = tuple(
        (u.name, u.medium, Value(u.peak_name, u.peak), Value(u.mean_name, u.mean), u.note)
        for u in design.utilities
    )
    heads = (("utility", 1.1), ("medium", 1.1), ("peak", 0.9), ("mean", 0.9), ("note", 2.6))
    return ListTable("Utilities", heads, rows)


def interlocks(design: LineDesign) -> ListTable:
    """Interlocks."""
    rows = tuple(
        (i.number, i.cause, i.signal, i.action, i.reset, i.protects, _basis(i.source, i.mark))
        for i in design.interlocks
    )
    heads = (
        ("no.", 0.4),
        ("cause", 2.0),
        ("signal", 0.7),
        ("what it does", 2.0),
        ("reset", 1.5),
        ("protects", 0.9),
        ("basis", 0.9),
    )
    return ListTable("Interlocks", heads, rows)


def wear(design: LineDesign) -> ListTable:
    """Wear parts and checks of the machine."""
    rows = tuple(
        (w.part, w.task, w.interval, _basis(w.source, mark_of(w.source)))
        for w in wear_of_kind(design.chosen_way.piece.kind)
    )
    heads = (("part", 1.8), ("what to do", 2.0), ("first plan", 1.4), ("basis", 0.9))
    return ListTable("Wear parts and checks", heads, rows)


def faults(design: LineDesign) -> ListTable:
    """Signs of trouble at the machine, likely causes, what to do."""
    rows = tuple(
        (f.sign, f.cause, f.remedy, _basis(f.source, mark_of(f.source)))
        for f in faults_of_kind(design.chosen_way.piece.kind)
    )
    heads = (("sign", 1.7), ("likely cause", 2.0), ("what to do", 2.2), ("basis", 0.9))
    return ListTable("Faults", heads, rows)


def streams(design: LineDesign) -> ListTable:
    """Streams while the line runs in a mean week, point case."""
    return stream_table(design.balance)


def stream_table(balance: Balance) -> ListTable:
    """Streams of one case, point case."""
    rows: tuple[tuple[Entry, ...], ...] = tuple(
        (
            s.number,
            s.name,
            *(Value(name, float(np.ravel(value)[0])) for name, value in _amounts(s)),
            s.note,
        )
        for s in balance.streams
    )
    names = [name for name, _ in _amounts(balance.streams[0])]
    labels = tuple((house_name(name).label, 0.9) for name in names)
    return ListTable("Streams", (("no.", 0.4), ("stream", 2.0), *labels, ("note", 1.6)), rows)


def _amounts(stream: line_items.Stream) -> tuple[tuple[str, FloatArray | float], ...]:
    return (
        ("volume_flow", stream.volume_flow),
        ("mass_flow", stream.mass_flow),
        ("dry_solids_flow", stream.dry_solids_flow),
        ("total_solids", stream.total_solids),
        ("suspended_flow", stream.suspended),
        ("conditioner_flow", stream.conditioner),
        ("temperature", stream.temperature),
        ("line_pressure", stream.pressure),
    )


def data_sheets(design: LineDesign) -> ListTable:
    """Every row of every data sheet."""
    rows: list[tuple[Entry, ...]] = []
    for sheet in design.sheets:
        for group, label, datum in sheet.rows:
            if isinstance(datum, str):
                rows.append((sheet.tag, group, label, datum, None, "", ""))
                continue
            words = label or datum.label or house_name(datum.name).label
            value = Value(datum.name, datum.value)
            rows.append(
                (sheet.tag, group, words, datum.note, value, datum.source, datum.mark.value)
            )
        rows += [(sheet.tag, "caution", "", caution, None, "", "") for caution in sheet.cautions]
    heads = (
        ("tag", 0.7),
        ("group", 0.9),
        ("what", 1.6),
        ("words", 2.6),
        ("value", 0.9),
        ("source", 0.8),
        ("mark", 0.8),
    )
    return ListTable("Data sheets", heads, tuple(rows))


LISTS: tuple[Callable[[LineDesign], ListTable], ...] = (
    streams,
    equipment,
    motors,
    instruments,
    pipes,
    valves,
    level_list,
    utilities,
    interlocks,
    faults,
    wear,
    data_sheets,
)
