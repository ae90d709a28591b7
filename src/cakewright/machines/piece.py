"""What each kind brings to the line round it: the piece of line, cautions, wear parts, faults.

Everything is data in the kind's own folder; rows that kinds share lie in the folder of the model
they share. A kind without `piece.toml` has no line of its own, and none is shown for it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cache
from types import MappingProxyType
from typing import Any

from cakewright.machines.registry import Kind, data_of, shared_data
from cakewright.quantities.tables import packaged_table

__all__ = [
    "Cleaning",
    "FeedWay",
    "LinePiece",
    "PieceAlarm",
    "PieceCaution",
    "PieceDrive",
    "PieceEdge",
    "PieceFault",
    "PieceInterlock",
    "PieceItem",
    "PieceSize",
    "PieceStep",
    "PieceUtility",
    "PieceWear",
    "ProgrammeStep",
    "applies",
    "cautions_of_kind",
    "faults_of_kind",
    "has_piece",
    "line_piece",
    "pressing_settings",
    "wear_of_kind",
]


@dataclass(frozen=True, slots=True)
class PieceSize:
    """One figure of an item: ``times`` the product of the duty's quantities named in ``of``.

    ``least`` is the smallest value taken; all SI.
    """

    name: str
    times: float
    of: tuple[str, ...] = ()
    label: str = ""
    least: float = 0.0
    source: str = "MEM"
    note: str = ""


@dataclass(frozen=True, slots=True)
class PieceItem:
    """One item round the machine; ``rule`` says how it is sized, ``when`` on what it depends.

    ``rule``: sizes (the rows of ``sizes``), pump, stirred (open), measuring tank. ``units`` is
    one, or machine (one for each machine). ``with_machine``: its motor is among the auxiliaries
    of the machine. ``motor_share_of`` names the quantity that the share of its motor is.
    """

    tag: str
    kind: str
    label: str
    service: str
    place: tuple[int, int] | None = None
    when: str = ""
    rule: str = "sizes"
    sizes: tuple[PieceSize, ...] = ()
    units: str = "one"
    standby: int = 0
    material: str = ""
    cautions: tuple[str, ...] = ()
    note: str = ""
    source: str = "MEM"
    motor: PieceSize | None = None
    motor_label: str = ""
    motor_control: str = "direct start"
    motor_share: float = 1.0
    motor_share_of: str = ""
    with_machine: bool = False
    medium: str = "sludge"
    pump: str = "displacement"
    flow: PieceSize | None = None
    pressure: PieceSize | None = None
    from_tag: str = ""
    to_tag: str = ""
    run: str = "feed"
    pipe: str = ""
    plan: tuple[float, float, float] | None = None
    sound: float = 0.0


@dataclass(frozen=True, slots=True)
class PieceEdge:
    """One line of the flow diagram; ``stream`` is a stream's name, empty where none is counted.

    The tag ``PRESS`` stands for every machine.
    """

    source: str
    target: str
    stream: str = ""
    kind: str = "main"
    pipe: str = ""
    signal: int = 0
    when: str = ""


@dataclass(frozen=True, slots=True)
class PieceDrive:
    """One drive of the machine: its share of the power of the drives."""

    label: str
    share: float
    per: str = "machine"
    control: str = "inverter"
    start_factor: float = 1.5
    source: str = "MEM"


@dataclass(frozen=True, slots=True)
class PieceAlarm:
    """One instrument with its limits: numbers in SI, or shares of what ``of`` names.

    ``low`` and ``high`` warn, ``trip_low`` and ``trip_high`` act. ``span`` names a figure of the
    design for the range, ``top`` is the range itself.
    """

    item: str
    loop: int
    measured: str
    functions: tuple[str, ...]
    meaning: str
    signal: str
    name: str
    top: float = 0.0
    span: str = ""
    normal: tuple[float, float] | None = None
    low: float | None = None
    high: float | None = None
    trip_low: float | None = None
    trip_high: float | None = None
    of: str = ""
    state: str = ""
    action: str = ""
    when: str = ""
    source: str = "MEM"


@dataclass(frozen=True, slots=True)
class PieceInterlock:
    """Cause, effect, reset, what it protects; ``loop`` is the instrument that sees the cause."""

    loop: int
    cause: str
    effect: str
    reset: str
    protects: str
    when: str = ""
    source: str = "MEM"


@dataclass(frozen=True, slots=True)
class PieceStep:
    """One step of a sequence: what is done, for how many minutes, what lets it go on."""

    mode: str
    text: str
    minutes: tuple[float, float, float] | None = None
    until: str = ""
    when: str = ""
    source: str = "MEM"


@dataclass(frozen=True, slots=True)
class ProgrammeStep:
    """One step of the pressure and flow programme of a cycle."""

    label: str
    minutes: float
    pressure: float
    flow_start: float
    flow_end: float
    source: str = "MEM"


@dataclass(frozen=True, slots=True)
class PieceUtility:
    """One medium the site must bring: peak and mean as products of the duty's quantities."""

    name: str
    medium: str
    peak: PieceSize
    mean: PieceSize
    note: str = ""
    when: str = ""


