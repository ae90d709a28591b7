"""Quantities an item is sized by: what the pumps of a plate press do over a cycle."""

from __future__ import annotations

import pytest
from tests.unit.line.lines_for_tests import kind_line

from cakewright.line.case import case_of
from cakewright.line.design import design
from cakewright.line.duty_numbers import duty_numbers, programme_times
from cakewright.machines import Kind


@pytest.mark.parametrize("kind", [Kind.CHAMBER_PRESS, Kind.MEMBRANE_PRESS])
def test_work_of_the_press_pump_is_pressure_times_volume(kind: Kind) -> None:
    """Over a cycle the pump does no more than the last pressure times the charge, and no less than
    the first step's pressure times it."""
    case = case_of(kind_line(kind))
    numbers, steps = duty_numbers(case), case.chosen.piece.programme
    cycle = case.inputs.presses[0].cycle_time
    work = numbers["pressed_share"] * numbers["first_flow"] * cycle  # over the last pressure
    assert work < numbers["cycle_feed"] * (1 + 1e-9)
    first = min(step.pressure for step in steps) / max(step.pressure for step in steps)
    assert work > first * numbers["cycle_feed"] * (1 - 1e-9)
    times = programme_times(steps, cycle, case.inputs.presses[0].kind)
    shares = [t * 0.5 * (s.flow_start + s.flow_end) for t, s in zip(times, steps, strict=True)]
    assert sum(shares) * numbers["first_flow"] == pytest.approx(numbers["cycle_feed"])


@pytest.mark.parametrize("kind", [Kind.CHAMBER_PRESS, Kind.MEMBRANE_PRESS])
def test_fill_pump_runs_while_it_fills(kind: Kind) -> None:
    """The pump that fills stands for the rest of the cycle; the one that presses does not run at
    its full load all the time."""
    line = design(kind_line(kind))
    shares = {motor.item: motor.running_share for motor in line.motors}
    assert 0.0 < shares["P-101"] < 0.3
    assert 0.1 < shares["P-301"] < 0.7
