"""Axes with curves, drawn by hand as SVG: no heavy import, a fraction of a millisecond each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from cakewright.quantities import FloatArray
from cakewright.reports.figures.bands import Scale, round_scale
from cakewright.reports.palette import ACCENT, GRID, INK, PAPER, QUIET
from cakewright.reports.svg_text import circle, document, group, line, path, polygon, text

__all__ = ["Plot"]

_LEFT, _TOP, _FOOT = 48.0, 26.0, 36.0


@dataclass(frozen=True)
class Plot:
    """One pair of axes: ``across`` and ``up`` are its scales, ``right`` room for names there."""

    across: Scale
    up: Scale
    width: float
    height: float
    right: float = 16.0

    @classmethod
    def over(
        cls,
        x: FloatArray,
        values: Sequence[FloatArray],
        *,
        width: float,
        height: float,
        right: float = 16.0,
        limits: tuple[float, float] | None = None,
    ) -> Plot:
        """Axes that end where ``x`` ends and hold all values."""
        rough = round_scale([float(x.min()), float(x.max())], steps=6)
        across = Scale(float(x.min()), float(x.max()), rough.step)
        ends = [float(v) for array in values for v in (array.min(), array.max())]
        up = round_scale(limits or ends, steps=5, limits=limits)
        return cls(across, up, width, height, right)

    @property
    def _span(self) -> tuple[float, float]:
        return self.width - _LEFT - self.right, self.height - _TOP - _FOOT

    def at(self, x: float, y: float) -> tuple[float, float]:
        """Place of a point on the drawing, kept inside the axes."""
        wide, tall = self._span
        return self.across.at(x, _LEFT, wide), _TOP + tall - self.up.at(y, 0.0, tall)

    def points(self, x: FloatArray, y: FloatArray) -> list[tuple[float, float]]:
        """Places of many points."""
        return [self.at(float(a), float(b)) for a, b in zip(x, y, strict=True)]

    def axes(self, x_label: str, y_label: str) -> str:
        """Grid, ticks and names; the name of the upright axis stands above it."""
        wide, tall = self._span
        bottom = _TOP + tall
        parts = [text(0, 12, y_label, 10.5)]
        for tick in self.up.ticks:
            y = self.at(self.across.low, tick)[1]
            parts.append(line(_LEFT, y, _LEFT + wide, y, stroke=GRID, stroke_width=0.7))
            words = self.up.words(tick)
            parts.append(text(_LEFT - 6, y + 3.2, words, 9.5, fill=QUIET, text_anchor="end"))
        parts.append(line(_LEFT, bottom, _LEFT + wide, bottom, stroke=INK, stroke_width=0.9))
        for tick in self._round_across():
            x = self.at(tick, self.up.low)[0]
            parts.append(line(x, bottom, x, bottom + 4, stroke=INK, stroke_width=0.9))
            words = self.across.words(tick)
            parts.append(text(x, bottom + 15, words, 9.5, fill=QUIET, text_anchor="middle"))
        middle = _LEFT + wide / 2
        parts.append(text(middle, bottom + 31, x_label, 10.5, text_anchor="middle"))
        return group(parts)

    def _round_across(self) -> list[float]:
        step, low, high = self.across.step, self.across.low, self.across.high
        first = int(np.ceil(low / step - 1e-9))
        return [at * step for at in range(first, int(np.floor(high / step + 1e-9)) + 1)]

    def curve(
        self,
        x: FloatArray,
        y: FloatArray,
        *,
        colour: str = INK,
        dash: str = "",
        weight: float = 1.5,
    ) -> str:
        """One curve."""
        commands = "M" + " ".join(f"{a:.1f} {b:.1f}" for a, b in self.points(x, y))
        look: dict[str, str | float] = {"fill": "none", "stroke": colour, "stroke_width": weight}
        if dash:
            look["stroke_dasharray"] = dash
        return path(commands, **look)

    def band(self, x: FloatArray, low: FloatArray, high: FloatArray, colour: str = ACCENT) -> str:
        """The area between two curves."""
        around = [*self.points(x, high), *reversed(self.points(x, low))]
        return polygon(around, fill=colour, fill_opacity=0.16)

    def dots(self, x: FloatArray, y: FloatArray) -> str:
        """Readings as open dots."""
        return group(
            [
                circle(a, b, 3.2, fill=PAPER, stroke=INK, stroke_width=1.2)
                for a, b in self.points(x, y)
            ]
        )

    def upright(self, x: float, words: str, *, colour: str = INK, dash: str = "4 3") -> str:
        """A marked place on the level axis, named at its top, on the side with more room."""
        place, top = self.at(x, self.up.high)
        wide = self._span[0]
        right = place > _LEFT + 0.7 * wide
        stroke = line(
            place, top, place, self.height - _FOOT, stroke=colour, stroke_dasharray=dash or "none"
        )
        name = text(
            place - 4 if right else place + 4,
            top + 10,
            words,
            9.5,
            fill=colour,
            text_anchor="end" if right else "start",
        )
        return stroke + name

    def level(self, y: float, words: str) -> str:
        """A marked level, named at its right end."""
        left, place = self.at(self.across.low, y)
        right = left + self._span[0]
        stroke = line(left, place, right, place, stroke=QUIET, stroke_dasharray="3 3")
        below = place < _TOP + 20
        at = place + 11 if below else place - 3
        return stroke + text(right, at, words, 9.5, fill=QUIET, text_anchor="end")

    def ends(self, names: Sequence[tuple[float, str, str]]) -> str:
        """Names at the right ends of curves: (value there, words, colour), moved apart."""
        x = self.width - self.right + 5
        placed: list[str] = []
        last = float("inf")
        for value, words, colour in sorted(names):
            y = min(self.at(self.across.high, value)[1] + 3.4, last - 12.5)
            last = y
            placed.append(text(x, y, words, 9.5, fill=colour))
        return group(placed)

    def drawn(self, parts: Sequence[str], alt: str) -> str:
        """The finished drawing."""
        return document(parts, self.width, self.height, alt)
