"""Streams, checks and blends."""

from __future__ import annotations

import numpy as np
import pytest

from cakewright.errors import OutOfRangeError
from cakewright.sludge import Composition, Sludge, blend, sludge_direct


def _one(name: str = "one", key: str = "was", flow: float = 0.01, **changes: float) -> Sludge:
    return _made(name, key, flow, changes)


def _made(name: str, key: str, flow: float, changes: dict[str, float]) -> Sludge:
    return Sludge.of(name, key, flow, Composition(**{"total_solids": 0.01, "ash": 0.2, **changes}))


def test_arrays_broadcast_to_one_length() -> None:
    """Scalars beside an array take its length."""
    sludge = Sludge.of("one", "was", 0.01, Composition(np.array([0.01, 0.02, 0.03]), 0.2))
    assert sludge.size == 3
    assert sludge.ash.shape == sludge.volume_flow.shape == (3,)


def test_flow_and_solids_round_trip() -> None:
    """A sludge given by volume gives that volume back."""
    sludge = sludge_direct("one", "was", Composition(0.02, 0.3), 0.001)
    assert sludge.volume_flow[0] == pytest.approx(0.001, rel=1e-12)
    assert sludge.dry_solids_flow[0] == pytest.approx(0.02, rel=0.01)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"total_solids": 8000.0}, "total solids: got 8000"),
        ({"total_solids": 1.0}, "total solids: got 1"),
        ({"ash": -0.1}, "ash: got -0.1"),
        ({"ash": 0.8, "oil": 0.4}, "oil burns off"),
        ({"chloride": -1.0}, "chloride"),
        ({"fibre": float("nan")}, "fibre"),
    ],
)
def test_nonsense_is_refused_by_name(changes: dict[str, float], words: str) -> None:
    """Each impossible composition is refused with the sludge's name and what is allowed."""
    with pytest.raises(OutOfRangeError, match=f"^one: .*{words}"):
        _made("one", "was", 0.01, changes)


def test_blend_by_hand() -> None:
    """Shares by dry mass, water by mass: a case done by hand."""
    feed = blend([_one("a", "was", 1.0, total_solids=0.01), _one("b", "primary", 3.0, ash=0.4)])
    assert feed.shares["was"] == pytest.approx(0.25)
    assert feed.mix.ash == pytest.approx(0.25 * 0.2 + 0.75 * 0.4)
    assert feed.mix.total_solids == pytest.approx(4.0 / (1.0 / 0.01 + 3.0 / 0.01))


def test_blend_of_two_of_one_class_adds_their_shares() -> None:
    """Two sludges of one class make one share."""
    feed = blend([_one("a"), _one("b")])
    assert list(feed.shares) == ["was"]
    assert feed.shares["was"] == pytest.approx(1.0)


def test_blend_of_nothing_is_refused() -> None:
    """No sludge at all is refused."""
    with pytest.raises(OutOfRangeError, match="no sludge"):
        blend([])


def test_acid_part_pulls_the_blend_down() -> None:
    """Hydrogen ions add up: equal parts of pH 5 and 7 give about 5.3, not 6."""
    feed = blend([_one("a", ph=5.0), _one("b", ph=7.0)])
    assert feed.mix.ph[0] == pytest.approx(5.2967, abs=0.001)
