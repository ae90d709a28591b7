"""The dewatering balance and sizing for any sensible numbers."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from cakewright.errors import InfeasibleError
from cakewright.machines import (
    Duty,
    Kind,
    OneOut,
    machine,
    shipped_catalogue,
    size,
    split_normal,
)
from cakewright.physics.balance import Additive, DewateringBalance, balance_dewatering
from cakewright.sludge import Composition, Sludge, blend, run_load

ADDITIVE = st.builds(
    Additive, st.just("polymer"), st.floats(0.0, 0.1), st.floats(0.0, 5.0), st.floats(0.0, 1.0)
)


def _balance_or_reason(*case: Any) -> DewateringBalance | str:
    try:
        return balance_dewatering(*case)
    except InfeasibleError as error:
        return str(error)


@settings(max_examples=100, deadline=None)
@given(
    st.floats(0.001, 5.0),
    st.floats(0.001, 0.12),
    st.floats(0.0, 0.6),
    st.floats(0.05, 0.9),
    st.floats(0.0, 1.0),
    ADDITIVE,
    st.floats(0.0, 0.01),
    st.floats(1010.0, 2600.0),
)
def test_balance_closes_or_says_why_not(
    dry: float,
    ts: float,
    dissolved: float,
    cake: float,
    capture: float,
    additive: Additive,
    wash: float,
    density: float,
) -> None:
    """Either every balance closes to 1e-9 with no negative stream, or the case is named."""
    balance = _balance_or_reason(dry, ts, dissolved, cake, capture, [additive], wash, density)
    if isinstance(balance, str):
        # Only a cake no drier than all that enters may be refused.
        liquor = dry * (1.0 / ts - 1.0) + float(additive.water_flow)
        assert "raise the cake solids" in balance
        assert cake / (1.0 - cake) < (dry + float(additive.dry_flow)) / liquor * (1 + 1e-9)
        return
    assert max(balance.closure.values()) < 1e-9
    for stream in balance.streams.values():
        for part in (stream.suspended, stream.dissolved, stream.conditioner, stream.water):
            assert float(part) >= -1e-9 * dry / ts
    assume(float(balance.streams["cake"].mass) > 0.0)
    assert float(balance.streams["cake"].total_solids) == pytest.approx(cake, rel=1e-9)


@settings(max_examples=60, deadline=None)
@given(
    st.floats(0.01, 10.0),
    st.floats(0.0, 5.0),
    st.floats(0.0, 5.0),
    st.floats(0.001, 0.999),
    st.floats(0.001, 0.999),
)
def test_split_normal_is_monotone_and_bounded(
    low: float, up: float, more: float, one: float, two: float
) -> None:
    """A higher quantile never gives less, and nothing lies past twice the half-widths."""
    typical, high = low + up, low + up + more
    first, second = sorted((one, two))
    a = float(split_normal(low, typical, high, first))
    b = float(split_normal(low, typical, high, second))
    assert a <= b + 1e-12
    assert max(low / 3.0, typical - 2 * up) - 1e-9 <= a <= typical + 2 * more + 1e-9


@settings(max_examples=40, deadline=None)
@given(
    st.sampled_from(list(Kind)),
    st.floats(1.0, 200.0),
    st.floats(0.005, 0.05),
    st.floats(1.0, 2.5),
    st.floats(0.0, 0.5),
    st.sampled_from(list(OneOut)),
)
def test_installed_capacity_carries_the_design_week(
    name: Kind, kg_h: float, ts: float, peak: float, spare: float, rule: OneOut
) -> None:
    """Whatever the numbers, the machines chosen carry the design week with its spare."""
    kind = machine(name)
    frame = next(f for f in shipped_catalogue() if f.machine is name)
    feed = blend([Sludge.of("one", "was", kg_h / 3600.0, Composition(ts, 0.25))])
    duty = Duty(1 / 3, 5, spare_capacity=spare, one_out=rule, largest_number=100_000)
    load = run_load(feed, 1 / 3, 5, peak)
    plan = size(kind, frame, feed, load, duty, kind.performance(feed, duty))
    running = plan.machines - plan.standby
    for need, can in (
        (load.design_dry_solids_flow[0], plan.capacity.dry_solids_flow[0]),
        (load.design_volume_flow[0], plan.capacity.volume_flow[0]),
    ):
        assert need * (1 + spare) <= running * can * (1 + 1e-6)
    assert plan.figures["utilisation"].point * (1 + spare) <= 1 + 1e-6
    hours = plan.figures["run_hours_per_day"].point
    assert hours <= 1 / 3 / peak * (1 + 1e-6)
