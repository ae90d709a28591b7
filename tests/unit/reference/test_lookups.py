"""The small look-ups: a value as recalled, its mark, and a helpful failure for a wrong key."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from cakewright import reference as r
from cakewright.errors import UnknownNameError
from cakewright.quantities import Mark


def test_a_peak_keeps_its_ends_and_its_mark() -> None:
    """The peak day is 1.8 to 2.5 times the mean, recalled; the middle is their mean."""
    row = r.peaking("peak_day")
    assert (row.low, row.typical, row.high, row.mark) == (1.8, None, 2.5, Mark.FROM_MEMORY)
    assert row.middle == pytest.approx(2.15)


@pytest.mark.parametrize("look_up", [r.peaking, r.neighbours])
def test_a_wrong_key_fails_and_helps(look_up: Callable[[str], object]) -> None:
    """Every look-up names what it does know."""
    with pytest.raises(UnknownNameError, match="is not a"):
        look_up("no such row at all")
