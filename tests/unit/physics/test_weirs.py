"""Weirs: there and back, the library's trap, ranges."""

from __future__ import annotations

import numpy as np
import pytest
from fluids.open_flow import Q_weir_V_Shen

from cakewright.errors import OutOfRangeError
from cakewright.physics.weirs import (
    flow_gate,
    flow_v_notch_kindsvater_shen,
    head_v_notch_kindsvater_shen,
    v_notch_coefficient,
    v_notch_head_correction,
)
from cakewright.physics.weirs_rectangular import (
    flow_rectangular_kindsvater_carter,
    head_rectangular_kindsvater_carter,
)


def test_v_notch_head_and_flow_are_inverse() -> None:
    """The head of a flow gives the flow back, over notches and flows."""
    flow = np.array([1e-4, 1e-3, 1e-2])
    for degrees in (30.0, 60.0, 90.0):
        head = head_v_notch_kindsvater_shen(flow, np.radians(degrees))
        back = np.asarray(flow_v_notch_kindsvater_shen(head, np.radians(degrees)))
        assert back == pytest.approx(flow, rel=1e-12)


def test_rectangular_head_and_flow_are_inverse() -> None:
    """The head of a flow gives the flow back, contracted and full width."""
    flow = np.array([1e-3, 1e-2, 5e-2])
    for ratio in (0.0, 0.5, 1.0):
        head = head_rectangular_kindsvater_carter(flow, 0.4, 0.3, ratio)
        back = np.asarray(flow_rectangular_kindsvater_carter(head, 0.4, 0.3, ratio))
        assert back == pytest.approx(flow, rel=1e-10)


def test_library_trap_is_still_there() -> None:
    """The open library leaves out (8/15) sqrt(2); with it both agree within 1 %."""
    angle = np.radians(45.0)
    ce, kh = v_notch_coefficient(angle), v_notch_head_correction(angle)
    ours = float(flow_v_notch_kindsvater_shen(0.6, angle, ce, kh))
    library = float(Q_weir_V_Shen(0.6, 45))
    assert abs(library / ours - 1) > 0.3
    assert library * 8 / 15 * np.sqrt(2) == pytest.approx(ours, rel=0.01)


def test_gate_flow_rises_with_opening() -> None:
    """Twice the opening is twice the flow; four times the head twice again."""
    assert flow_gate(0.3, 0.1, 0.04) == pytest.approx(2 * float(flow_gate(0.3, 0.1, 0.02)))
    assert flow_gate(1.2, 0.1, 0.02) == pytest.approx(2 * float(flow_gate(0.3, 0.1, 0.02)))


def test_notch_angles_outside_the_range_are_refused() -> None:
    """A notch of 120 degrees is outside the source's range."""
    with pytest.raises(OutOfRangeError, match="notch angle"):
        flow_v_notch_kindsvater_shen(0.1, np.radians(120.0))
