"""A small table: prints itself, shows itself in a notebook, becomes any library's data frame."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pyarrow

__all__ = ["Cell", "Table"]

Cell = str | float | int | bool | None
_SHOWN = 30


@dataclass(frozen=True, slots=True)
class Table:
    """Rows under named columns; a column's unit stands in its name.

    ``pandas.DataFrame(table.arrow().to_pandas())``, ``polars.from_arrow(table)`` and every other
    library that takes the Arrow stream interface read it without a copy of their own.
    """

    columns: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]

    def __len__(self) -> int:
        return len(self.rows)

    def __iter__(self) -> Iterator[dict[str, Cell]]:
        for row in self.rows:
            yield dict(zip(self.columns, row, strict=True))

    def __getitem__(self, column: str) -> tuple[Cell, ...]:
        return tuple(row[self.columns.index(column)] for row in self.rows)

    def __repr__(self) -> str:
        texts = [self.columns, *(tuple(_text(c) for c in row) for row in self.rows[:_SHOWN])]
        widths = [max(len(row[i]) for row in texts) for i in range(len(self.columns))]
        lines = ["  ".join(c.ljust(w) for c, w in zip(row, widths, strict=True)) for row in texts]
        more = len(self.rows) - _SHOWN
        return "\n".join(
            [*(line.rstrip() for line in lines), *([f"... {more} more"] if more > 0 else [])]
        )

    def _repr_html_(self) -> str:
        head = "".join(f"<th>{escape(c)}</th>" for c in self.columns)
        body = "".join(
            "<tr>" + "".join(f"<td>{escape(_text(c))}</td>" for c in row) + "</tr>"
            for row in self.rows[:_SHOWN]
        )
        return f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"

    def arrow(self) -> pyarrow.Table:
        """The table of the columnar interchange standard."""
        import pyarrow

        return pyarrow.table({name: list(self[name]) for name in self.columns})

    def __arrow_c_stream__(self, requested_schema: object = None) -> object:
        """Interchange with data-frame libraries (the Arrow stream interface)."""
        return self.arrow().__arrow_c_stream__(requested_schema)


def table_of(columns: Sequence[str], rows: Sequence[Sequence[Cell]]) -> Table:
    """A table of rows of any kind of sequence."""
    return Table(tuple(columns), tuple(tuple(row) for row in rows))


def _text(cell: Cell) -> str:
    if cell is None:
        return "-"
    return f"{cell:.4g}" if isinstance(cell, float) else str(cell)
