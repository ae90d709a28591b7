"""Balances, limits and trends of the designed line over random inputs."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cakewright.line import (
    Cake,
    FeedSludge,
    LineInputs,
    Press,
    Product,
    RunPattern,
    Severity,
    design,
    recycle_passes,
    returned_solids,
)
from cakewright.line.balance import balance
from cakewright.line.case import case_of
from cakewright.line.storage import production_course, run_course, week_course
from cakewright.sludge import load_cases

FEW = settings(max_examples=25, deadline=None)
EXAMPLES = settings(max_examples=60, deadline=None)


@st.composite
def lines(draw: st.DrawFn) -> LineInputs:
    """Lines from tiny to large, thin to thick, that make sense but need not be feasible."""
    return LineInputs(
        feed=FeedSludge(
            volume_flow=draw(st.floats(5.0, 2000.0)) / 86400.0,
            total_solids=draw(st.floats(0.003, 0.05)),
            dissolved_share=draw(st.floats(0.0, 0.2)),
            temperature=draw(st.floats(278.0, 308.0)),
            yield_stress=draw(st.floats(0.0, 20.0)),
            consistency=draw(st.floats(0.002, 0.1)),
            flow_index=draw(st.sampled_from([1.0, 0.7])),
        ),
        presses=(
            Press(
                "any",
                "multi_disc_screw_press",
                draw(st.integers(1, 3)),
                draw(st.floats(5.0, 200.0)) / 3600,
                draw(st.floats(1.0, 20.0)) / 3600,
                400.0,
                shafts=draw(st.integers(1, 4)),
                wash_flow=draw(st.floats(0.0, 1.0)) / 3600,
            ),
        ),
        products=(
            Product(
                "p",
                draw(st.sampled_from(["powder", "emulsion", "solution"])),
                draw(st.floats(0.001, 0.015)),
            ),
        ),
        run=RunPattern(draw(st.floats(2.0, 24.0)), draw(st.integers(1, 7)), 6.0),
        cake=Cake(draw(st.floats(0.14, 0.35)), draw(st.floats(0.7, 1.0))),
    )


@FEW
@given(lines())
def test_design_closes_and_never_gives_nonsense(inputs: LineInputs) -> None:
    """Streams close, nothing is NaN or negative, infeasible lines name what binds."""
    found = design(inputs)
    assert found.balance.closure < 1e-12
    for stream in found.streams:
        for flow in (stream.volume_flow, stream.mass_flow, stream.dry_solids_flow):
            assert np.all(np.isfinite(flow))
            assert np.all(flow >= 0)
    for item in found.items:
        assert all(np.isfinite(d.value) and d.value >= 0 for d in item.data)
    stops = [f for f in found.findings if f.severity is Severity.INFEASIBLE]
    assert found.feasible == (not stops)
    assert (found.binding is None) == found.feasible
    for finding in found.findings:
        assert finding.change
        assert finding.got
        assert finding.allowed
    need = float(found.figures["dry_solids_flow"].point)
    have = float(found.inputs.presses[0].units * found.inputs.presses[0].shafts)
    capacity = have * min(
        inputs.presses[0].solids_capacity,
        inputs.presses[0].flow_capacity * need / found.figures["feed_flow"].point,
    )
    never = any(f.key == "feed_tank.never_empties" for f in found.findings)
    assert never == (need > capacity * (1 + 1e-9))


@FEW
@given(lines(), st.floats(1.0, 2.0), st.floats(0.3, 1.0), st.floats(0.5, 2.0))
def test_streams_close_in_every_case(
    inputs: LineInputs, peak: float, busy: float, promise: float
) -> None:
    """Mass and every part close to 1e-9 round every apparatus in each of the five cases."""
    feed, run = inputs.feed, inputs.run
    dry = float(np.asarray(feed.volume_flow)) * 1000 * float(np.asarray(feed.total_solids))
    hours = run.hours_per_day / 24
    cases = load_cases(dry, feed.volume_flow, hours, run.days, peak, busy * hours)
    cases = cases.with_promise(promise * float(cases.design.dry_solids_flow[0]))
    inputs = replace(inputs, cases=cases)
    products = design(inputs).products
    for load in cases:
        found = balance(case_of(inputs), products, load.key)
        assert found.closure < 1e-9
        assert [s.number for s in found.streams] == list(range(1, len(found.streams) + 1))


@FEW
@given(lines(), st.floats(1.1, 3.0))
def test_longer_hours_never_need_bigger_pumps(inputs: LineInputs, times: float) -> None:
    """More run hours: less feed flow, smaller flocculation tank, no larger weekly swing.

    A smaller flow may be measured over a weir, whose pump brings a surplus on top of it.
    """
    hours = min(inputs.run.hours_per_day * times, 24.0)
    longer = replace(inputs, run=replace(inputs.run, hours_per_day=hours))
    more, base = design(longer), design(inputs)
    over = (1 + case_of(longer).surplus_share) / (1 + case_of(inputs).surplus_share)
    slack = 1 + 1e-9
    assert more.feed_pump.flow_high <= base.feed_pump.flow_high * over * slack
    assert more.stirred_tanks[-1].volume <= base.stirred_tanks[-1].volume * slack
    assert more.feed_tank.working_volume <= base.feed_tank.working_volume * slack + 1e-9


@EXAMPLES
@given(
    st.lists(st.floats(0.0, 5.0), min_size=168, max_size=168).filter(lambda w: sum(w) > 1.0),
    st.floats(1.0, 24.0),
    st.integers(1, 7),
)
def test_storage_never_runs_dry_or_negative(pattern: list[float], hours: float, days: int) -> None:
    """Content stays between zero and the working volume, and ends where it began."""
    inflow = production_course(tuple(pattern)) * 100.0
    running = run_course(RunPattern(hours, days, 7.0))
    found = week_course(inflow, running / running.sum() * 100.0)
    assert found.content.min() == pytest.approx(0.0, abs=1e-9)
    assert found.content.max() <= 100.0 + 1e-9
    assert found.content[0] == pytest.approx(found.content[-1], abs=1e-7)
    assert found.age_worst >= 0.0


@EXAMPLES
@given(st.floats(1.0, 1e4), st.floats(0.0, 1.0), st.floats(0.3, 1.0))
def test_recycle_balances(generated: float, recaught: float, capture: float) -> None:
    """What is returned is the share lost of all that was fed; passes end there."""
    returned = float(returned_solids(generated, recaught, capture))
    assert returned == pytest.approx((1 - capture) * (generated + recaught * returned), rel=1e-10)
    if capture < 1:
        last = recycle_passes(generated, recaught, capture, 1e-9)[-1]
        assert last == pytest.approx(returned, rel=1e-7)
