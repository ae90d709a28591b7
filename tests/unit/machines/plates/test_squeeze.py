"""Squeeze of a filled chamber: rest of the law, set dryness, end flow, water balance."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from cakewright.machines.plates.path import (
    ChamberGeometry,
    ChamberOperation,
    ChamberParameters,
    chamber_path,
)
from cakewright.machines.plates.squeeze import EndOfSqueeze
from cakewright.machines.pressing_path import PathResult, PressedSludge, PressLoad
from cakewright.machines.stiffening import stiffened_exponent
from cakewright.physics.compression import solidosity_equilibrium, total_solids_cake

SLUDGE = PressedSludge(1350.0, 0.02, 200.0, 3.5, 2e10, 0.7, 0.5, 0.03)
PRESS = ChamberParameters(1e10, 0.0, 1.0, 0.5, 0.4)
FRAME = ChamberGeometry(40.0, 0.032)


def _pressed(**changed: Any) -> PathResult:
    settings: dict[str, Any] = {
        "feed_pressure": 5e5,
        "initial_fill_time": 300.0,
        "fill_share": 0.8,
        "end_flow_share": 0.05,
        "longest_filling": 20000.0,
        "membrane_pressure": 1.5e6,
        "squeeze_time": 3000.0,
        "squeeze_end_flux": 0.0,
        "squeeze_solids": 1.0,
        "least_thickness": 0.3,
        "core_blow_time": 60.0,
        "discharge_time": 1500.0,
        "wash_time": 0.0,
        "cycles_per_wash": 1.0,
    }
    operation = ChamberOperation(**{**settings, **changed})
    return chamber_path(SLUDGE, PressLoad(1e-3, 0.03, 0.05), operation, PRESS, FRAME)


def test_long_squeeze_comes_to_rest() -> None:
    """After ten hours cloth and core are the law's rest under the membrane's pressure."""
    answer = _pressed(squeeze_time=36000.0)
    law = (np.array([0.02]), np.array([200.0]))
    exponent = stiffened_exponent(np.array([1.5e6]), *law, np.array([3.5]))
    rest = solidosity_equilibrium(1.5e6, *law, exponent)
    wanted = total_solids_cake(1.0 / rest - 1.0, 1350.0, 998.2)
    assert answer.details["end_of_squeeze"][0] == EndOfSqueeze.TIME
    for name in ("cake_solids_cloth", "cake_solids_core"):
        assert np.allclose(answer.details[name], wanted, rtol=2e-3)


@pytest.mark.parametrize("wanted", [0.24, 0.26])
def test_squeeze_ends_at_the_set_dryness(wanted: float) -> None:
    """The cake has the solids asked for, within 0.2 %, and the squeeze was shorter for it."""
    answer = _pressed(squeeze_solids=wanted)
    assert answer.details["end_of_squeeze"][0] == EndOfSqueeze.DRY
    assert np.isclose(answer.cake_solids[0], wanted, rtol=2e-3)
    assert answer.details["squeeze_time"][0] < 3000.0


def test_squeeze_ends_when_the_flow_has_died() -> None:
    """A lower end flow squeezes longer and dries more; the mean flow after it is below that set."""
    fast, slow = (_pressed(squeeze_end_flux=q) for q in (1e-5, 1e-6))
    for answer in (fast, slow):
        assert answer.details["end_of_squeeze"][0] == EndOfSqueeze.FLOW
    assert slow.details["squeeze_time"][0] > fast.details["squeeze_time"][0]
    assert slow.cake_solids[0] > fast.cake_solids[0]
    after = slow.details["filtrate_squeeze"][0] - fast.details["filtrate_squeeze"][0]
    took = slow.details["squeeze_time"][0] - fast.details["squeeze_time"][0]
    assert 1e-6 < after / took < 1e-5


def test_membrane_below_the_pump_does_not_squeeze() -> None:
    """A membrane softer than the pump leaves the cake as filled, without any time."""
    soft, none = _pressed(membrane_pressure=4e5), _pressed(membrane_pressure=0.0)
    assert soft.details["end_of_squeeze"][0] == EndOfSqueeze.NONE
    assert soft.details["squeeze_time"][0] == 0.0
    assert soft.cake_solids[0] == none.cake_solids[0]


def test_slurry_left_in_the_middle_is_pressed_too() -> None:
    """Filling cut short before the cakes meet: the squeeze still makes one cake, and thinner."""
    short = _pressed(longest_filling=600.0, squeeze_time=20000.0, least_thickness=0.0)
    full = _pressed(squeeze_time=20000.0)
    assert short.answered[0]
    assert short.details["cake_thickness"][0] < 0.5 * full.details["cake_thickness"][0]
    assert np.isclose(short.cake_solids[0], full.cake_solids[0], rtol=0.01)


def test_too_thin_a_cake_is_no_cake() -> None:
    """Below the thickness the membranes reach there is no answer, but the cause."""
    thin = _pressed(longest_filling=600.0, least_thickness=0.4)
    assert not thin.answered[0]
    assert thin.margins["filling"][0] < 0.0
    assert np.isnan(thin.cake_solids[0])
