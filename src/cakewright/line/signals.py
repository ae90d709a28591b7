"""Instrument and signal list: tags from a mapping table of letters, ranges from the design."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from functools import cache
from typing import Any

from cakewright.errors import UnknownNameError
from cakewright.line.inputs import Letters
from cakewright.line.items import Interlock, SetPoint, Signal, SignalType
from cakewright.line.practice import mark_of
from cakewright.line.ways import ChosenWay
from cakewright.machines.piece import PieceAlarm, PieceInterlock, applies
from cakewright.quantities import Mark
from cakewright.quantities.tables import packaged_table

__all__ = ["instrument_tag", "interlocks", "signals"]


def _data(name: str) -> dict[str, Any]:
    return packaged_table("cakewright.line", "data", name)


@cache
def _letters() -> dict[str, Any]:
    return _data("letters.toml")


@cache
def _instruments() -> tuple[PieceAlarm, ...]:
    rows = _data("instruments.toml")["instrument"]
    return tuple(PieceAlarm(**{**row, "functions": tuple(row["functions"])}) for row in rows)


@cache
def _interlocks() -> tuple[PieceInterlock, ...]:
    return tuple(PieceInterlock(**row) for row in _data("interlocks.toml")["interlock"])


def instrument_tag(
    measured: str, functions: Sequence[str], loop: int, letters: Letters = Letters.ISA
) -> str:
    """Tag of one instrument, such as FQIT-107, in either letter code.

    Raises
    ------
    UnknownNameError
        If a measured quantity or function has no letter.
    """
    column = "isa" if letters is Letters.ISA else "iso"
    table = _letters()
    if measured not in table["measured"] or any(f not in table["functions"] for f in functions):
        raise UnknownNameError(
            f"tag: got {measured!r} with {list(functions)}; known: {', '.join(table['measured'])} "
            f"with {', '.join(table['functions'])}; add it to the letter table"
        )
    first = table["measured"][measured][column]
    rest = "".join(table["functions"][f][column] for f in functions)
    return f"{first}{rest}-{loop}"


def _mark(source: str) -> Mark:
    """The weakest warning of several sources."""
    return next((m for s in reversed(source.split()) if (m := mark_of(s))), Mark.NONE)


def _set_points(row: PieceAlarm) -> tuple[SetPoint, ...]:
    mark = _mark(row.source)
    found = (
        []
        if row.normal is None
        else list(zip(("normal from", "normal to"), row.normal, strict=True))
    )
    found += [
        (which, value)
        for which, value in (
            ("low", row.low),
            ("high", row.high),
            ("trip low", row.trip_low),
            ("trip high", row.trip_high),
        )
        if value is not None
    ]
    return tuple(SetPoint(which, value, row.of, row.source, mark) for which, value in found)


def _range(row: PieceAlarm, spans: Mapping[str, float]) -> float:
    if row.top:
        return row.top
    analogue = row.signal in ("AI", "AO")
    return spans[row.span] * (1.25 if analogue else 1.0)


def _alarms(row: PieceAlarm) -> tuple[str, ...]:
    if row.state:
        return (f"{row.state}: {row.action}",)
    return (row.action,) if row.action else ()


def signals(
    spans: Mapping[str, float], chosen: ChosenWay, letters: Letters, tags: Iterable[str]
) -> tuple[Signal, ...]:
    """Every instrument whose part of the line is present, in order of the loops."""
    other = Letters.ISO if letters is Letters.ISA else Letters.ISA
    known, feed = set(tags), "T-102" if chosen.weir else "P-101"
    rows = (*_instruments(), *chosen.piece.instruments)
    found = []
    for row in sorted(rows, key=lambda r: r.loop):
        item = feed if row.item == "FEED" else row.item
        if item not in known or not applies(row.when, chosen.present):
            continue
        args = row.measured, row.functions, row.loop
        found.append(
            Signal(
                tag=instrument_tag(*args, letters),
                tag_other=instrument_tag(*args, other),
                item=item,
                measured=row.measured,
                functions=row.functions,
                meaning=row.meaning,
                signal=SignalType[row.signal],
                name=row.name,
                low=0.0,
                high=_range(row, spans),
                alarms=_alarms(row),
                set_points=_set_points(row),
                source=row.source,
                mark=_mark(row.source),
            )
        )
    return tuple(found)


def interlocks(listed: Sequence[Signal], chosen: ChosenWay) -> tuple[Interlock, ...]:
    """Interlocks of the line and of its machine whose signal is there, in order of the loops."""
    tags = {int(s.tag.rsplit("-", 1)[1]): s.tag for s in listed}
    rows = [
        row
        for row in (*_interlocks(), *chosen.piece.interlocks)
        if row.loop in tags and applies(row.when, chosen.present)
    ]
    return tuple(
        Interlock(
            number=number,
            cause=row.cause,
            signal=tags[row.loop],
            action=row.effect,
            reset=row.reset,
            protects=row.protects,
            source=row.source,
            mark=_mark(row.source),
        )
        for number, row in enumerate(sorted(rows, key=lambda r: r.loop), start=1)
    )
