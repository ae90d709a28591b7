"""What a choice costs and of what: stacked bars told apart by pattern and by words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from cakewright.reports.figures.bands import round_scale
from cakewright.reports.palette import ACCENT, FAINT, GRID, INK, PAPER, QUIET
from cakewright.reports.svg_text import circle, document, group, line, rect, text, text_width

__all__ = ["CostBar", "figure_cost_stack"]

_PATTERNS = ("plain", "dark", "slant", "dots", "level", "light", "cross")


@dataclass(frozen=True, slots=True)
class CostBar:
    """One choice: its parts in the order of the part names, and its band in words."""

    label: str
    parts: tuple[float, ...]
    total_words: str
    chosen: bool = False


def figure_cost_stack(
    bars: Sequence[CostBar],
    part_names: Sequence[str],
    title: str,
    unit: str,
    alt: str,
    *,
    width: float = 620.0,
    key: str = "cost",
) -> str:
    """Bars one below the other; the parts are named once, in the order they stand."""
    label = min(max(text_width(b.label, 10.5) for b in bars) + 22, width * 0.34)
    side = max(text_width(b.total_words, 10.5) for b in bars) + 12
    span = width - label - side
    totals = [sum(part for part in bar.parts if part > 0) for bar in bars]
    scale = round_scale([0.0, *totals], from_zero=True, steps=4)
    legend, legend_height = _legend(part_names, width, key)
    top, step = 30.0 + legend_height, 28.0
    bottom = top + step * len(bars)
    heading = text(0, 12, f"{title}, {unit}" if unit else title, 11.5, font_weight="600")
    parts = [_definitions(key), heading, *legend]
    for tick in scale.ticks:
        x = scale.at(tick, label, span)
        parts.append(line(x, top - 4, x, bottom, stroke=FAINT))
        words = scale.words(tick)
        parts.append(text(x, bottom + 13, words, 9, fill=QUIET, text_anchor="middle"))
    for at, bar in enumerate(bars):
        y = top + step * at + step / 2
        weight = "600" if bar.chosen else "400"
        parts.append(
            text(label - 14, y + 3.5, bar.label, 10.5, text_anchor="end", font_weight=weight)
        )
        parts += [circle(label - 7, y, 2.4, fill=ACCENT)] if bar.chosen else []
        edge = 0.0
        for part, value in enumerate(bar.parts):
            start, end = scale.at(edge, label, span), scale.at(edge + max(value, 0), label, span)
            edge += max(value, 0)
            parts.append(_patterned(start, y - 8, end - start, 16, part, key))
        x = scale.at(edge, label, span) + 6
        parts.append(text(x, y + 3.5, bar.total_words, 10.5, font_weight=weight))
    return document(parts, width, bottom + 18, alt)


def _patterned(x: float, y: float, width: float, height: float, part: int, key: str) -> str:
    if width <= 0:
        return ""
    fill = f"url(#{key}-{_PATTERNS[part % len(_PATTERNS)]})"
    return rect(x, y, width, height, fill=fill, stroke=INK, stroke_width=0.7)


def _legend(names: Sequence[str], width: float, key: str) -> tuple[list[str], float]:
    parts, x, y = [], 0.0, 22.0
    for at, name in enumerate(names):
        needed = 20 + text_width(name, 9.5) + 16
        if x and x + needed > width:
            x, y = 0.0, y + 17.0
        parts.append(_patterned(x, y, 14, 10, at, key))
        parts.append(text(x + 19, y + 8.6, name, 9.5))
        x += needed
    return parts, y


def _definitions(key: str) -> str:
    def pattern(name: str, size: int, inside: Sequence[str]) -> str:
        return (
            f'<pattern id="{key}-{name}" width="{size}" height="{size}" '
            f'patternUnits="userSpaceOnUse">{"".join(inside)}</pattern>'
        )

    def ground(colour: str) -> str:
        return rect(0, 0, 8, 8, fill=colour)

    slant = line(-1, 7, 7, -1, stroke=INK, stroke_width=0.9)
    return group(
        [
            "<defs>",
            pattern("plain", 8, [ground(GRID)]),
            pattern("dark", 8, [ground(QUIET)]),
            pattern("slant", 6, [ground(PAPER), slant]),
            pattern("dots", 5, [ground(PAPER), circle(2.5, 2.5, 1.0, fill=INK)]),
            pattern("level", 4, [ground(PAPER), line(0, 2, 8, 2, stroke=INK, stroke_width=0.8)]),
            pattern("light", 8, [ground(PAPER)]),
            pattern(
                "cross",
                6,
                [ground(PAPER), slant, line(-1, -1, 7, 7, stroke=INK, stroke_width=0.9)],
            ),
            "</defs>",
        ]
    )
