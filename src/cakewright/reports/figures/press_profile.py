"""Along the press: several quantities over one length, with the zones named."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from cakewright.quantities import FloatArray
from cakewright.reports.figures.bands import Scale, round_scale
from cakewright.reports.palette import ACCENT, FAINT, GRID, INK, QUIET
from cakewright.reports.svg_text import document, line, path, polygon, rect, text

__all__ = ["Profile", "figure_press_profile"]

_LEFT, _RIGHT, _TOP = 46.0, 14.0, 20.0
_PANEL, _HEAD = 84.0, 24.0


@dataclass(frozen=True, slots=True)
class Profile:
    """Quantities along the press in one panel, in shown units; the first is drawn strongest.

    ``others`` are (words, values) beside it; a band is drawn where low and high are given.
    """

    label: str
    values: FloatArray
    low: FloatArray | None = None
    high: FloatArray | None = None
    others: tuple[tuple[str, FloatArray], ...] = ()


def figure_press_profile(
    position: FloatArray,
    profiles: Sequence[Profile],
    zones: Sequence[tuple[str, float, float]],
    *,
    x_label: str,
    alt: str,
    width: float = 560.0,
) -> str:
    """Profiles one above the other; ``zones`` are (name, start, end) along the press."""
    across = _exact(round_scale([float(position[0]), float(position[-1])], steps=6), position)
    span = width - _LEFT - _RIGHT
    bottom = _TOP + len(profiles) * (_PANEL + _HEAD)
    parts = _zones(zones, across, span, bottom)
    for at, profile in enumerate(profiles):
        top = _TOP + at * (_PANEL + _HEAD) + _HEAD
        parts += _panel(position, profile, across, span, top, width)
    for tick in (t for t in across.ticks if t <= across.high + 1e-9):
        x = across.at(tick, _LEFT, span)
        parts.append(line(x, bottom, x, bottom + 4, stroke=QUIET))
        words = across.words(tick)
        parts.append(text(x, bottom + 15, words, 9, fill=QUIET, text_anchor="middle"))
    middle = _LEFT + span / 2
    parts.append(text(middle, bottom + 30, x_label, 10, text_anchor="middle"))
    return document(parts, width, bottom + 36, alt)


def _exact(scale: Scale, position: FloatArray) -> Scale:
    """The axis ends where the press ends."""
    return Scale(float(position[0]), float(position[-1]), scale.step)


def _zones(
    zones: Sequence[tuple[str, float, float]], across: Scale, span: float, bottom: float
) -> list[str]:
    parts = []
    for at, (name, start, end) in enumerate(zones):
        left, right = across.at(start, _LEFT, span), across.at(end, _LEFT, span)
        if at % 2:
            parts.append(rect(left, _TOP - 4, right - left, bottom - _TOP + 4, fill=FAINT))
        middle = (left + right) / 2
        parts.append(text(middle, _TOP - 8, name, 10, fill=QUIET, text_anchor="middle"))
    return parts


def _panel(
    position: FloatArray, profile: Profile, across: Scale, span: float, top: float, width: float
) -> list[str]:
    drawn = [profile.values, *(values for _, values in profile.others)]
    drawn += [edge for edge in (profile.low, profile.high) if edge is not None]
    ends = [float(edge) for values in drawn for edge in (values.min(), values.max())]
    scale = round_scale(ends, from_zero=min(ends) < 0.5 * max(ends), steps=3)

    def points(values: FloatArray) -> list[tuple[float, float]]:
        return [
            (across.at(float(z), _LEFT, span), top + _PANEL - scale.at(float(v), 0.0, _PANEL))
            for z, v in zip(position, values, strict=True)
        ]

    parts = [text(0, top - 8, profile.label, 10, font_weight="600")]
    for tick in scale.ticks:
        y = top + _PANEL - scale.at(tick, 0.0, _PANEL)
        parts.append(line(_LEFT, y, width - _RIGHT, y, stroke=GRID, stroke_width=0.6))
        parts.append(text(_LEFT - 5, y + 3, scale.words(tick), 9, fill=QUIET, text_anchor="end"))
    if profile.low is not None and profile.high is not None:
        around = [*points(profile.high), *reversed(points(profile.low))]
        parts.append(polygon(around, fill=ACCENT, fill_opacity=0.2))
    for at, (words, values) in enumerate(profile.others):
        dash = ("5 3", "2 2", "7 2 2 2")[at % 3]
        parts.append(_curve(points(values), INK, 1.0, dash))
        parts.append(_key_line(words, dash, at, width, top))
    parts.append(_curve(points(profile.values), ACCENT, 1.8, ""))
    return parts


def _curve(points: Sequence[tuple[float, float]], colour: str, weight: float, dash: str) -> str:
    commands = "M" + " ".join(f"{x:.1f} {y:.1f}" for x, y in points)
    return path(
        commands,
        fill="none",
        stroke=colour,
        stroke_width=weight,
        **({"stroke_dasharray": dash} if dash else {}),
    )


def _key_line(words: str, dash: str, at: int, width: float, top: float) -> str:
    """Words of a second curve, at the right above its panel."""
    right = width - _RIGHT - at * 130.0
    sample = line(right - 22, top - 11, right, top - 11, stroke=INK, stroke_dasharray=dash)
    return text(right - 27, top - 8, words, 9, fill=QUIET, text_anchor="end") + sample
