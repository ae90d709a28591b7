"""The whole line: balances, lists that agree with each other, findings for bad input, scenarios."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.unit.line.lines_for_tests import (
    FEED,
    FERRIC,
    LIME,
    POLYMER,
    PRESS,
    kind_line,
    small_line,
)

from cakewright.errors import OutOfRangeError
from cakewright.line import (
    Cake,
    EdgeKind,
    ItemKind,
    Letters,
    LineDesign,
    LineInputs,
    Outlet,
    PipeRun,
    RunPattern,
    Severity,
    SignalType,
    design,
)
from cakewright.line.air import sound_sum
from cakewright.machines import Kind
from cakewright.quantities import house_name
from cakewright.sources import source

CASES = {
    "one product": small_line(),
    "two products": small_line(products=(FERRIC, POLYMER)),
    "transfer pump": small_line(with_transfer_pump=True, letters=Letters.ISO),
    "two presses": small_line(presses=(PRESS, replace(PRESS, name="other", units=2, shafts=1))),
    "no wash water": small_line(presses=(replace(PRESS, wash_flow=0.0),)),
}


@pytest.fixture(params=list(CASES), ids=list(CASES))
def line(request: pytest.FixtureRequest) -> LineDesign:
    """Several lines of different make-up."""
    return design(CASES[request.param])


def _keys(inputs: LineInputs) -> dict[str, Severity]:
    return {f.key: f.severity for f in design(inputs).findings}


def test_balance_closes(line: LineDesign) -> None:
    """Mass, dry solids and water close to 1e-12 over the conditioned press."""
    b = line.balance
    solids_in = b.stream("feed measured").dry_solids_flow + sum(
        p.solids_flow for p in line.products
    )
    out = b.stream("cake").dry_solids_flow + b.stream("liquor returned").dry_solids_flow
    assert b.closure < 1e-12
    assert solids_in == pytest.approx(out, rel=1e-12)


def test_capture_comes_back_from_the_streams(line: LineDesign) -> None:
    """Solids lost over solids fed is one less the capture, conditioner apart."""
    b = line.balance
    lost = float(b.filtrate_solids[0])
    fed = float(b.stream("feed measured").dry_solids_flow[0])
    added = sum(float(p.solids_flow[0]) for p in line.products)
    assert lost == pytest.approx(0.05 * (fed + added), rel=1e-9)


def test_dissolved_solids_follow_the_water() -> None:
    """Salt per mass of water is the same in cake and filtrate; wash water comes on top."""
    line = design(small_line(feed=replace(FEED, dissolved_share=0.15)))
    b = line.balance
    cake, feed = b.stream("cake"), b.stream("feed measured")
    captured = 0.95 * 0.85 * float(feed.dry_solids_flow[0]) + float(b.conditioner_in_cake[0])
    cake_salt = float(cake.dry_solids_flow[0]) - captured
    cake_water = float(cake.mass_flow[0] - cake.dry_solids_flow[0])
    drain = b.stream("liquor returned")
    wash = float(b.stream("wash water").mass_flow[0])
    salt = float(drain.dry_solids_flow[0] - b.filtrate_solids[0])
    water = float(drain.mass_flow[0] - drain.dry_solids_flow[0]) - wash
    assert cake_salt / cake_water == pytest.approx(salt / water, rel=1e-9)
    assert cake.total_solids[0] == pytest.approx(0.18)


def test_rise_is_sludge_with_the_return_over_sludge_without() -> None:
    """The rise equals generated plus what is caught again, over generated."""
    found = design(small_line(cake=Cake(0.18, 0.8))).return_load
    generated, returned = float(found.generated[0]), float(found.solids[0])
    assert found.rise[0] == pytest.approx((generated + 0.9 * returned) / generated, rel=1e-9)
    assert found.passes[-1] == pytest.approx(returned, rel=2e-3)


def test_motors_and_items_name_each_other(line: LineDesign) -> None:
    """Every motor drives an item of the list; installed power is the sum of ratings."""
    tags = {i.tag for i in line.items}
    assert len(tags) == len(line.items)
    assert {m.item for m in line.motors} <= tags
    assert line.power.installed == pytest.approx(sum(m.number * m.rated_power for m in line.motors))
    assert line.power.simultaneous < line.power.installed


@pytest.mark.parametrize("kind", list(Kind))
def test_installed_power_is_the_sum_of_the_motor_list(kind: Kind) -> None:
    """The power printed for the line of every kind is what its motor list adds up to."""
    line = design(kind_line(kind))
    assert line.power.installed == pytest.approx(sum(m.installed for m in line.motors))
    assert {m.item for m in line.motors} <= {item.tag for item in line.items}


def test_motors_carry_and_start_their_load(line: LineDesign) -> None:
    """Ratings exceed the shaft power by the margin; the feed pump starts a tight stator."""
    for motor in line.motors:
        if motor.label != "press shaft drive":
            assert motor.rated_power >= 1.15 * motor.shaft_power - 1e-6
    assert line.feed_pump.start_margin >= 1.0


def test_graph_is_whole(line: LineDesign) -> None:
    """Edges join nodes that exist, every node is reached, no two nodes share a place."""
    nodes = {n.tag for n in line.graph.nodes}
    ends = {e.source for e in line.graph.edges} | {e.target for e in line.graph.edges}
    assert ends == nodes
    assert len(nodes) == len(line.graph.nodes)
    places = [(n.stage, n.lane) for n in line.graph.nodes]
    assert len(set(places)) == len(places)
    numbers = {s.number for s in line.streams}
    assert {e.stream for e in line.graph.edges if e.kind is not EdgeKind.SIGNAL} <= numbers


def test_signals_belong_to_items(line: LineDesign) -> None:
    """Each signal sits on an item, its tag is unique, its range is not empty."""
    tags = {i.tag for i in line.items}
    assert {s.item for s in line.signals} <= tags
    assert len({s.tag for s in line.signals}) == len(line.signals)
    for signal in line.signals:
        house_name(signal.name)
        assert signal.high > signal.low
        if signal.signal is SignalType.DI:
            assert signal.alarms


def test_interlocks_cite_signals_of_the_list(line: LineDesign) -> None:
    """Every interlock names a signal that is there, and people are protected by hand reset."""
    tags = {s.tag for s in line.signals}
    assert line.interlocks
    for lock in line.interlocks:
        assert lock.signal in tags
    guarded = [k for k in line.interlocks if k.protects == "people" and "at once" in k.action]
    assert len(guarded) >= 2
    assert all("by hand" in k.reset for k in guarded)


def test_every_sheet_and_line_has_names_and_sources(line: LineDesign) -> None:
    """Data sheets, calculation lines and assumptions use known names and sources only."""
    assert len(line.sheets) == len(line.items)
    for item in line.items:
        for datum in item.data:
            house_name(datum.name)
            source(datum.source)
    keys = [c.key for c in line.lines]
    assert len(set(keys)) == len(keys)
    for calculation in line.lines:
        house_name(calculation.name)
        source(calculation.source)
        for term in calculation.terms:
            house_name(term.name)
    for given in line.assumptions:
        source(given.source or "OWN")
    for figure in line.figures.values():
        house_name(figure.name)
    for utility in line.utilities:
        house_name(utility.peak_name)
        house_name(utility.mean_name)


def test_marks_survive_into_sheets_and_lines(line: LineDesign) -> None:
    """What is from memory or a judgement says so where it is shown."""
    mixer = line.item("A-101")
    assert mixer.data[0].mark == "from memory"
    power = next(c for c in line.lines if c.key == "line.conveyor.power")
    assert power.mark == "from memory"
    sizes = next(c for c in line.lines if c.key == "line.feed_tank.volume")
    assert sizes.mark == "judgement"


def test_energy_counts_idle_hours_at_their_share(line: LineDesign) -> None:
    """Mean power is each motor's draw over run and idle hours."""
    run = 50 / 168
    mean = sum(
        m.running * m.absorbed_power * (m.running_share * run + m.idle_share * (1 - run))
        for m in line.motors
    )
    assert line.power.energy_mean == pytest.approx(mean)
    fan = next(m for m in line.motors if m.item == "V-601")
    assert 0 < fan.idle_share < 1


