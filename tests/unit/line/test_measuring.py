"""Measuring tank: device inside its range, surplus always positive."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.unit.line.lines_for_tests import FEED, small_line

from cakewright.line import Metering, design
from cakewright.line.weirs import weir_choice
from cakewright.physics.weirs import (
    flow_v_notch_kindsvater_shen,
    v_notch_coefficient,
    v_notch_head_correction,
)
from cakewright.quantities import Status


def _keys(**changes: object) -> set[str]:
    return {f.key for f in design(small_line(**changes)).findings}


def test_chosen_notch_passes_the_span_inside_its_range() -> None:
    """Heads at lowest and highest flow give the flows back and lie in the range."""
    low, high = 4 / 3600, 8 / 3600
    found = weir_choice(low, high, 0.06, 0.38, 0.25)
    assert found.status is Status.INSIDE
    assert found.head_low >= 0.06
    args = found.angle, v_notch_coefficient(found.angle), v_notch_head_correction(found.angle)
    back = np.asarray(
        flow_v_notch_kindsvater_shen(np.array([found.head_low, found.head_high]), *args)
    )
    assert back == pytest.approx([low, high], rel=1e-9)


def test_small_flow_takes_a_narrower_notch() -> None:
    """2 m3/h is below the range of 90 degrees: a narrower notch is taken instead."""
    found = weir_choice(2 / 3600, 3 / 3600, 0.06, 0.38, 0.25)
    assert 0 < found.angle < np.pi / 2


def test_weir_outside_its_range_is_a_finding() -> None:
    """A flow no weir measures is metered by pump and told so; a gate asked for is a finding."""
    tiny = replace(FEED, volume_flow=2 / 86400.0)
    line = design(small_line(feed=tiny))
    assert line.chosen_way.way.key == "metered"
    assert any("no notch or crest measures" in reason for reason in line.chosen_way.reasons)
    asked = design(small_line(feed=tiny, metering=Metering.GATE))
    found = {f.key: f for f in asked.findings}
    assert "measuring_tank.weir_range" in found
    assert "fewer hours" in found["measuring_tank.weir_range"].change


def test_no_surplus_makes_the_line_infeasible() -> None:
    """A pump set at demand leaves nothing to overflow: infeasible, and it binds."""
    found = design(small_line(rules={"pump_surplus_share": 0.0}))
    assert not found.feasible
    assert found.binding is not None
    assert found.binding.key == "measuring_tank.no_overflow"


def test_surplus_is_the_share_of_demand() -> None:
    """Pumped less measured is the stated share at both ends of the span."""
    tank = design(small_line()).measuring_tank
    assert tank is not None
    assert tank.surplus_high == pytest.approx(0.2 * tank.pumped_high / 1.2)
    assert tank.surplus_low > 0


def test_gate_opens_for_the_flow() -> None:
    """An adjustable gate opens in proportion to the flow."""
    tank = design(small_line(metering=Metering.GATE)).measuring_tank
    assert tank is not None
    measure = tank.measure
    assert measure.kind == "adjustable gate"
    assert measure.head_high / measure.head_low == pytest.approx(1.15 / 0.5)


def test_thick_sludge_wants_calibration() -> None:
    """Above 1 % solids the plate is not trusted without a bucket test; below it is."""
    assert "measuring_tank.thick" in _keys()
    thin = replace(FEED, total_solids=0.006, volume_flow=96 / 86400.0)
    assert "measuring_tank.thick" not in _keys(feed=thin)
