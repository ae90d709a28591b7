"""Readings of one bench test in SI, where each number stands, and the checks before any fit."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from cakewright.bench.kinds import BenchField, BenchKind, bench_kind
from cakewright.errors import Fault, OutOfRangeError
from cakewright.quantities import FloatArray, from_si

__all__ = ["BadTest", "BenchTest", "Places", "by_response", "reading_faults"]


@dataclass(frozen=True, slots=True)
class Places:
    """Where the numbers stand: file and sheet, row of each reading, column of each key."""

    file: str = ""
    sheet: str = ""
    rows: tuple[int, ...] = ()
    columns: Mapping[str, str] = field(default_factory=dict)
    head_rows: Mapping[str, int] = field(default_factory=dict)

    def sheet_text(self) -> str:
        """File and sheet in words."""
        sheet = f"sheet '{self.sheet}'" if self.sheet else ""
        return ", ".join(part for part in (self.file, sheet) if part)

    def cell_text(self, index: int, key: str, label: str) -> str:
        """One reading in words: file, sheet, row and column."""
        row = f"row {self.rows[index]}" if index < len(self.rows) else f"reading {index + 1}"
        letter = self.columns.get(key, "")
        column = f"column {letter} ({label})" if letter else f"column '{label}'"
        return ", ".join(part for part in (self.sheet_text(), row, column) if part)

    def head_text(self, key: str, label: str) -> str:
        """One entry of the head in words."""
        row = f"row {self.head_rows[key]}" if key in self.head_rows else "head"
        return ", ".join(part for part in (self.sheet_text(), row, f"'{label}'") if part)


@dataclass(frozen=True, slots=True, eq=False)
class BenchTest:
    """One test: numbers in SI by key, words by key, readings by column.

    A missing optional reading is NaN in its column; a missing column is absent.
    ``defaults`` names the head entries nobody gave.
    """

    id: str
    kind: str
    sludge: str
    numbers: Mapping[str, float]
    words: Mapping[str, str]
    columns: Mapping[str, FloatArray]
    labels: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    defaults: tuple[str, ...] = ()
    places: Places = field(default_factory=Places)

    @property
    def invented(self) -> bool:
        """True when the sheet says its readings are made up."""
        return self.words.get("invented", "no") == "yes"

    @property
    def conditioner(self) -> str:
        """Polymer, with the coagulant and its dose if there is any."""
        polymer = self.words.get("polymer", "")
        dose = self.numbers.get("coagulant_dose", 0.0)
        if not self.words.get("coagulant") or dose == 0:
            return polymer
        return f"{polymer} + {self.words['coagulant']} {dose * 1e3:.3g} kg/t"

    @property
    def rows(self) -> int:
        """Number of readings."""
        return max((len(values) for values in self.columns.values()), default=0)

    def blank_rows(self) -> np.ndarray:
        """Mask of the rows that are water blanks."""
        what = self.labels.get("what", ("sample",) * self.rows)
        return np.array([word == "blank" for word in what])

    def number(self, key: str) -> float:
        """One number of the head.

        Raises
        ------
        OutOfRangeError
            If the head does not hold it.
        """
        if key not in self.numbers:
            raise OutOfRangeError(f"test {self.id}: the head gives no {key!r}; add it to the sheet")
        return self.numbers[key]


@dataclass(frozen=True, slots=True)
class BadTest:
    """A test that could not be used, with every reason."""

    id: str
    kind: str
    place: str
    faults: tuple[Fault, ...]


def by_response(test: BenchTest) -> tuple[BenchTest, ...]:
    """A sheet with several responses side by side as one test per response, each with its rows.

    A jar whose response was not read is left out of that response alone.
    """
    kind = bench_kind(test.kind)
    have = [key for key in kind.one_of if key in test.columns]
    if len(have) < 2:
        return (test,)
    return tuple(_one_response(test, key, have) for key in have)


def _one_response(test: BenchTest, key: str, have: Sequence[str]) -> BenchTest:
    read = ~np.isnan(test.columns[key])
    if not read.any():
        read[:] = True  # an empty column is told cell by cell
    others = [name for name in have if name != key]
    rows = test.places.rows
    kept = tuple(row for row, there in zip(rows, read, strict=False) if there)
    return replace(
        test,
        id=f"{test.id}-{key}",
        columns={name: v[read] for name, v in test.columns.items() if name not in others},
        labels={
            name: tuple(w for w, there in zip(words, read, strict=True) if there)
            for name, words in test.labels.items()
        },
        places=replace(test.places, rows=kept),
    )


def reading_faults(test: BenchTest) -> list[Fault]:
    """Everything that keeps a test from being fitted."""
    kind = bench_kind(test.kind)
    faults = list(_head_faults(test, kind))
    faults += _column_faults(test, kind)
    faults += _order_faults(test, kind)
    if not faults:
        faults += _count_faults(test, kind)
        faults += _blank_faults(test, kind)
        faults += _variance_faults(test, kind)
    return faults


def _shown(entry: BenchField, value: float) -> str:
    number = float(from_si(value, entry.unit, entry.written))
    unit = "" if entry.written == "1" else f" {entry.written}"
    return f"{number:.6g}{unit}"


def _allowed(entry: BenchField) -> str:
    return f"{_shown(entry, entry.low)} to {_shown(entry, entry.high)}"


def _head_faults(test: BenchTest, kind: BenchKind) -> Iterator[Fault]:
    for entry in kind.head:
        place = test.places.head_text(entry.key, entry.label)
        if entry.text:
            word = test.words.get(entry.key, "")
            if entry.required and not word:
                yield Fault(place, "nothing", "a text", f"fill in {entry.label}: {entry.meaning}")
            elif word and entry.words and word not in entry.words:
                yield Fault(place, repr(word), " or ".join(entry.words), "use one of these words")
        elif entry.key not in test.numbers:
            if entry.required:
                allowed = f"a number in {entry.written}"
                yield Fault(place, "nothing", allowed, f"fill in {entry.label}: {entry.meaning}")
        elif not entry.low <= test.numbers[entry.key] <= entry.high:
            got = _shown(entry, test.numbers[entry.key])
            yield Fault(place, got, _allowed(entry), "check the number and its unit")


def _column_faults(test: BenchTest, kind: BenchKind) -> Iterator[Fault]:
    for entry in kind.columns:
        if entry.text:
            yield from _word_faults(test, entry)
            continue
        if entry.key not in test.columns:
            if entry.required:
                place = test.places.sheet_text() or f"test {test.id}"
                yield Fault(
                    f"{place}, column '{entry.label}'",
                    "no such column",
                    f"a column headed '{entry.label} [{entry.written}]'",
                    "add it, or start from the template",
                )
            continue
        yield from _cell_faults(test, entry)
    if kind.one_of and not any(key in test.columns for key in kind.one_of):
        labels = ", ".join(f"'{kind.column(key).label}'" for key in kind.one_of)
        place = test.places.sheet_text() or f"test {test.id}"
        yield Fault(place, "no response column", f"one or more of {labels}", "add what was read")


def _word_faults(test: BenchTest, entry: BenchField) -> Iterator[Fault]:
    if entry.key not in test.labels:
        if entry.required:
            place = test.places.sheet_text() or f"test {test.id}"
            allowed = f"a column headed '{entry.label}' holding {' or '.join(entry.words)}"
            yield Fault(f"{place}, column '{entry.label}'", "no such column", allowed, "add it")
        return
    for index, word in enumerate(test.labels[entry.key]):
        if entry.words and word not in entry.words:
            place = test.places.cell_text(index, entry.key, entry.label)
            yield Fault(place, repr(word), " or ".join(entry.words), "use one of these words")


def _cell_faults(test: BenchTest, entry: BenchField) -> Iterator[Fault]:
    for index, value in enumerate(test.columns[entry.key]):
        place = test.places.cell_text(index, entry.key, entry.label)
        if np.isnan(value):
            if entry.required or entry.key in bench_kind(test.kind).one_of:
                yield Fault(place, "an empty cell", "a number", "fill it or delete the row")
        elif not entry.low <= value <= entry.high:
            yield Fault(place, _shown(entry, value), _allowed(entry), "check number and unit")


_RULES: dict[str, tuple[Callable[[float], bool], str]] = {
    "rising": (lambda step: step > 0, "larger than the reading before"),
    "climbing": (lambda step: step >= 0, "not smaller than the reading before"),
    "sinking": (lambda step: step <= 0, "not larger than the reading before"),
}


def _order_faults(test: BenchTest, kind: BenchKind) -> Iterator[Fault]:
    for entry in kind.columns:
        if entry.rule not in _RULES or entry.key not in test.columns:
            continue
        values = test.columns[entry.key]
        good, words = _RULES[entry.rule]
        # A gauge may flicker: a height may rise a little, a time or a volume may not fall.
        slack = (
            0.02 * float(np.nanmax(values) - np.nanmin(values)) if entry.rule == "sinking" else 0
        )
        for index in range(1, len(values)):
            before, now = float(values[index - 1]), float(values[index])
            if np.isfinite(before + now) and not good(now - before - slack):
                place = test.places.cell_text(index, entry.key, entry.label)
                got = f"{_shown(entry, now)} after {_shown(entry, before)}"
                yield Fault(place, got, words, "correct the reading or put the rows in order")


def _count_faults(test: BenchTest, kind: BenchKind) -> Iterator[Fault]:
    rows = int(np.sum(~test.blank_rows())) if test.rows else 0
    if rows < kind.least_rows:
        place = test.places.sheet_text() or f"test {test.id}"
        noun = "a single reading" if rows == 1 else f"{rows} readings"
        allowed = f"at least {kind.least_rows}"
        yield Fault(place, noun, allowed, f"take more readings; {kind.often}")


def _blank_faults(test: BenchTest, kind: BenchKind) -> Iterator[Fault]:
    place = test.places.sheet_text() or f"test {test.id}"
    if kind.needs_blank and not test.blank_rows().any():
        yield Fault(
            place,
            "no row marked blank",
            "at least one blank (water, same paper or filter)",
            "measure a blank; without it the reading cannot be corrected",
        )
    if "suction_time" in test.columns and kind.one_of and "water_blank" not in test.numbers:
        yield Fault(
            test.places.head_text("water_blank", "water blank"),
            "nothing",
            "the suction time of clean water on the same paper",
            "measure a blank and write it in the head",
        )


def _variance_faults(test: BenchTest, kind: BenchKind) -> Iterator[Fault]:
    for entry in kind.columns:
        watched = entry.rule in ("climbing", "sinking") or entry.key in kind.one_of
        values = test.columns.get(entry.key)
        if not watched or values is None or len(values) < 2:
            continue
        if float(np.ptp(values)) == 0.0:
            place = test.places.cell_text(0, entry.key, entry.label)
            got = f"{_shown(entry, float(values[0]))} in every row"
            allowed = "values that differ (zero variance tells nothing)"
            yield Fault(place, got, allowed, "check that the right column was copied")
