"""Weighings that cannot be are named."""

from __future__ import annotations

import pytest

from cakewright.errors import OutOfRangeError
from cakewright.physics.drying_solids import (
    suspended_solids_weighed,
    total_solids_weighed,
    volatile_share_weighed,
)
from cakewright.physics.settling import charge_demand


def test_ash_and_volatile_add_up() -> None:
    """Ash share plus volatile share is one."""
    volatile = volatile_share_weighed(0.02, 0.021, 0.0203)
    assert volatile + (0.0203 - 0.02) / (0.021 - 0.02) == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: total_solids_weighed(0.02, 0.07, 0.08), "dried over wet mass"),
        (lambda: total_solids_weighed(0.02, 0.02, 0.02), "wet sample"),
        (lambda: volatile_share_weighed(0.02, 0.021, 0.022), "lost on ignition"),
        (lambda: suspended_solids_weighed(1e-4, 1e-4, 1e-5, 1e-6), "residue less blank"),
        (lambda: charge_demand(-1e-6, 1.0, 1e-5), "titrant volume"),
    ],
)
def test_impossible_weighings(call, words: str) -> None:  # type: ignore[no-untyped-def]
    """Gains on drying, losses below zero and the like raise with their name."""
    with pytest.raises(OutOfRangeError, match=words):
        call()