def test_two_equal_sources_are_three_decibel_louder() -> None:
    """Sound adds by energy."""
    assert sound_sum([70.0, 70.0]) == pytest.approx(73.0103, abs=1e-4)
    assert sound_sum([80.0, 60.0]) == pytest.approx(80.0432, abs=1e-4)


def test_stood_sludge_costs_more_head() -> None:
    """Pump pressure is static head plus friction with its margin plus end pressure."""
    line = design(small_line())
    pipe = next(p for p in line.pipes if p.tag == "L-101")
    density = float(line.balance.stream("feed measured").mass_flow[0]) / float(
        line.balance.stream("feed measured").volume_flow[0]
    )
    expected = density * 9.80665 * pipe.static_head + 1.2 * pipe.pressure_drop
    assert line.feed_pump.pressure == pytest.approx(expected, rel=1e-9)


def test_footprints_leave_room(line: LineDesign) -> None:
    """Each press has its own length free in front; nothing has a size of zero."""
    prints = {p.tag: p for p in line.footprints}
    assert all(p.length > 0 and p.width > 0 and p.height > 0 for p in prints.values())
    press = next(p for tag, p in prints.items() if tag.startswith("D-301"))
    assert press.access_front == press.length


def test_narrative_tells_the_design(line: LineDesign) -> None:
    """The words carry the design's own numbers and the cautions come with them."""
    text = " ".join(s for section in line.narrative for s in section.steps)
    assert f"{3600 * float(line.balance.stream('feed measured').volume_flow[0]):.2f} m3/h" in text
    assert [s.title for s in line.narrative][1:4] == ["Before start", "Start", "Run"]
    assert any("controls nothing" in c for c in line.cautions)


