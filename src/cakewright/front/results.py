"""What an evaluation found, short in print, as tables and figures when asked."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING

from cakewright.front.tables import Table, table_of
from cakewright.jobs.findings import Findings
from cakewright.quantities import Figure, FloatArray, house_name
from cakewright.reports.headline import headline_text
from cakewright.reports.numbers import Units, shown, shown_array, shown_unit, unit_text
from cakewright.reports.outputs import rendered_outputs
from cakewright.storage.outputs import write_outputs

if TYPE_CHECKING:
    from matplotlib.figure import Figure as Picture

__all__ = ["Band", "Result"]


@dataclass(frozen=True, slots=True, repr=False)
class Band:
    """One figure with its band of 8 chances in 10, its basis, and all its samples in SI."""

    figure: Figure
    units: Units = Units.SI
    currency: str = ""

    @property
    def label(self) -> str:
        """What the figure is called."""
        return house_name(self.figure.name).label

    @property
    def unit(self) -> str:
        """The unit it is shown in."""
        return unit_text(shown_unit(self.figure.name, self.units), self.currency)

    @property
    def value(self) -> float:
        """The study's point case, in `unit`."""
        return shown(self.figure.name, self.figure.point, self.units)

    @property
    def low(self) -> float:
        """The 10 % point, in `unit`."""
        return shown(self.figure.name, self.figure.band.p10, self.units)

    @property
    def high(self) -> float:
        """The 90 % point, in `unit`."""
        return shown(self.figure.name, self.figure.band.p90, self.units)

    @property
    def basis(self) -> str:
        """Measured, bench, published, practice or assumed, with its mark if it carries one."""
        return " ".join(x for x in (self.figure.basis.value, self.figure.mark.value) if x)

    @property
    def samples(self) -> FloatArray:
        """All samples in `unit`, shape (n,); sample 0 is the point case."""
        return shown_array(self.figure.name, self.figure.samples, self.units)

    def __repr__(self) -> str:
        return (
            f"{self.label}: {self.value:.4g} {self.unit} ({self.low:.4g} to {self.high:.4g}; "
            f"{self.basis})"
        )


@dataclass(frozen=True, slots=True, repr=False)
class Result:
    """What one evaluation found.

    Attributes
    ----------
    findings : Findings
        Everything, as plain frozen data in SI (not part of the stable surface).
    units : Units
        Units that tables and figures are shown in.
    """

    findings: Findings
    units: Units = Units.SI
    _figures: dict[str, Band] = field(init=False, compare=False)

    def __post_init__(self) -> None:
        found = {
            f.name: Band(f, self.units, self.findings.currency)
            for f in self.findings.decision.headline
        }
        object.__setattr__(self, "_figures", found)

    @property
    def sentence(self) -> str:
        """What was decided, in one sentence."""
        return self.findings.decision.sentence

    @property
    def machine(self) -> str:
        """Key of the chosen kind of machine."""
        return self.findings.decision.machine

    @property
    def figures(self) -> Mapping[str, Band]:
        """The figures of the headline by house name."""
        return dict(self._figures)

    def __getitem__(self, name: str) -> Band:
        return self._figures[name]

    @property
    def headline(self) -> Table:
        """The figures of the answer, a row each."""
        return _bands(self._figures.values())

    @property
    def options(self) -> Table:
        """The kinds of machine compared: how each suits and what it would do."""
        names = tuple(self._figures)
        heads = [f"{b.label} [{b.unit}]" for b in self._figures.values()]
        rows = [
            (o.label, o.answer.value, *(self._point(o.figures.get(n)) for n in names))
            for o in self.findings.options
        ]
        return table_of(("kind", "answer", *heads), rows)

    @property
    def questions(self) -> Table:
        """What to ask or test next, most worthwhile first."""
        rows = [(q.rank, q.name, q.ask, q.why) for q in self.findings.questions]
        return table_of(("rank", "question", "how", "why"), rows)

    @property
    def lines(self) -> Table:
        """The calculation annex: symbol, formula, result, unit, source."""
        rows = [
            (
                line.symbol,
                line.formula,
                shown(line.name, line.result, self.units),
                unit_text(shown_unit(line.name, self.units), self.findings.currency),
                line.source,
            )
            for line in self.findings.lines
        ]
        return table_of(("symbol", "formula", "result", "unit", "source"), rows)

    def in_units(self, units: str) -> Result:
        """The same result shown in other units: ``"si"`` or ``"us"``."""
        return Result(self.findings, Units(units))

    def write(self, folder: Path | str) -> Path:
        """Report, workbook, findings and drawings into a folder, all or none."""
        write_outputs(folder, rendered_outputs(self.findings, self.units))
        return Path(folder)

    def plot(self) -> Picture:
        """The headline's bands as a figure of the plotting library, one axis a figure."""
        from matplotlib.figure import Figure as Picture

        bands = list(self._figures.values())
        picture = Picture(figsize=(6.4, 0.7 * len(bands) + 0.4), layout="constrained")
        for axes, band in zip(picture.subplots(len(bands), 1).flat, bands, strict=True):
            axes.plot([band.low, band.high], [0, 0], linewidth=6, color="#9bc4cb")
            axes.plot([band.value], [0], "o", color="#0b5c6b")
            axes.set_yticks([0], [f"{band.label} [{band.unit}]"])
            for side in ("top", "right", "left"):
                axes.spines[side].set_visible(False)
        return picture

    def __repr__(self) -> str:
        return headline_text(self.findings, self.units)

    def _repr_html_(self) -> str:
        return f"<p>{escape(self.sentence)}</p>{self.headline._repr_html_()}"

    def _point(self, figure: Figure | None) -> float | None:
        if figure is None or not figure.exists:
            return None
        return shown(figure.name, figure.point, self.units)


def _bands(bands: Iterable[Band]) -> Table:
    columns = ("figure", "value", "low", "high", "unit", "basis")
    rows = [(b.label, b.value, b.low, b.high, b.unit, b.basis) for b in bands]
    return table_of(columns, rows)
