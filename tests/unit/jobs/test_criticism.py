"""Tests and runs held against what was believed before them."""

from __future__ import annotations

import numpy as np

from cakewright.jobs.criticism import beyond
from cakewright.quantities import Basis, Figure, Mark


def _figures(cake: float, capture: float = 0.95) -> dict[str, Figure]:
    spread = 1.0 + 0.1 * np.linspace(-1.0, 1.0, 41)
    return {
        name: Figure(name, value * spread, Basis.BENCH, Mark.NONE, "OWN")
        for name, value in (("cake_solids", cake), ("capture", capture / 1.1))
    }


def test_only_what_leaves_the_band_is_told() -> None:
    """A middle inside the 95 % band is no news; one outside is, with its band and its reasons."""
    shifts = (("local_resistance", 2.4),)
    assert beyond("tests", _figures(0.16), _figures(0.168), shifts) == ()
    (one,) = beyond("tests", _figures(0.16), _figures(0.10), shifts)
    assert one.name == "cake_solids"
    assert one.value is not None
    assert one.value < one.low < 0.16 < one.high
    assert one.shifts == shifts


def test_a_cake_lost_is_told_once() -> None:
    """No cake after the tests where there was one before; few draws have no band to leave."""
    (one,) = beyond("tests", _figures(0.16), {}, ())
    assert one.value is None
    assert beyond("tests", {}, _figures(0.16), ()) == ()
