"""Charts: what is drawn where, self-contained, and the same each time."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Callable

import numpy as np
import pytest

from cakewright.jobs.findings import Answer
from cakewright.quantities import Band
from cakewright.reports.figures.bands import BandRow, Scale, band_chart, band_strip, round_scale
from cakewright.reports.figures.cost_stack import CostBar, figure_cost_stack
from cakewright.reports.figures.curves import Curve, figure_break_even
from cakewright.reports.figures.glyphs import answer_glyph
from cakewright.reports.figures.operating_grid import GridCell, figure_operating_grid
from cakewright.reports.figures.operating_map import figure_operating_map
from cakewright.reports.figures.plot import Plot
from cakewright.reports.figures.press_profile import Profile, figure_press_profile
from cakewright.reports.figures.tornado import Swing, figure_tornado
from cakewright.reports.figures.week import figure_week
from cakewright.reports.palette import ACCENT, COLOURS, themed

ROW = BandRow("a press", Band(16.0, 18.0, 20.0), 18.5, chosen=True, value_text="18.5")
OTHER = BandRow("a decanter", Band(19.0, 21.0, 23.0), 21.0, value_text="21.0")
X = np.linspace(1.0, 5.0, 12)
ALT = 'shows "a" < b'


def _map() -> str:
    x, y = np.meshgrid(X, X)
    return figure_operating_map(
        X, X, 20.0 - x, y < x + 2, x_label="x", y_label="y", result_label="r", alt=ALT, point=(2, 2)
    )


FIGURES: dict[str, Callable[[], str]] = {
    "strip": lambda: band_strip(ROW, [OTHER], round_scale([16, 23]), ALT),
    "chart": lambda: band_chart([ROW, OTHER], "cake solids", "%", ALT),
    "tornado": lambda: figure_tornado([Swing("oil", 19, 15, "6", "20")], 18, "cake", "%", ALT),
    "cost": lambda: figure_cost_stack(
        [CostBar("a", (1.0, 2.0), "3", True), CostBar("b", (2.0, 2.0), "4")],
        ["x", "y"],
        "t",
        "u",
        ALT,
    ),
    "map": _map,
    "profile": lambda: figure_press_profile(
        X,
        [Profile("p", X**2, X, X**2 + 1, (("other", X),))],
        [("one", 1, 3), ("two", 3, 5)],
        x_label="z",
        alt=ALT,
    ),
    "grid": lambda: figure_operating_grid(
        ["1", "2"],
        ["10", "20"],
        [[GridCell("18.0"), GridCell("plate", feasible=False)], [GridCell("17", meets=False)] * 2],
        title="t",
        x_label="x",
        y_label="y",
        alt=ALT,
        chosen=(0, 0),
    ),
    "break-even": lambda: figure_break_even(
        X, [Curve("a", X, chosen=True), Curve("b", 6 - X)], x_label="x", y_label="y", alt=ALT, now=2
    ),
    "week": lambda: figure_week(
        np.linspace(0, 168, 50),
        np.ones(50),
        np.ones(50) * 0.5,
        np.ones(50) * 2,
        3.0,
        [(7, 15)],
        y_label="level",
        alt=ALT,
    ),
}


@pytest.mark.parametrize("name", sorted(FIGURES))
def test_figures_are_whole_and_alone(name: str) -> None:
    """Well-formed, with words for a reader, no address outside, no style that leaks."""
    svg = FIGURES[name]()
    root = ET.fromstring(svg)
    assert root.get("aria-label") == ALT
    assert root.get("viewBox")
    assert "<style" not in svg
    assert not re.search(r'(?:href|src)="(?!#)', svg)
    assert "nan" not in svg.lower()


@pytest.mark.parametrize("name", sorted(FIGURES))
def test_figures_are_the_same_each_time(name: str) -> None:
    """The same data give the same drawing."""
    assert FIGURES[name]() == FIGURES[name]()


@pytest.mark.parametrize("name", sorted(FIGURES))
def test_figures_use_the_house_colours_only(name: str) -> None:
    """So that dark pages and print can change every colour."""
    used = {colour.lower() for colour in re.findall(r"#[0-9a-fA-F]{6}\b", FIGURES[name]())}
    assert used <= set(COLOURS)


def test_theme_replaces_every_colour() -> None:
    """Inside a page every colour is a variable that falls back to itself."""
    page = themed(FIGURES["chart"]())
    assert f"var(--accent,{ACCENT})" in page
    assert not re.search(r'"#[0-9a-f]{6}"', page)


def test_two_charts_share_no_names() -> None:
    """Two charts on one page cannot take each other's clip paths."""
    first = set(re.findall(r'\bid="([^"]+)"', FIGURES["map"]()))
    second = set(re.findall(r'\bid="([^"]+)"', FIGURES["week"]()))
    assert first
    assert not first & second


def test_band_is_drawn_from_low_to_high() -> None:
    """The bar starts at the 10 % and ends at the 90 % point of the axis."""
    scale = round_scale([16.0, 23.0])
    svg = band_strip(ROW, [], scale, ALT)
    bar = re.search(r'<rect x="([\d.]+)" y="[\d.]+" width="([\d.]+)"', svg)
    assert bar is not None
    left, width = float(bar[1]), float(bar[2])
    assert left == pytest.approx(scale.at(16.0, 8.0, 144.0), abs=0.01)
    assert left + width == pytest.approx(scale.at(20.0, 8.0, 144.0), abs=0.02)


@pytest.mark.parametrize(
    ("values", "low", "high"),
    [
        ([16.1, 23.2], 16.0, 24.0),
        ([0.0, 0.9], 0.0, 1.0),
        ([-3.0, 7.0], -5.0, 7.5),
        ([5.0, 5.0], 4.0, 6.0),
    ],
)
def test_scales_have_round_ends_round_all_values(
    values: list[float], low: float, high: float
) -> None:
    """Steps of 1, 2, 2.5 or 5, at most four to the span; ends hold every value."""
    scale = round_scale(values)
    assert scale.low <= min(values)
    assert scale.high >= max(values)
    assert (scale.low, scale.high) == pytest.approx((low, high))


@pytest.mark.parametrize(
    ("step", "words"), [(2.5, "7.5"), (5.0, "15"), (0.2, "0.6"), (0.25, "0.75"), (100.0, "300")]
)
def test_ticks_are_written_in_full(step: float, words: str) -> None:
    """A step of 2.5 shows its half: 7.5 is never written 8."""
    assert Scale(0.0, 10 * step, step).words(3 * step) == words


def test_curve_passes_its_points() -> None:
    """A straight line over the axes is drawn from corner to corner."""
    plot = Plot.over(np.array([0.0, 10.0]), [np.array([0.0, 100.0])], width=400, height=300)
    (left, bottom), (right, top) = plot.at(0, 0), plot.at(10, 100)
    svg = plot.curve(np.array([0.0, 10.0]), np.array([0.0, 100.0]))
    assert f"M{left:.1f} {bottom:.1f} {right:.1f} {top:.1f}" in svg
    assert right > left
    assert bottom > top


def test_answers_differ_in_shape() -> None:
    """The three answers are told apart without colour."""
    assert len({answer_glyph(answer) for answer in Answer}) == 3
