"""Stirred tanks: volume, power, impeller."""

from __future__ import annotations

import numpy as np
import pytest
from tests.unit.line.lines_for_tests import FERRIC, POLYMER, small_line

from cakewright.line import design
from cakewright.line.flocculating import G_CAUTION


def test_volume_gradient_and_speed_belong_together() -> None:
    """Volume is flow times time, power is G2 mu V, tip speed is pi n D."""
    line = design(small_line())
    tank = line.stirred_tanks[-1]
    flow = float(line.balance.stream("flocculated sludge").volume_flow[0])
    assert tank.volume == pytest.approx(flow * 180.0)
    assert tank.power == pytest.approx(150.0**2 * tank.viscosity * tank.volume)
    assert tank.viscosity == pytest.approx(0.5 / 150 + 0.004)
    assert tank.tip_speed == pytest.approx(np.pi * tank.speed * tank.impeller_diameter)
    assert tank.camp == pytest.approx(27000.0)
    assert tank.gradient_water > tank.gradient


def test_impeller_grows_until_the_tip_is_slow_enough() -> None:
    """The first impeller that keeps the tip under the limit is taken, inside its range."""
    line = design(small_line())
    tank = line.stirred_tanks[-1]
    ratio = tank.impeller_diameter / tank.diameter
    assert tank.tip_speed <= 2.0
    assert 0.4 - 1e-9 <= ratio <= 0.7 + 1e-9
    gentle = design(small_line(rules={"flocculation_gradient": 60.0})).stirred_tanks[-1]
    assert gentle.impeller_diameter / gentle.diameter == pytest.approx(0.4)


def test_too_hard_mixing_is_a_finding() -> None:
    """A gradient no impeller can give gently is told, with the Camp number outside its band."""
    hard = design(small_line(rules={"flocculation_gradient": 900.0}))
    keys = {f.key for f in hard.findings}
    assert {"flocculation.tip_speed", "flocculation.camp"} <= keys


def test_first_chamber_may_mix_hard() -> None:
    """Tip speed is no limit where the first product goes in."""
    line = design(small_line(products=(FERRIC, POLYMER)))
    assert line.stirred_tanks[0].gradient == 500.0
    assert not [f for f in line.findings if f.item == "T-300"]


def test_caution_on_the_gradient_is_on_the_sheet() -> None:
    """The flocculation tank's sheet says what the gradient means."""
    assert G_CAUTION in design(small_line()).item("T-301").cautions
