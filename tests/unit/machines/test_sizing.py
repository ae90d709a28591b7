"""Sizing by hand, one out of service, plate cycles, the choice and why not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from cakewright.errors import UnknownNameError
from cakewright.machines import (
    Duty,
    Frame,
    Kind,
    OneOut,
    Plan,
    choose,
    frame_named,
    machine,
    shipped_catalogue,
    size,
)
from cakewright.machines.capacity import class_factor
from cakewright.reference import band_conditions
from cakewright.sludge import Composition, Feed, Sludge, blend, run_load

HOUR = 3600.0


def _feed(kg_h: float, total_solids: float = 0.015, key: str = "was") -> Feed:
    """A feed of the band's own kind whose mean load over the whole week is ``kg_h``."""
    usual = band_conditions(key)
    shares = {"ash": usual.ash, "oil": usual.oil, "fibre": usual.fibre}
    made = Composition(total_solids, temperature=usual.temperature, **shares)
    return blend([Sludge.of("one", key, kg_h / HOUR, made)])


def _plan(feed: Feed, frame: Frame, duty: Duty, peak: float = 1.0) -> Plan:
    kind = machine(frame.machine)
    load = run_load(feed, duty.hours_per_day, duty.days_per_week, peak)
    return size(kind, frame, feed, load, duty, kind.performance(feed, duty))


def _frame(name: str) -> Frame:
    return frame_named(name, shipped_catalogue())


def test_sizing_by_hand() -> None:
    """10 kg/h all week is 42 kg/h in 40 h: 56 with peak 1.2 and 11 % spare; two of 30.2 do."""
    duty = Duty(1 / 3, 5, spare_capacity=0.11)
    plan = _plan(_feed(10.0), _frame("disc 200 x 2"), duty, peak=1.2)
    assert plan.machines == 2
    assert plan.standby == 0
    assert plan.binding == "dry solids"
    assert plan.figures["utilisation"].point == pytest.approx(50.4 / 60.4, rel=0.01)
    assert plan.figures["run_hours_per_day"].point * 24 == pytest.approx(
        8 * 42 / 60.4 * 1.11, rel=0.01
    )


def test_thin_feed_is_limited_by_water() -> None:
    """At 0.4 % the water binds and takes more machines than the solids would."""
    duty = Duty(1 / 3, 5)
    thick = _plan(_feed(10.0, 0.015), _frame("disc 250 x 2"), duty)
    thin = _plan(_feed(10.0, 0.004), _frame("disc 250 x 2"), duty)
    assert (thick.binding, thin.binding) == ("dry solids", "water")
    assert thin.machines > thick.machines


def test_one_shaft_out_leaves_the_others_running() -> None:
    """A four-shaft press keeps three quarters; a drum of like size keeps nothing."""
    duty = Duty(1 / 3, 5)
    disc = _plan(_feed(10.0), _frame("disc 320 x 4"), duty)
    drum = _plan(_feed(10.0), _frame("drum 600"), duty)
    whole = 1.0 / disc.figures["utilisation"].point
    assert disc.figures["capacity_one_out"].point == pytest.approx(0.75 * whole)
    assert drum.figures["capacity_one_out"].point == 0.0
    assert "run_hours_one_out" not in drum.figures


def test_hours_with_one_shaft_out_by_hand() -> None:
    """42 kg/h in 8 h on three quarters of 154 kg/h takes 2.91 h."""
    plan = _plan(_feed(10.0), _frame("disc 320 x 4"), Duty(1 / 3, 5))
    hours = plan.figures["run_hours_one_out"].point * 24.0
    assert hours == pytest.approx(8 * 42 / (154 * 0.75), rel=0.001)


def test_energy_by_hand() -> None:
    """1.87 kW over the hours run in a week, over 1,680 kg of solids a week."""
    plan = _plan(_feed(10.0), _frame("disc 320 x 4"), Duty(1 / 3, 5))
    hours_per_week = 5 * 8 * 42 / 154
    expected = 1870.0 * hours_per_week * HOUR / 1680.0
    assert plan.figures["specific_energy"].point == pytest.approx(expected, rel=0.001)


def test_one_out_rule_adds_a_machine_only_where_it_must() -> None:
    """Reduced duty with one out: a multi-shaft press stays alone, a drum gets a second."""
    duty = Duty(1 / 3, 5, one_out=OneOut.REDUCED)
    assert _plan(_feed(10.0), _frame("disc 320 x 4"), duty).machines == 1
    assert _plan(_feed(10.0), _frame("drum 600"), duty).machines == 2


def test_full_duty_with_one_out_counts_the_standby() -> None:
    """Full duty with the machine out: one more, counted as standby."""
    plan = _plan(_feed(10.0), _frame("drum 600"), Duty(1 / 3, 5, one_out=OneOut.FULL))
    assert (plan.machines, plan.standby) == (2, 1)
    assert plan.figures["capacity_one_out"].point >= 1.0


def test_plate_press_works_in_whole_cycles() -> None:
    """Cycles per day are whole and enough; a shift shorter than a cycle is told as such."""
    feed, frame = _feed(5.0, 0.03), _frame("chambers 800 x 40")
    plan = _plan(feed, frame, Duty(1 / 3, 5))
    cycles = plan.figures["cycles_per_day"].point
    assert cycles == int(cycles)
    per_cycle = plan.capacity.solids_per_cycle
    assert per_cycle is not None
    assert cycles * per_cycle[0] * plan.machines >= 5.0 * 24 * 7 / 5
    short = _plan(feed, frame, Duty(0.5 / 24, 5, largest_number=1000))
    assert (short.feasible, short.binding) == (False, "cycle")


