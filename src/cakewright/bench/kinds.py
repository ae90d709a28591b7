"""What each bench test is: its head, its columns, their units and limits (data in kinds.toml)."""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

from cakewright.errors import UnknownNameError
from cakewright.quantities.tables import packaged_table

__all__ = ["BenchField", "BenchKind", "bench_kind", "bench_kinds"]


@dataclass(frozen=True, slots=True)
class BenchField:
    """One entry of a head or one column; ``default`` None with ``required`` False is optional."""

    key: str
    label: str
    meaning: str
    required: bool
    text: bool = False
    unit: str = "1"
    written: str = "1"
    low: float = float("-inf")
    high: float = float("inf")
    rule: str = "free"
    default: float | None = None
    words: tuple[str, ...] = ()
    example: str = ""


@dataclass(frozen=True, slots=True)
class BenchKind:
    """One test: what to do, how often, what it gives, and what its sheet holds."""

    key: str
    title: str
    do: str
    often: str
    gives: str
    least_rows: int
    head: tuple[BenchField, ...]
    columns: tuple[BenchField, ...]
    needs_blank: bool = False
    one_of: tuple[str, ...] = ()

    def column(self, key: str) -> BenchField:
        """Column by key."""
        return next(column for column in self.columns if column.key == key)


def _field(key: str, entry: Mapping[str, Any], must: Sequence[str] = ()) -> BenchField:
    need = "required" if key in must else entry["need"]
    return BenchField(
        key=key,
        label=entry["label"],
        meaning=entry["meaning"],
        required=need == "required",
        text=entry.get("text", False),
        unit=entry.get("unit", "1"),
        written=entry.get("written", entry.get("unit", "1")),
        low=entry.get("low", float("-inf")),
        high=entry.get("high", float("inf")),
        rule=entry.get("rule", "free"),
        default=None if isinstance(need, str) else float(need),
        words=tuple(entry.get("words", ())),
        example=str(entry.get("example", "")),
    )


@cache
def bench_kinds() -> Mapping[str, BenchKind]:
    """All tests by key, in the order of the data file."""
    data = packaged_table("cakewright.bench", "kinds.toml")
    common, field, column = data.pop("common"), data.pop("field"), data.pop("column")
    shared = tuple(_field(key, entry) for key, entry in common.items())
    return {
        key: BenchKind(
            key=key,
            title=entry["title"],
            do=entry["do"],
            often=entry["often"],
            gives=entry["gives"],
            least_rows=entry["least_rows"],
            head=shared + tuple(_field(name, field[name]) for name in entry.get("head", ())),
            columns=tuple(
                _field(name, column[name], entry.get("must", ())) for name in entry["columns"]
            ),
            needs_blank=entry.get("needs_blank", False),
            one_of=tuple(entry.get("one_of", ())),
        )
        for key, entry in data.items()
    }


def bench_kind(key: str) -> BenchKind:
    """One test.

    Raises
    ------
    UnknownNameError
        If no such test is known; names the nearest one.
    """
    kinds = bench_kinds()
    if key in kinds:
        return kinds[key]
    near = difflib.get_close_matches(key, kinds, n=1)
    hint = f"did you mean {near[0]!r}?" if near else f"known are {list(kinds)}"
    raise UnknownNameError(f"{key!r} is not a bench test; {hint}")