@dataclass(frozen=True, slots=True)
class FeedWay:
    """One way of bringing sludge to the machine, with what speaks for it."""

    key: str
    label: str
    target: str
    polymer: str
    salt: str
    because: str
    surplus: bool = False
    pressure: PieceSize | None = None
    flow: PieceSize | None = None
    source: str = "MEM"


@dataclass(frozen=True, slots=True)
class Cleaning:
    """How the machine is washed: in a word and in a sentence, pump, time of the one at a stop."""

    label: str
    short: str
    words: str
    pump: str = "centrifugal"
    stop_time: float = 600.0
    with_machine: bool = True
    source: str = "MEM"


@dataclass(frozen=True, slots=True)
class LinePiece:
    """The piece of line a kind brings.

    ``cake`` is continuous or drop; ``liquor`` the trade's word for what is pressed out; ``shaft``
    the word for what can be taken out singly (shaft or machine); ``test`` holds the lines of the
    test protocol that belong to this kind.
    """

    kind: Kind
    liquor: str
    cake: str
    shaft: str
    access: str
    feeds: tuple[FeedWay, ...]
    cleaning: Cleaning
    drives: tuple[PieceDrive, ...]
    items: tuple[PieceItem, ...]
    edges: tuple[PieceEdge, ...]
    instruments: tuple[PieceAlarm, ...]
    interlocks: tuple[PieceInterlock, ...]
    steps: tuple[PieceStep, ...]
    programme: tuple[ProgrammeStep, ...] = ()
    utilities: tuple[PieceUtility, ...] = ()
    machine_cautions: tuple[str, ...] = ()
    protects: str = ""
    test: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class PieceCaution:
    """A caution of the kind and where it belongs."""

    place: str
    text: str
    source: str = "MEM"
    when: str = ""


@dataclass(frozen=True, slots=True)
class PieceWear:
    """A part that wears or a check, with its first interval."""

    part: str
    task: str
    interval: str
    source: str = "MEM"


@dataclass(frozen=True, slots=True)
class PieceFault:
    """A sign, its likely cause, what to do."""

    sign: str
    cause: str
    remedy: str
    source: str = "MEM"


def _rows(kind: Kind, name: str, key: str) -> Iterator[dict[str, Any]]:
    """What the kind shares with its relatives first, its own last."""
    for table in (shared_data(kind, name), data_of(kind, name)):
        yield from table.get(key, ())


@cache
def _every(name: str) -> dict[str, Any]:
    """Rows that belong to every kind."""
    return packaged_table("cakewright.machines", "data", name)


def _tuples(row: Mapping[str, Any]) -> dict[str, Any]:
    return {k: tuple(v) if isinstance(v, list) else v for k, v in row.items()}


