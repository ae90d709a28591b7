"""Dewatering balance and capture forms."""

from __future__ import annotations

import numpy as np
import pytest

from cakewright.errors import InfeasibleError, OutOfRangeError
from cakewright.physics.balance import Additive, balance_dewatering
from cakewright.physics.capture import capture_three_stream


def test_balance_by_hand() -> None:
    """A small case done by hand: 100 kg of 2 % sludge, 95 % capture, 19 % cake, no additives."""
    balance = balance_dewatering(2.0, 0.02, 0.0, 0.19, 0.95)
    assert balance.streams["cake"].mass == pytest.approx(10.0)
    assert balance.streams["filtrate"].mass == pytest.approx(90.0)
    assert balance.streams["filtrate"].suspended == pytest.approx(0.1)


def test_dissolved_solids_follow_the_water() -> None:
    """Cake and filtrate hold dissolved matter at one concentration; the cake's total stands."""
    balance = balance_dewatering(2.0, 0.02, 0.3, 0.25, 0.9)
    cake, filtrate = balance.streams["cake"], balance.streams["filtrate"]
    assert cake.total_solids == pytest.approx(0.25)
    assert cake.dissolved / cake.water == pytest.approx(float(filtrate.dissolved / filtrate.water))


def test_wash_water_never_enters_the_cake() -> None:
    """Wash water changes the filtrate only."""
    dry = balance_dewatering(2.0, 0.02, 0.1, 0.2, 0.95)
    wet = balance_dewatering(2.0, 0.02, 0.1, 0.2, 0.95, wash_flow=0.5)
    assert wet.streams["cake"].mass == pytest.approx(float(dry.streams["cake"].mass))
    gain = wet.streams["filtrate"].volume - dry.streams["filtrate"].volume
    assert gain == pytest.approx(0.5)


def test_conditioner_is_kept_apart_from_sludge() -> None:
    """Capture counts the sludge's own solids; the conditioner keeps its own retained share."""
    lime = Additive("lime", 0.4, 3.6, 0.75)
    balance = balance_dewatering(2.0, 0.02, 0.0, 0.3, 0.9, [lime])
    cake = balance.streams["cake"]
    assert cake.suspended == pytest.approx(1.8)
    assert cake.conditioner == pytest.approx(0.3)


def test_cake_wetter_than_feed_is_infeasible() -> None:
    """A cake thinner than the sludge would need more water than arrives."""
    with pytest.raises(InfeasibleError, match="more water than arrives"):
        balance_dewatering(2.0, 0.04, 0.0, 0.03, 0.95)


def test_cake_thinner_than_its_liquor_is_infeasible() -> None:
    """With nearly all solids dissolved the cake cannot be as thin as its own liquor."""
    with pytest.raises(InfeasibleError, match="its own liquor"):
        balance_dewatering(2.0, 0.30, 0.95, 0.20, 0.95)


def test_capture_forms_agree_without_added_water() -> None:
    """Concentrations, losses and cake give one capture when two streams leave and none enters."""
    balance = balance_dewatering(2.0, 0.02, 0.0, 0.2, 0.93, density_dry=1000, density_water=1000)
    s, c, f = (balance.streams[key] for key in ("sludge", "cake", "filtrate"))
    assert capture_three_stream(s.total_solids, c.total_solids, f.total_solids) == pytest.approx(
        0.93
    )
    assert 1.0 - f.suspended / s.suspended == pytest.approx(0.93)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: capture_three_stream(0.2, 0.1, 0.001), "filtrate < feed < cake"),
        (lambda: capture_three_stream(0.02, 0.2, 0.03), "filtrate < feed < cake"),
        (lambda: capture_three_stream(0.02, 0.2, 0.001, 0.5), "use the loss form"),
    ],
)
def test_capture_forms_say_when_they_are_invalid(call: object, words: str) -> None:
    """Each form refuses what it cannot take, and says why."""
    assert callable(call)
    with pytest.raises(OutOfRangeError, match=words):
        call()


def test_balance_broadcasts() -> None:
    """Scalars and arrays over samples mix freely."""
    balance = balance_dewatering(
        2.0, np.array([0.01, 0.02, 0.03]), 0.05, 0.2, np.array([0.9, 0.92, 0.95])
    )
    assert balance.streams["cake"].mass.shape == (3,)
    assert max(balance.closure.values()) < 1e-12
