"""Level profiles and sections: to scale, and nothing on anything else."""

from __future__ import annotations

import pytest
from tests.unit.line.lines_for_tests import kind_line

from cakewright.errors import OutOfRangeError
from cakewright.line.design import design
from cakewright.line.layout import layout_of
from cakewright.line.levels import Level, bases, levels
from cakewright.machines import Kind
from cakewright.reports.drawings.check import overlaps
from cakewright.reports.drawings.level_profile import level_profile
from cakewright.reports.drawings.plot_plan import plan_scale, plot_plan
from cakewright.reports.drawings.section import room_rows, room_sections
from cakewright.reports.drawings.shapes import Stroke, Words


@pytest.mark.parametrize("kind", list(Kind))
def test_nothing_overlaps_and_everything_is_told(kind: Kind) -> None:
    """Every level with its height; every item inside in one section, with its height."""
    line = design(kind_line(kind))
    found = levels(line)
    profile = level_profile(found, "levels")
    sections = room_sections(line.layout, 4.5, bases(found), "sections")
    assert overlaps(profile) == []
    assert overlaps(sections) == []
    told = {s.text for s in profile.shapes if isinstance(s, Words)}
    assert {f"{x.height:+.2f} {x.what}" for x in found} <= told
    words = {s.text.split()[0] for s in sections.shapes if isinstance(s, Words)}
    assert {place.item.tag for place in line.layout.inside} <= words
    assert len({w for w in words if "–" in w}) == len(room_rows(line.layout))
    marks = {s.text for s in plot_plan(line.layout, "plan").shapes if isinstance(s, Words)}
    assert len(marks & {"A", "B", "C", "D", "E", "F"}) >= len(room_rows(line.layout)) - 1


def test_heights_are_to_scale() -> None:
    """An item on a stand of 1 m stands 1 m over the floor of its section."""
    line = design(kind_line(Kind.MULTI_DISC_SCREW_PRESS))
    mm = 1000.0 / plan_scale(line.layout)
    flat, raised = (room_sections(line.layout, 4.5, feet, "s") for feet in ({}, {"D-301": 1.0}))

    def bottoms(drawing: object) -> list[float]:
        return sorted(
            max(y for _, y in s.points)
            for s in drawing.shapes  # type: ignore[attr-defined]
            if isinstance(s, Stroke) and s.layer == "footprints"
        )

    gap = [a - b for a, b in zip(bottoms(flat), bottoms(raised), strict=True) if a != b]
    assert max(gap) == pytest.approx(mm * 1.0)


def test_levels_close_together_keep_their_words_apart() -> None:
    """Five levels within a hand's breadth: five words, none on another."""
    held = [Level("T", f"level {n}", 1.0 + 0.01 * n, True, "liquid", "") for n in range(5)]
    assert overlaps(level_profile(held, "levels")) == []


def test_nothing_to_draw_is_refused() -> None:
    """No level, no item: an error, not an empty sheet."""
    with pytest.raises(OutOfRangeError, match="at least one level"):
        level_profile((), "levels")
    with pytest.raises(OutOfRangeError, match="at least one item"):
        room_sections(layout_of([]), 4.5, {}, "s")