def _size(row: Mapping[str, Any]) -> PieceSize:
    return PieceSize(**_tuples(row))


def _item(row: Mapping[str, Any]) -> PieceItem:
    told = _tuples({k: v for k, v in row.items() if k != "sizes"})
    for key in ("motor", "flow", "pressure"):
        if key in told:
            told[key] = _size(told[key])
    return PieceItem(**told, sizes=tuple(_size(s) for s in row.get("sizes", ())))


def _way(row: Mapping[str, Any]) -> FeedWay:
    told = dict(row)
    for key in ("pressure", "flow"):
        if key in told:
            told[key] = _size(told[key])
    return FeedWay(**told)


def _utility(row: Mapping[str, Any]) -> PieceUtility:
    return PieceUtility(**{**row, "peak": _size(row["peak"]), "mean": _size(row["mean"])})


def has_piece(machine: str) -> bool:
    """Whether this kind has a line of its own."""
    return bool(data_of(machine, "piece.toml"))


@cache
def line_piece(machine: str) -> LinePiece:
    """The piece of line of one kind, shared rows included; a plain one where it has none."""
    kind, own = Kind(machine), has_piece(machine)
    plain = _every("plain_piece.toml")
    head = (data_of(kind, "piece.toml") if own else plain)["piece"]

    def rows(key: str) -> tuple[dict[str, Any], ...]:
        return tuple(_rows(kind, "piece.toml", key)) if own else tuple(plain.get(key, ()))

    return LinePiece(
        kind=kind,
        liquor=head["liquor"],
        cake=head["cake"],
        shaft=head["shaft"],
        access=head["access"],
        machine_cautions=tuple(head["cautions"]),
        protects=head["protects"],
        test=MappingProxyType(dict(head["test"])),
        feeds=tuple(_way(r) for r in rows("feed")),
        cleaning=Cleaning(**head["cleaning"]),
        drives=tuple(PieceDrive(**r) for r in rows("drive")),
        items=tuple(_item(r) for r in rows("item")),
        edges=tuple(PieceEdge(**r) for r in rows("edge")),
        instruments=tuple(PieceAlarm(**_tuples(r)) for r in rows("instrument")),
        interlocks=tuple(PieceInterlock(**r) for r in rows("interlock")),
        steps=tuple(PieceStep(**_tuples(r)) for r in rows("step")),
        programme=tuple(ProgrammeStep(**r) for r in rows("programme")),
        utilities=tuple(_utility(r) for r in rows("utility")),
    )


def applies(when: str, present: Collection[str]) -> bool:
    """Whether a row counts: ``when`` joins words by "and"; "not" turns one round."""
    words = [word for word in when.split(" and ") if word]
    return all(
        (word.removeprefix("not ") in present) is not word.startswith("not ") for word in words
    )


@cache
def pressing_settings(machine: str) -> Mapping[str, float]:
    """Settings a kind is run at where the catalogue does not say, SI."""
    rows = data_of(machine, "settings.toml")
    return MappingProxyType({k: float(v) for k, v in rows.items() if isinstance(v, (int, float))})


@cache
def cautions_of_kind(machine: str) -> tuple[PieceCaution, ...]:
    """Cautions that belong to one kind."""
    return tuple(PieceCaution(**r) for r in _rows(Kind(machine), "cautions.toml", "caution"))


@cache
def wear_of_kind(machine: str) -> tuple[PieceWear, ...]:
    """Wear parts and checks of one kind, what belongs to every kind last."""
    every = _every("every_wear.toml")["wear"]
    return tuple(PieceWear(**r) for r in (*_rows(Kind(machine), "wear.toml", "wear"), *every))


@cache
def faults_of_kind(machine: str) -> tuple[PieceFault, ...]:
    """Faults of one kind, what belongs to every kind last."""
    every = _every("every_faults.toml")["fault"]
    return tuple(PieceFault(**r) for r in (*_rows(Kind(machine), "faults.toml", "fault"), *every))
