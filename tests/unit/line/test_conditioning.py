"""Conditioning: doses, tanks, pump span, chemistry, findings."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.unit.line.lines_for_tests import FEED, FERRIC, POLYMER, small_line

from cakewright.line import LineDesign, Product, design
from cakewright.line.case import case_of
from cakewright.line.conditioning import dose_of


def _designed(*products: Product, **changes: object) -> LineDesign:
    return design(small_line(products=products or (POLYMER,), **changes))


def _keys(found: LineDesign) -> set[str]:
    return {f.key for f in found.findings}


def test_dose_per_volume_is_dose_per_solids() -> None:
    """84 g/m3 on 12.03 kg DS/m3 is 6.98 g/kg."""
    case = case_of(small_line())
    per_volume = replace(POLYMER, dose_per_volume=0.084)
    assert float(dose_of(case, per_volume)[0]) == pytest.approx(0.084 / (0.012 * case.density[0]))


def test_active_and_supplied_differ_by_activity() -> None:
    """As supplied times activity is active, in the flow and over the day."""
    line = _designed().products[0]
    assert float(line.as_supplied[0]) * line.activity == pytest.approx(float(line.active[0]))


def test_pump_spans_load_and_dose() -> None:
    """Turndown is load span times dose span times margin."""
    pump = _designed().products[0].pump
    assert pump.turndown == pytest.approx((9 / 6 * 1.15) / (4 / 6 * 0.5), rel=1e-9)


def test_wide_span_wants_two_pumps() -> None:
    """A span above ten to one is a finding with two pumps as the way out."""
    found = _designed(replace(POLYMER, dose_low=0.001, dose_high=0.012))
    turn = next(f for f in found.findings if f.key == "pump.turndown")
    assert "two pumps" in turn.change


def test_dose_beyond_the_pump_is_infeasible() -> None:
    """A pump that is there but too small stops the line and says how far to go."""
    found = _designed(replace(POLYMER, pump_high=50 / 3.6e6))
    assert not found.feasible
    assert found.binding is not None
    assert found.binding.key == "conditioning.pump_range"
    need = found.products[0].pump.flow_high / (50 / 3.6e6)
    assert found.binding.margin == pytest.approx(need)
    assert f"{need:.2f} times" in found.binding.change


def test_dose_below_the_pump_is_a_change() -> None:
    """A pump too large at the bottom over-doses: a finding, not a stop."""
    found = _designed(replace(POLYMER, pump_low=200 / 3.6e6))
    assert found.feasible
    assert "conditioning.pump_range_low" in _keys(found)


def test_strength_and_ageing_outside_their_bands_are_findings() -> None:
    """2 % powder solution aged five minutes is told twice."""
    keys = _keys(_designed(replace(POLYMER, stock=0.02, ageing=300.0)))
    assert {"conditioning.strength", "conditioning.ageing"} <= keys


def test_old_solution_is_told_where_it_stands_over_the_weekend() -> None:
    """A batch left over the weekend is older than its life; with runs every hour it is not."""
    from cakewright.line import RunPattern

    assert "conditioning.solution_life" in _keys(_designed())
    assert "conditioning.solution_life" not in _keys(_designed(run=RunPattern(24.0, 7, 0.0)))


def test_solution_polymer_needs_no_tanks() -> None:
    """Solution polymers are diluted, not aged."""
    line = _designed(Product("solution", "solution", 0.008)).products[0]
    assert line.tanks == 0
    assert line.tank_volume == 0.0


def test_two_products_get_a_first_chamber() -> None:
    """A coagulant enters a hard-mixed chamber, the polymer the flocculation tank."""
    found = _designed(FERRIC, POLYMER)
    assert [t.tag for t in found.stirred_tanks] == ["T-300", "T-301"]
    targets = {(e.source, e.target) for e in found.graph.edges}
    assert ("P-201", "T-300") in targets
    assert ("P-202", "T-301") in targets


def test_iron_takes_alkalinity() -> None:
    """More iron than the alkalinity bears is a finding; with enough alkalinity it is not."""
    assert "conditioning.alkalinity" in _keys(_designed(FERRIC, POLYMER))
    rich = replace(FEED, alkalinity=3.0)
    found = _designed(FERRIC, POLYMER, feed=rich)
    assert not {"conditioning.alkalinity", "conditioning.ph"} & _keys(found)
    assert found.products[0].ph is not None
    assert found.products[0].ph < 7.0


def test_conditioner_solids_reach_the_cake() -> None:
    """Hydroxide of the retained iron and polymer are in the cake's dry solids."""
    found = _designed(FERRIC, POLYMER)
    load = float(found.figures["dry_solids_flow"].point)
    expected = 0.95 * load * (0.05 * 106.87 / 162.2 + 0.006)
    assert found.figures["conditioner_in_cake"].point == pytest.approx(expected, rel=2e-3)
