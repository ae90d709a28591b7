"""Along the press: several quantities over one length, with the zones named."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from cakewright.quantities import FloatArray
from cakewright.reports.figures.chart import Axes, draw
from cakewright.reports.palette import ACCENT, FAINT, INK, QUIET

__all__ = ["Profile", "figure_press_profile"]


@dataclass(frozen=True, slots=True)
class Profile:
    """One quantity along the press, in shown units; a band where low and high are given."""

    label: str
    values: FloatArray
    low: FloatArray | None = None
    high: FloatArray | None = None


def figure_press_profile(
    position: FloatArray,
    profiles: Sequence[Profile],
    zones: Sequence[tuple[str, float, float]],
    *,
    x_label: str,
    alt: str,
    key: str = "profile",
) -> str:
    """Profiles one above the other; ``zones`` are (name, start, end) along the press."""

    def paint(figure: Axes) -> None:
        rows = figure.subplots(len(profiles), 1, sharex=True, squeeze=False)[:, 0]
        for axes, profile in zip(rows, profiles, strict=True):
            for at, (_, start, end) in enumerate(zones):
                if at % 2:
                    axes.axvspan(start, end, color=FAINT, linewidth=0)
            if profile.low is not None and profile.high is not None:
                axes.fill_between(
                    position, profile.low, profile.high, color=ACCENT, alpha=0.22, linewidth=0
                )
            axes.plot(position, profile.values, color=ACCENT)
            axes.set_title(profile.label, loc="left", fontsize=8.5, color=INK)
            axes.margins(x=0)
            axes.grid(visible=True, axis="y")
        for name, start, end in zones:
            rows[0].annotate(
                name,
                ((start + end) / 2, 1.0),
                xycoords=("data", "axes fraction"),
                xytext=(0, 16),
                textcoords="offset points",
                ha="center",
                color=QUIET,
                annotation_clip=False,
            )
        rows[-1].set_xlabel(x_label)

    return draw(key, alt, paint, width_mm=150, height_mm=24 + 34 * len(profiles))