def test_plate_capacity_is_solids_per_cycle_over_the_published_cycle() -> None:
    """A membrane press on biological sludge: 90 to 180 min published, so 135 min a cycle."""
    plan = _plan(_feed(5.0, 0.015), _frame("membranes 800 x 40"), Duty(1 / 3, 5))
    cycle, per_cycle = plan.capacity.cycle_time, plan.capacity.solids_per_cycle
    assert cycle is not None
    assert per_cycle is not None
    assert cycle == pytest.approx(135 * 60)
    assert plan.capacity.dry_solids_flow == pytest.approx(per_cycle / (135 * 60))
    assert "P05" in plan.capacity.source.split()


def test_conditioner_fills_chambers() -> None:
    """Lime and iron take their room: less sludge per cycle."""
    feed, frame = _feed(5.0, 0.03), _frame("chambers 800 x 40")
    kind, duty = machine(frame.machine), Duty(1 / 3, 5)
    plain = kind.performance(feed, duty)
    kept = replace(plain["polymer_dose"], name="conditioner_kept", samples=np.array([0.3]))
    bare = kind.capacity(frame, feed, duty, plain).dry_solids_flow[0]
    limed = kind.capacity(frame, feed, duty, plain.replaced(kept)).dry_solids_flow[0]
    assert bare / limed == pytest.approx(1.3, rel=0.01)


def test_belt_loading_moves_with_the_recalled_table_only() -> None:
    """Primary sludge loads a belt about four times as high; a screw press gets no credit."""
    belt, source, _ = class_factor(Kind.BELT_PRESS, "primary", "was")
    assert belt == pytest.approx(455.0 / 112.5, rel=0.05)
    assert "MEM" in source
    assert class_factor(Kind.MULTI_DISC_SCREW_PRESS, "primary", "was")[0] == 1.0
    plan = _plan(_feed(10.0, 0.04, "primary"), _frame("belt 1 m"), Duty(1 / 3, 5))
    assert plan.capacity.dry_solids_flow[0] * HOUR == pytest.approx(110 * belt)


def test_choice_prefers_fewest_machines_then_use_then_price() -> None:
    """Chosen is first, alone and explained; larger, dearer and multiple frames say why not."""
    feed, duty = _feed(10.0), Duty(1 / 3, 5)
    kind = machine("multi_disc_screw_press")
    load = run_load(feed, 1 / 3, 5)
    plans = choose(kind, shipped_catalogue(), feed, load, duty, kind.performance(feed, duty))
    best = plans[0]
    assert [plan.chosen for plan in plans] == [True] + [False] * (len(plans) - 1)
    assert best.machines == 1
    assert 0.6 <= best.figures["utilisation"].point <= 0.9
    whys = {plan.frame.name: plan.why for plan in plans}
    assert "larger than need be" in whys["disc 320 x 5"]
    assert "takes 2 machines instead of 1" in whys["disc 200 x 2"]
    assert len(plans) == sum(f.machine is kind.kind for f in shipped_catalogue())


def test_what_does_not_fit_says_why() -> None:
    """Too many machines and too little floor are named."""
    feed = _feed(1500.0)
    kind = machine("multi_disc_screw_press")
    duty = Duty(1 / 3, 5, largest_number=2)
    load = run_load(feed, 1 / 3, 5)
    plans = choose(kind, shipped_catalogue(), feed, load, duty, kind.performance(feed, duty))
    assert not any(plan.feasible for plan in plans)
    assert all("at most 2 are allowed" in plan.why for plan in plans)
    tight = _plan(_feed(10.0), _frame("disc 320 x 4"), Duty(1 / 3, 5, floor_area=2.0))
    assert (tight.feasible, tight.binding) == (False, "floor area")


def test_counts_are_set_on_the_point_case_and_bands_follow() -> None:
    """Sample 0 sets the number; use over samples follows the load of each sample."""
    flows = np.array([10.0, 5.0, 20.0]) / HOUR
    feed = blend([Sludge.of("one", "was", flows, Composition(0.015, 0.25))])
    plan = _plan(feed, _frame("disc 250 x 2"), Duty(1 / 3, 5))
    assert plan.machines == 1
    use = plan.figures["utilisation"].samples
    assert use[2] / use[1] == pytest.approx(4.0)


def test_frame_figures_take_the_place_of_the_envelopes() -> None:
    """Energy, water and sound of a plan go into the performance of the kind."""
    feed, duty = _feed(10.0), Duty(1 / 3, 5)
    plan = _plan(feed, _frame("disc 250 x 2"), duty)
    performance = machine("multi_disc_screw_press").performance(feed, duty)
    merged = performance.replaced(*plan.performance_figures())
    assert merged["specific_energy"] is plan.figures["specific_energy"]
    assert merged["cake_solids"] is performance["cake_solids"]


def test_unknown_kind_names_the_nearest() -> None:
    """A misspelt kind is refused with the nearest one."""
    with pytest.raises(UnknownNameError, match="did you mean 'decanter'"):
        machine("decantor")


def test_shafts_count_over_all_machines() -> None:
    """Three machines of two shafts are six shafts."""
    plan = _plan(_feed(10.0), _frame("disc 200 x 2"), Duty(1 / 3, 5))
    assert replace(plan, machines=3).shafts == 6