def test_short_run_hours_are_infeasible_and_say_how_long() -> None:
    """A tank that never empties binds, with the hours that would do."""
    found = design(small_line(run=RunPattern(3.0, 5, 8.0)))
    assert not found.feasible
    assert found.binding is not None
    assert found.binding.key == "feed_tank.never_empties"
    need = float(found.figures["dry_solids_flow"].point) / (3 * 35 / 3600)
    assert f"run {3 * need:.1f} h/d" in found.binding.change
    longer = design(small_line(run=RunPattern(3 * need * 1.001, 5, 8.0)))
    assert longer.feasible


def test_load_beyond_every_hour_asks_for_machines() -> None:
    """When even 24 h a day are too short the finding asks for machines, not hours."""
    found = design(small_line(feed=replace(FEED, volume_flow=300 / 86400.0)))
    assert found.binding is not None
    assert "too short: add machines" in found.binding.change


def test_existing_tank_too_small_is_infeasible() -> None:
    """A given tank below the week's swing stops the line."""
    assert _keys(small_line(feed_tank_volume=60.0))["feed_tank.too_small"] is Severity.INFEASIBLE
    assert "feed_tank.too_small" not in _keys(small_line(feed_tank_volume=400.0))


def test_redundancy_replaces_outage_storage() -> None:
    """With a spare machine four days of storage are not asked for; without one they are."""
    spare = design(small_line(presses=(replace(PRESS, standby=1),)))
    bare = design(small_line())
    assert spare.feed_tank.spare_covers
    assert spare.feed_tank.outage_volume == 0.0
    assert bare.feed_tank.outage_volume == pytest.approx(4 * 48.0)
    assert spare.feed_tank.volume < bare.feed_tank.volume


def test_skip_heavier_than_the_truck_is_a_finding() -> None:
    """The load is cut to the payload and the finding says how far to fill."""
    heavy = small_line(outlet=Outlet(skip_volume=12.0, truck_payload=6000.0))
    found = design(heavy)
    weight = next(f for f in found.findings if f.key == "skip.too_heavy")
    assert found.skips.load == 6000.0
    assert found.skips.mass_limited
    assert found.skips.fill == pytest.approx(6000 / (12 * float(found.balance.cake_density[0])))
    assert f"{100 * found.skips.fill:.0f} %" in weight.change


def test_too_few_skips_and_nobody_there_are_findings() -> None:
    """One skip for four days, and two changes a day unattended, are both told."""
    few = small_line(outlet=Outlet(skips=1, skip_volume=2.0))
    assert {"skip.too_few"} <= set(_keys(few))
    alone = replace(few, run=RunPattern(10.0, 5, 7.0, unattended=True))
    assert "skip.unattended" in _keys(alone)


def test_steep_conveyor_is_a_finding() -> None:
    """More than 30 degrees is told, and the design goes on at 30."""
    found = design(small_line(conveyor_incline=np.radians(45.0)))
    assert "conveyor.incline" in {f.key for f in found.findings}
    assert found.conveyor.incline == pytest.approx(np.radians(30.0))


def test_long_pipe_asks_for_pressure() -> None:
    """A kilometre of feed line needs more stages than one pump has."""
    found = design(small_line(pipes={**small_line().pipes, "feed": PipeRun(4000.0, 30.0)}))
    assert "pump.pressure" in {f.key for f in found.findings}


def test_return_that_matters_is_told() -> None:
    """Poor capture on a small works is told as a share of the works' own solids."""
    poor = small_line(cake=Cake(0.18, 0.7), works_solids_flow=600 / 86400.0)
    assert "return.load" in _keys(poor)
    apart = replace(small_line(), feed_includes_return=False, cake=Cake(0.18, 0.8))
    assert "return.not_counted" in _keys(apart)


