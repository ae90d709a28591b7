"""One look for all charts: what matplotlib draws, turned into SVG that a page can take in."""

from __future__ import annotations

import re
from collections.abc import Callable
from html import escape
from io import StringIO
from typing import Any

from cakewright.reports.palette import FONT, GRID, INK, QUIET

__all__ = ["Axes", "draw", "plain_axes"]

# matplotlib has no complete types: its axes are used through its public drawing methods only.
Axes = Any

_INCH = 25.4
# The key type of these settings is a closed list that no plain dict can claim.
_SETTINGS: dict[Any, Any] = {
    "svg.fonttype": "none",
    "font.family": ["DejaVu Sans"],
    "font.size": 8.5,
    "text.color": INK,
    "axes.labelcolor": INK,
    "axes.edgecolor": QUIET,
    "axes.facecolor": "none",
    "axes.labelsize": 8.5,
    "axes.linewidth": 0.7,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.axisbelow": True,
    "axes.unicode_minus": True,
    "grid.color": GRID,
    "grid.linewidth": 0.5,
    "xtick.color": QUIET,
    "ytick.color": QUIET,
    "xtick.labelcolor": INK,
    "ytick.labelcolor": INK,
    "xtick.direction": "out",
    "ytick.direction": "out",
    "xtick.major.size": 3,
    "ytick.major.size": 3,
    "hatch.linewidth": 0.6,
    "hatch.color": QUIET,
    "figure.facecolor": "none",
    "savefig.facecolor": "none",
    "lines.linewidth": 1.4,
    "legend.frameon": False,
}


def draw(
    key: str,
    alt: str,
    paint: Callable[[Any], None],
    *,
    width_mm: float = 160.0,
    height_mm: float = 90.0,
) -> str:
    """SVG of a figure that ``paint`` fills; ``key`` keeps its inner names apart from others'."""
    from matplotlib import rc_context
    from matplotlib.backends.backend_svg import FigureCanvasSVG
    from matplotlib.figure import Figure

    with rc_context({**_SETTINGS, "svg.hashsalt": key}):
        figure = Figure(figsize=(width_mm / _INCH, height_mm / _INCH), layout="constrained")
        FigureCanvasSVG(figure)
        paint(figure)
        buffer = StringIO()
        figure.savefig(buffer, format="svg", metadata={"Date": None, "Creator": None})
    return _cleaned(buffer.getvalue(), key, alt)


def _cleaned(svg: str, key: str, alt: str) -> str:
    """The bare drawing: no prologue, no page-wide style, names of its own, house font."""
    svg = svg[svg.index("<svg") :]
    svg = re.sub(r"<metadata>.*?</metadata>", "", svg, flags=re.DOTALL)
    svg = re.sub(r"<style[^>]*>.*?</style>", "", svg, flags=re.DOTALL)
    svg = re.sub(r"<!--.*?-->\s*", "", svg, flags=re.DOTALL)
    svg = svg.replace('id="', f'id="{key}-').replace("url(#", f"url(#{key}-")
    svg = svg.replace('href="#', f'href="#{key}-')
    svg = svg.replace("'DejaVu Sans'", FONT).replace("DejaVu Sans", FONT)
    size = re.search(r'viewBox="0 0 ([\d.]+) ([\d.]+)"', svg)
    if size is None:
        raise ValueError("matplotlib wrote no viewBox")
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
        f'viewBox="{size.group(0)[9:-1]}" role="img" aria-label="{escape(alt)}" '
        'stroke-linejoin="round" stroke-linecap="butt">'
    )
    return head + svg[svg.index(">") + 1 :].strip()


def plain_axes(axes: Axes, x_label: str, y_label: str, *, grid: str = "y") -> None:
    """Names on the axes and a quiet grid."""
    axes.set_xlabel(x_label)
    axes.set_ylabel(y_label)
    if grid:
        axes.grid(visible=True, axis=grid)
