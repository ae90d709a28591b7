"""Operating grid: one result over two settings as numbers in cells, the chosen cell framed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from cakewright.reports.palette import ACCENT, FAINT, GRID, INK, PAPER, QUIET
from cakewright.reports.svg_text import document, line, rect, text, text_width

__all__ = ["GridCell", "figure_operating_grid"]

_CELL_HEIGHT, _TOP = 22.0, 26.0


@dataclass(frozen=True, slots=True)
class GridCell:
    """One pair of settings: the result as text, or why there is none."""

    words: str
    feasible: bool = True
    meets: bool = True


def figure_operating_grid(
    columns: Sequence[str],
    rows: Sequence[str],
    cells: Sequence[Sequence[GridCell]],
    *,
    title: str,
    x_label: str,
    y_label: str,
    alt: str,
    chosen: tuple[int, int] | None = None,
    width: float = 620.0,
) -> str:
    """Rows from the bottom up, as on axes; ``chosen`` is (row, column).

    White cells meet what is asked, grey ones do not; struck cells cannot be run.
    """
    side = max(text_width(row, 9.5) for row in rows) + 12
    step = (width - side) / len(columns)
    bottom = _TOP + _CELL_HEIGHT * len(rows)
    parts = [
        text(0, 12, title, 11.5, font_weight="600"),
        text(width, 12, f"up: {y_label}; across: {x_label}", 9.5, fill=QUIET, text_anchor="end"),
    ]
    for at, row in enumerate(rows):
        y = bottom - _CELL_HEIGHT * (at + 1)
        parts.append(text(side - 6, y + 15, row, 9.5, fill=QUIET, text_anchor="end"))
        for across, cell in enumerate(cells[at]):
            parts += _cell(cell, side + step * across, y, step)
    for across, column in enumerate(columns):
        x = side + step * (across + 0.5)
        parts.append(text(x, bottom + 14, column, 9.5, fill=QUIET, text_anchor="middle"))
    if chosen is not None:
        x, y = side + step * chosen[1], bottom - _CELL_HEIGHT * (chosen[0] + 1)
        size = (step - 2, _CELL_HEIGHT - 2)
        parts.append(rect(x + 1, y + 1, *size, fill="none", stroke=ACCENT, stroke_width=2.4))
    return document(parts, width, bottom + 20, alt)


def _cell(cell: GridCell, x: float, y: float, step: float) -> list[str]:
    ground = PAPER if cell.feasible and cell.meets else FAINT
    parts = [rect(x, y, step, _CELL_HEIGHT, fill=ground, stroke=GRID, stroke_width=0.8)]
    if not cell.feasible:
        ends = (x + 3, y + _CELL_HEIGHT - 3, x + step - 3, y + 3)
        parts.append(line(*ends, stroke=GRID, stroke_width=1))
    if cell.words:
        ink = INK if cell.feasible else QUIET
        size = 10.0 if cell.feasible else 8.5
        middle = x + step / 2
        parts.append(text(middle, y + 15, cell.words, size, fill=ink, text_anchor="middle"))
    return parts