def test_samples_go_through_and_the_point_case_sizes() -> None:
    """Arrays over samples change the figures of every sample and the sizes of none."""
    rng = np.random.default_rng(7)
    solids = np.concatenate([[0.012], rng.uniform(0.008, 0.016, 40)])
    cake = np.concatenate([[0.18], rng.uniform(0.15, 0.21, 40)])
    many = design(small_line(feed=replace(FEED, total_solids=solids), cake=Cake(cake, 0.95)))
    one = design(small_line())
    assert many.figures["cake_mass_flow"].samples.shape == (41,)
    assert many.figures["cake_mass_flow"].point == pytest.approx(
        one.figures["cake_mass_flow"].point
    )
    assert many.feed_tank.volume == pytest.approx(one.feed_tank.volume)
    ninth = replace(FEED, total_solids=solids[9])
    alone = design(small_line(feed=ninth, cake=Cake(cake[9], 0.95)))
    assert many.figures["trips"].samples[9] * many.skips.load == pytest.approx(
        alone.figures["trips"].point * alone.skips.load, rel=1e-9
    )


def test_shaft_out_and_thinner_feed_bind_where_they_should() -> None:
    """A shaft out breaks a line without spare; thin feed meets the hydraulic limit."""
    tight = small_line(presses=(replace(PRESS, shafts=2, solids_capacity=42 / 3600),))
    assert design(tight).feasible
    one = replace(PRESS, shafts=1, solids_capacity=42 / 3600, flow_capacity=PRESS.flow_capacity / 2)
    assert not design(small_line(presses=(replace(one, solids_capacity=21 / 3600),))).feasible
    thin = design(
        small_line(
            feed=replace(
                FEED, total_solids=0.4 * FEED.total_solids, volume_flow=FEED.volume_flow / 0.4
            )
        )
    )
    assert thin.figures["feed_flow"].point == pytest.approx(
        2.5 * design(small_line()).figures["feed_flow"].point, rel=1e-6
    )
    # 16.8 m3/h against the 15 m3/h the shafts take: the hydraulic limit binds, not the solids
    assert thin.binding is not None
    assert thin.binding.margin == pytest.approx(16.8 / 15, rel=1e-6)


def test_cake_wetter_than_the_feed_is_refused() -> None:
    """A cake no thicker than what goes in is refused in words."""
    with pytest.raises(OutOfRangeError, match="wetter than the feed"):
        design(small_line(cake=Cake(0.009, 0.95)))


def test_capture_above_one_is_refused() -> None:
    """A capture of 120 % is refused."""
    with pytest.raises(OutOfRangeError, match=r"capture: got 120\.0 %"):
        design(small_line(cake=Cake(0.18, 1.2)))


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"presses": ()}, "got 0 press types"),
        ({"products": (POLYMER,) * 4}, "got 4 conditioners"),
        ({"run": RunPattern(0.0, 5)}, "0 h/d"),
        ({"run": RunPattern(8.0, 9)}, "on 9 d"),
        ({"feed": replace(FEED, pattern=(1.0,) * 24)}, "got 24 values"),
        ({"pipes": {"fed": PipeRun(1.0, 1.0)}}, "pipes: got fed; allowed: transfer, feed"),
    ],
)
def test_lines_that_cannot_be_are_refused(change: dict[str, object], message: str) -> None:
    """Inputs no line can be drawn for are refused with what was got."""
    with pytest.raises(OutOfRangeError, match=message):
        small_line(**change)


def test_no_feed_is_refused() -> None:
    """A flow of zero is refused in words, not by a division."""
    with pytest.raises(OutOfRangeError, match="a line without feed has no size"):
        design(small_line(feed=replace(FEED, volume_flow=0.0)))


def test_runs_not_given_are_the_usual_ones() -> None:
    """Giving one pipe run leaves the others as they are."""
    line = design(small_line(pipes={"feed": PipeRun(99.0, 1.0)}))
    lengths = {p.tag: p.length for p in line.pipes}
    assert lengths["L-101"] == 99.0
    assert lengths["L-403"] == 50.0


def test_kinds_of_items_are_all_there() -> None:
    """Every kind of item stands in the line of some kind of machine."""
    lines = [small_line(products=(FERRIC, POLYMER))]
    lines += [kind_line(kind) for kind in Kind]
    lines.append(kind_line(Kind.CHAMBER_PRESS, products=(FERRIC, LIME)))
    lines.append(kind_line(Kind.DECANTER, noisy=True))
    assert {i.kind for line in lines for i in design(line).items} == set(ItemKind)
