"""Operating map: one result over two settings, with where the machine cannot run left out."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from cakewright.quantities import FloatArray
from cakewright.reports.figures.chart import Axes, draw, plain_axes
from cakewright.reports.palette import ACCENT, INK, PAPER, QUIET

__all__ = ["figure_operating_map"]


def figure_operating_map(
    x: FloatArray,
    y: FloatArray,
    result: FloatArray,
    feasible: NDArray[np.bool_],
    *,
    x_label: str,
    y_label: str,
    result_label: str,
    alt: str,
    point: tuple[float, float] | None = None,
    outside: str = "cannot run here",
    key: str = "map",
) -> str:
    """Contours of ``result`` (rows follow ``y``) where ``feasible``; ``point`` is the duty."""

    def paint(figure: Axes) -> None:
        axes = figure.subplots()
        inside = np.where(feasible, result, np.nan)
        axes.contourf(
            x, y, np.where(feasible, 1.0, 0.0), levels=[-0.5, 0.5], colors="none", hatches=["////"]
        )
        if np.isfinite(inside).any() and np.nanmax(inside) > np.nanmin(inside):
            lines = axes.contour(
                x, y, np.ma.masked_invalid(inside), levels=8, colors=INK, linewidths=0.9
            )
            axes.clabel(lines, fmt=lambda value: f"{value:g}", fontsize=8)
        if not feasible.all():
            _say_outside(axes, x, y, feasible, outside)
        if point is not None:
            axes.plot(*point, "o", color=ACCENT, markersize=7, zorder=5)
        axes.set_title(result_label, loc="left", fontsize=9, fontweight="bold")
        plain_axes(axes, x_label, y_label, grid="")

    return draw(key, alt, paint, width_mm=150, height_mm=100)


def _say_outside(
    axes: Axes, x: FloatArray, y: FloatArray, feasible: NDArray[np.bool_], words: str
) -> None:
    rows, columns = np.nonzero(~feasible)
    at = np.argmin((rows - rows.mean()) ** 2 + (columns - columns.mean()) ** 2)
    axes.text(
        x[columns[at]],
        y[rows[at]],
        words,
        ha="center",
        va="center",
        color=QUIET,
        clip_on=True,
        bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 1.5},
    )
