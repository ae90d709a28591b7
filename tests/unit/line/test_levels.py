"""Levels of a line: gravity runs down, cake falls, and the machine stands as high as that asks."""

from __future__ import annotations

from itertools import pairwise

import pytest
from tests.unit.line.lines_for_tests import kind_line

from cakewright.line.design import design
from cakewright.line.levels import Level, bases, levels, plinth_height
from cakewright.machines import Kind


def _height(found: tuple[Level, ...], item: str, what: str) -> float:
    return next(x.height for x in found if (x.item, x.what) == (item, what))


@pytest.mark.parametrize("kind", list(Kind))
def test_gravity_runs_down(kind: Kind) -> None:
    """Crest over flocculation level over inlet; liquor outlet over pipe over sump's level."""
    found = levels(design(kind_line(kind)))
    down = [
        ("T-102", "highest level"),
        ("T-102", "crest"),
        ("T-301", "level"),
        ("D-301", "inlet"),
        ("D-301", "liquor outlet"),
        ("T-402", "pipe arrives"),
        ("T-402", "highest level"),
        ("T-402", "base"),
    ]
    there = {(x.item, x.what): x.height for x in found}
    heights = [there[key] for key in down if key in there]
    assert len(heights) >= 4
    assert all(a > b for a, b in pairwise(heights)), heights


@pytest.mark.parametrize("kind", list(Kind))
def test_cake_falls_all_the_way(kind: Kind) -> None:
    """The conveyor starts under the outlet, over the floor, and its own outlet clears the rim."""
    line = design(kind_line(kind))
    found = levels(line)
    assert _height(found, "D-301", "cake outlet") > _height(found, "H-501", "inlet") > 0.0
    clear = _height(found, "H-501", "outlet") - _height(found, "S-501", "rim")
    assert clear >= 0.3 - 1e-9
    risen = _height(found, "H-501", "outlet") - _height(found, "H-501", "inlet")
    assert risen == pytest.approx(line.conveyor.rise)


def test_a_flat_conveyor_lifts_the_machine() -> None:
    """Without rise the machine stands on a plinth as high as the rim of the skip asks."""
    line = design(kind_line(Kind.DECANTER))
    low = plinth_height(line)
    assert bases(levels(line))["D-301"] == pytest.approx(low)
    flat = design(kind_line(Kind.DECANTER, conveyor_incline=0.0))
    assert plinth_height(flat) > low + 1.0
    found = levels(flat)
    clear = _height(found, "H-501", "outlet") - _height(found, "S-501", "rim")
    assert 0.3 - 1e-9 <= clear < 0.35 + 1e-9  # no higher than asked, in steps of 5 cm
