"""Where the items of a line stand: ways kept, process order, the skip where the cake comes out."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cakewright.errors import OutOfRangeError
from cakewright.line.items import Footprint
from cakewright.line.layout import Layout, Place, layout_of


def item(
    tag: str, length: float, width: float, front: float = 1.0, *, out: bool = False
) -> Footprint:
    """A footprint with a metre of way at each side and half behind."""
    return Footprint(tag, tag, length, width, 1.0, front, 0.5, 1.0, 1.0, outdoors=out)


LINE = (
    item("T-101", 5.0, 5.0, out=True),
    item("P-101A", 1.8, 0.5),
    item("P-101B", 1.8, 0.5),
    item("T-301", 1.0, 1.0),
    item("D-301", 3.0, 3.0, 3.0),
    item("P-402", 0.6, 0.4),
    item("H-501", 5.6, 0.5),
    item("S-501", 4.0, 2.0, out=True),
)

SIZES = st.floats(0.3, 8.0)


def _rectangle(place: Place, front: float) -> tuple[float, float, float, float]:
    end = place.y + place.item.width + front
    return place.x, place.y, place.x + place.item.length, end


def _apart(one: tuple[float, ...], other: tuple[float, ...]) -> bool:
    beside = one[2] <= other[0] + 1e-9 or other[2] <= one[0] + 1e-9
    return beside or one[3] <= other[1] + 1e-9 or other[3] <= one[1] + 1e-9


def _check(found: Layout) -> None:
    for at, one in enumerate(found.inside):
        x, y, right, bottom = _rectangle(one, one.item.access_front)
        assert x >= one.item.access_left - 1e-9
        assert y >= one.item.access_back - 1e-9
        assert right + one.item.access_right <= found.length + 1e-9
        assert bottom <= found.width + 1e-9
        for other in found.inside[at + 1 :]:
            assert _apart(_rectangle(one, one.item.access_front), _rectangle(other, 0.0))
            assert _apart(_rectangle(one, 0.0), _rectangle(other, other.item.access_front))


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(SIZES, SIZES, SIZES), min_size=1, max_size=12))
def test_every_way_is_kept_free(sizes: list[tuple[float, float, float]]) -> None:
    """Any items: all within the walls with their ways, and nothing stands in a way in front."""
    items = [item(f"X-{at}", *size) for at, size in enumerate(sizes)]
    found = layout_of(items)
    assert {p.item.tag for p in found.inside} == {i.tag for i in items}
    _check(found)


def test_the_conveyor_meets_press_and_skip() -> None:
    """It stands behind the press, its end at the wall outside of which the skip stands."""
    found = layout_of(LINE)
    _check(found)
    places = {p.item.tag: p for p in (*found.inside, *found.outside)}
    tags = [p.item.tag for p in found.inside]
    assert tags.index("H-501") == tags.index("D-301") + 1
    way, skip = places["H-501"], places["S-501"]
    assert way.x + way.item.length + way.item.access_right == pytest.approx(found.length)
    assert skip.x > found.length
    assert skip.y == way.y
    assert places["T-101"].x < 0.0


def test_neighbours_share_a_way() -> None:
    """The room takes less than the sum of the spaces each would have alone."""
    three = layout_of([item(tag, 3.0, 0.5) for tag in ("P-101A", "P-101B", "P-201")])
    assert three.area < 3 * 5.0 * 2.0


@pytest.mark.parametrize("length", [0.0, -1.0, float("nan")])
def test_impossible_sizes_are_refused(length: float) -> None:
    """A footprint without size names its item and what to give."""
    with pytest.raises(OutOfRangeError, match=r"X-1: got a footprint of .* give the item's size"):
        layout_of([item("X-1", length, 1.0)])


def test_nothing_inside_is_no_room() -> None:
    """Only tanks outside: no room."""
    assert layout_of([LINE[0]]).area == 0.0
