"""What every section needs: the findings, the units, and where a figure's calculation stands."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from cakewright.jobs.findings import Findings
from cakewright.quantities import Band, Basis, Figure, Mark, house_name
from cakewright.reports.content import Cell, Column
from cakewright.reports.marks import badge
from cakewright.reports.numbers import (
    Units,
    band_text,
    decimals_for,
    number_text,
    quantity_text,
    shown,
    shown_unit,
    unit_text,
)

__all__ = ["Book", "anchor"]

NOTHING = "–"


def anchor(kind: str, key: str) -> str:
    """Key of a place in the report: letters, digits and dashes only."""
    safe = "".join(char if char.isalnum() and char.isascii() else "-" for char in key)
    return f"{kind}-{safe}"


@dataclass(frozen=True)
class Book:
    """Findings as one reader wants them shown."""

    findings: Findings
    units: Units
    _lines: dict[str, str] = field(default_factory=dict, init=False, repr=False)
    _bands: dict[int, Band] = field(default_factory=dict, init=False, repr=False)

    def __post_init__(self) -> None:
        machines = {option.machine for option in self.findings.options}
        shared = [x for x in self.findings.lines if x.key.split(".")[0] not in machines]
        count = Counter(line.name for line in shared)
        self._lines.update({x.name: x.key for x in shared if count[x.name] == 1})
        self._lines.update({line.key: line.key for line in self.findings.lines})

    @property
    def source_ids(self) -> tuple[str, ...]:
        """Every source the report names, the line's included, once."""
        ids = list(self.findings.source_ids)
        line = self.findings.line
        if line is not None:
            texts = [f.source for f in line.findings]
            texts += [given.source or "" for given in line.assumptions]
            texts += [figure.source or "" for figure in line.figures.values()]
            ids += [key for text in texts for key in text.split()]
        decision = self.findings.decision.headline
        ids += [key for figure in decision for key in (figure.source or "").split()]
        return tuple(dict.fromkeys(ids))

    def band(self, figure: Figure) -> Band:
        """Band of a figure, worked out once."""
        key = id(figure)
        if key not in self._bands:
            self._bands[key] = figure.band
        return self._bands[key]

    def unit(self, name: str) -> str:
        """Unit of a house name as text."""
        return unit_text(shown_unit(name, self.units), self.findings.currency)

    def label(self, name: str) -> str:
        """Words of a house name."""
        return house_name(name).label

    def quantity(self, name: str, value: float) -> str:
        """Value and unit as text."""
        return quantity_text(name, value, self.units, self.findings.currency)

    def line_link(self, name: str, *rooms: str) -> str:
        """Anchor of the calculation line of a figure.

        That is the line ``room.name`` of the first room that has one, or else the only line of
        that name; a line of one kind of machine never stands in for another kind.
        """
        for key in (*(f"{room}.{name}" for room in rooms if room), name):
            if key in self._lines:
                return anchor("line", self._lines[key])
        return ""

    def source_link(self, ids: str | None) -> str:
        """Anchor of the first of some source ids."""
        first = (ids or "").split()
        return anchor("source", first[0]) if first else ""

    def decimals(self, figures: Iterable[Figure]) -> int:
        """Digits after the point for figures of one name shown in one column."""
        there = [figure for figure in figures if figure.exists]
        values = [v for f in there for v in (f.point, self.band(f).p10, self.band(f).p90)]
        return decimals_for(there[0].name, values, self.units) if there else 0

    def shown_band(self, figure: Figure) -> tuple[Band, float]:
        """Band and point of a figure in the units shown."""
        band = self.band(figure)
        low, middle, high, point = (
            shown(figure.name, v, self.units) for v in (band.p10, band.p50, band.p90, figure.point)
        )
        return Band(low, middle, high), point

    def value_cell(
        self, figure: Figure | None, *rooms: str, decimals: int | None = None, strong: bool = False
    ) -> Cell:
        """Point of a figure, linked to its calculation."""
        if figure is None or not figure.exists:
            return Cell(NOTHING)
        digits = self.decimals([figure]) if decimals is None else decimals
        text = number_text(shown(figure.name, figure.point, self.units), digits)
        return Cell(text, self.line_link(figure.name, *rooms), strong=strong)

    def band_cell(self, figure: Figure | None, decimals: int | None = None) -> Cell:
        """Band of a figure as text."""
        if figure is None or not figure.exists:
            return Cell(NOTHING)
        digits = self.decimals([figure]) if decimals is None else decimals
        return Cell(band_text(figure.name, self.band(figure), self.units, digits) or NOTHING)

    def basis_cell(self, basis: Basis, mark: Mark = Mark.NONE, source: str | None = None) -> Cell:
        """Badge and source id of a figure."""
        return Cell(source or "", self.source_link(source), badge(basis, mark))

    def figure_columns(self, first: str) -> tuple[Column, ...]:
        """Columns of a table with one figure a row."""
        return (
            Column(first, share=2.6),
            Column("value", align="point", share=1.0),
            Column("unit", share=0.9),
            Column("P10–P90", align="middle", share=1.5),
            Column("basis", share=2.2),
        )

    def figure_row(self, figure: Figure, *rooms: str, label: str = "") -> tuple[Cell, ...]:
        """One row of such a table."""
        words = Cell(label or self.label(figure.name))
        basis = self.basis_cell(figure.basis, figure.mark, figure.source)
        if not figure.exists:
            return (words, Cell(NOTHING), Cell(), Cell(figure.note), basis)
        return (
            words,
            self.value_cell(figure, *rooms),
            Cell(self.unit(figure.name)),
            self.band_cell(figure),
            basis,
        )

    def figure_rows(self, figures: Sequence[Figure], *rooms: str) -> tuple[tuple[Cell, ...], ...]:
        """Rows for several figures."""
        return tuple(self.figure_row(figure, *rooms) for figure in figures)
