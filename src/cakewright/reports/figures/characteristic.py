"""Operating characteristic: the chance that a test passes, against the true value."""

from __future__ import annotations

from cakewright.quantities import FloatArray
from cakewright.reports.figures.chart import Axes, draw, plain_axes
from cakewright.reports.palette import ACCENT, INK, QUIET

__all__ = ["figure_characteristic"]


def figure_characteristic(
    true: FloatArray,
    chance: FloatArray,
    promise: float,
    *,
    x_label: str,
    alt: str,
    supplier: float,
    buyer: float,
    key: str,
) -> str:
    """Chance to pass in percent; the promise and both risks are marked."""

    def paint(figure: Axes) -> None:
        axes = figure.subplots()
        axes.plot(true, 100 * chance, color=ACCENT)
        axes.axvline(promise, color=INK, linewidth=0.9)
        axes.annotate(
            "promise",
            (promise, 1.0),
            xycoords=("data", "axes fraction"),
            xytext=(4, -9),
            textcoords="offset points",
            color=INK,
        )
        for level, words in ((100 * (1 - supplier), "supplier"), (100 * buyer, "buyer")):
            axes.axhline(level, color=QUIET, linewidth=0.8, linestyle=(0, (3, 3)))
            axes.annotate(
                words,
                (0.995, level),
                xycoords=("axes fraction", "data"),
                xytext=(0, 3),
                textcoords="offset points",
                ha="right",
                color=QUIET,
            )
        axes.set_ylim(0, 100)
        axes.margins(x=0)
        plain_axes(axes, x_label, "chance to pass, %")

    return draw(key, alt, paint, width_mm=88, height_mm=62)
