"""Published machine trials beside what is foretold of them: table, figure, bias by kind."""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from cakewright.machines import Kind, machine_types
from cakewright.reports.figures.chart import Axes, draw, plain_axes

LEFT_OUT = Path(__file__).parents[1] / "benchmarks" / "results" / "left_out.csv"
MARKERS = ("o", "s", "D", "^", "v", "P", "X", "*")
Table = Callable[[Iterable[str], Iterable[Iterable[object]]], str]


@dataclass(frozen=True, slots=True)
class Foretold:
    """One cake found [%], the 10, 50 and 90 % points foretold of it, share of draws with a cake."""

    kind: Kind
    what: str
    source: str
    found: float
    low: float
    median: float
    high: float
    answered: float

    @property
    def inside(self) -> bool:
        """Whether the cake found lies in its band."""
        return self.low <= self.found <= self.high


def trials(rows: Iterable[dict[str, Any]]) -> list[Foretold]:
    """Trials recorded by the published tests, each at its own settings."""
    return [
        Foretold(
            Kind(row["trial"]["kind"]),
            f"{row['quantity'].removesuffix(', %')} ({row['id']})",
            row["source"],
            row["expected"],
            row["trial"]["low"],
            row["got"],
            row["trial"]["high"],
            row["trial"]["answered"],
        )
        for row in rows
        if "trial" in row
    ]


def left_out() -> list[Foretold]:
    """Cakes of each source, foretold by the class laws of all the others at usual settings."""
    with LEFT_OUT.open(encoding="utf-8", newline="") as file:
        return [
            Foretold(
                Kind(row["kind"]),
                row["sludge"],
                row["source"],
                *(float(row[n]) for n in ("found", "low", "median", "high", "answered")),
            )
            for row in csv.DictReader(file)
        ]


def _label(kind: Kind) -> str:
    return machine_types()[kind].label


def _table(found: list[Foretold], table: Table) -> str:
    head = ("kind", "trial", "source", "found, %", "10 %", "50 %", "90 %", "inside", "answered")
    return table(
        head,
        (
            (
                _label(one.kind),
                one.what,
                one.source,
                *(f"{v:.1f}" for v in (one.found, one.low, one.median, one.high)),
                "yes" if one.inside else "**no**",
                f"{one.answered:.0f} %",
            )
            for one in sorted(found, key=lambda one: (one.kind.value, one.what, one.source))
        ),
    )


def _bias(found: list[Foretold], table: Table) -> str:
    """Foretold less found in points, and how often inside, by kind."""
    rows = []
    for kind in sorted({one.kind for one in found}, key=_label):
        mine = [one for one in found if one.kind is kind]
        gaps = [one.median - one.found for one in mine]
        inside = sum(one.inside for one in mine)
        rows.append(
            (_label(kind), len(mine), f"{np.median(gaps):+.1f}", f"{inside} of {len(mine)}")
        )
    head = ("kind", "trials", "median less found, points (middle trial)", "inside 10 to 90 %")
    return table(head, rows)


def figure(own: list[Foretold], others: list[Foretold]) -> str:
    """Foretold over found: bars from 10 to 90 %, one marker a kind, filled at own settings."""

    def paint(drawing: Axes) -> None:
        axes = drawing.subplots()
        kinds = sorted({one.kind for one in (*own, *others)}, key=_label)
        for marker, kind in zip(MARKERS, kinds, strict=False):
            for group, fill in ((own, "full"), (others, "none")):
                mine = [one for one in group if one.kind is kind]
                if mine:
                    middle = np.array([one.median for one in mine])
                    ends = np.array([(one.low, one.high) for one in mine]).T
                    where = "at its own settings" if fill == "full" else "its source left out"
                    axes.errorbar(
                        [one.found for one in mine], middle, np.abs(ends - middle), fmt=marker,
                        fillstyle=fill, markersize=4, elinewidth=0.6, linewidth=0.0,
                        label=f"{_label(kind)}, {where}",
                    )  # fmt: skip
        axes.axline((0.0, 0.0), slope=1.0, linewidth=0.8, color="black")
        axes.set_xlim(0.0, 60.0)
        axes.set_ylim(0.0, 80.0)
        plain_axes(axes, "cake found, %", "cake foretold, %")
        axes.legend(fontsize=6, frameon=False, loc="upper left")

    return draw("parity", "Cake foretold over cake found", paint, width_mm=160, height_mm=130)


def section(own: list[Foretold], others: list[Foretold], table: Table) -> str:
    """The part of the proof page on whole machines."""
    inside = sum(one.inside for one in others)
    return "\n".join(
        (
            "## Whole machines against published trials\n",
            "No bench test of these sludges was published, so the law is the class prior: 10, 50 "
            "and 90 % points over draws of law and machine. Answered: share of the draws that give "
            "a cake; bands are of those. Consistency more than proof where a trial went into the "
            "prior.\n",
            "![Cake foretold over cake found](parity.svg)\n",
            "### Each trial at its own settings\n",
            _table(own, table),
            "\n### Each cake foretold by all other sources\n",
            f"Its own source left out of the class laws, at the kind's usual settings: {inside} of "
            f"{len(others)} lie in their 10 to 90 % band (`python docs/class_laws.py`, kept in "
            "`benchmarks/results/left_out.csv`).\n",
            _table(others, table),
            "\n### Bias by kind\n",
            _bias(others, table),
            "",
        )
    )
