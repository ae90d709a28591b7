"""Properties of the running room: balances close, order does not matter, pooling stays within."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from cakewright.quantities import FloatArray
from cakewright.running.cleaning import Block, clean
from cakewright.running.clock import local_from_utc, utc_from_local
from cakewright.running.diagnosis import FEATURES, Move, diagnose
from cakewright.running.learning import pool_parameter
from cakewright.running.reconcile import balance_residuals, reconcile_shifts
from cakewright.running.shifts import ShiftPlan, ShiftTable, join_shifts, shift_means

NOW = 10**10
ZONES = ("Europe/Vienna", "America/New_York", "Australia/Sydney")
SIZES = st.floats(-5, 5)
FEW = settings(max_examples=30, deadline=None)


@FEW
@given(
    st.floats(0.5, 80), st.floats(0.005, 0.06), st.floats(0.1, 0.35), st.floats(0.7, 0.995),
    st.floats(0.02, 0.4), st.integers(0, 10**6),
)  # fmt: skip
def test_reconciled_shifts_close(
    feed: float, solids: float, cake: float, capture: float, wash: float, seed: int
) -> None:
    """Whatever the press and the noise, what comes out closes both balances."""
    rng = np.random.default_rng(seed)
    feed_flow, polymer, water = feed / 3600, 0.06 * feed / 3600, wash * feed / 3600
    dry = capture * (feed_flow * 1000 * solids + polymer * 2.0)
    flow = feed_flow + polymer + water - dry / cake / 1000
    lost = (1 - capture) * (feed_flow * 1000 * solids + polymer * 2.0)
    true = {
        "feed_flow": feed_flow, "feed_solids": solids, "polymer_flow": polymer,
        "polymer_strength": 0.002, "wash_flow": water, "filtrate_flow": flow,
        "filtrate_solids": lost / flow, "cake_flow": dry / cake, "cake_solids": cake,
    }  # fmt: skip
    mean = {k: np.array([v * (1 + 0.02 * rng.standard_normal())]) for k, v in true.items()}
    one = np.ones(1)
    table = ShiftTable(
        np.zeros(1, dtype=np.int64), one, one, one, one, mean, dict.fromkeys(mean, one)
    )
    got = reconcile_shifts(table)
    solids_left, water_left = balance_residuals(got.value)[0]
    assert abs(solids_left) < 1e-7 * feed_flow * 1000 * solids
    assert abs(water_left) < 1e-7 * feed_flow * 1000


@FEW
@given(st.integers(2, 300), st.integers(0, 10**6))
def test_order_of_rows_does_not_matter(count: int, seed: int) -> None:
    """Rows in any order clean to the same log."""
    rng = np.random.default_rng(seed)
    time = 1_700_000_000 + 60 * np.arange(count, dtype=np.int64)
    flow = 0.003 * (1 + 0.1 * rng.standard_normal(count))
    rows = np.arange(count, dtype=np.int64)
    mixed = rng.permutation(count)
    straight, _ = clean(Block(rows, time, {"feed_flow": flow}), now=NOW)
    turned, _ = clean(Block(rows[mixed], time[mixed], {"feed_flow": flow[mixed]}), now=NOW)
    assert np.array_equal(straight.time, turned.time)
    assert np.array_equal(straight.values["feed_flow"], turned.values["feed_flow"], equal_nan=True)


@FEW
@given(st.integers(2, 400), st.integers(0, 10**6))
def test_every_reading_is_kept_or_told(count: int, seed: int) -> None:
    """Rows kept and rows dropped add up; every reading that went or changed is in the list."""
    rng = np.random.default_rng(seed)
    time = 1_700_000_000 + 60 * rng.integers(0, count, count)
    flow = rng.choice([0.003, -1.0, 5.0, np.nan, 0.0031], count)
    block = Block(np.arange(count, dtype=np.int64), time, {"feed_flow": flow})
    after, changes = clean(block, now=NOW)
    dropped = sum(c.row.size for c in changes if not c.signal)
    assert after.time.size + dropped == count
    told = {int(r) for c in changes if c.signal for r in c.row}
    for row, value in zip(after.row, after.values["feed_flow"], strict=True):
        before = flow[row]
        same = value == before or (np.isnan(value) and np.isnan(before))
        assert same or int(row) in told


@FEW
@given(st.integers(1, 4000), st.integers(1, 3999), st.sampled_from(["UTC", "Europe/Vienna"]))
def test_cutting_a_log_changes_no_shift(count: int, cut: int, zone: str) -> None:
    """Shifts of a log loaded in two parts are those of the log in one."""
    rng = np.random.default_rng(count)
    time = 1_711_830_000 + 60 * np.arange(count, dtype=np.int64)
    values = {"feed_flow": 0.003 + 0.001 * rng.random(count)}
    block = Block(np.arange(count), time, values)
    plan = ShiftPlan(zone, 6, 8)
    whole = join_shifts([shift_means(block, plan)])
    cut = min(cut, count)
    parts = [
        p for p in (block.take(np.arange(cut)), block.take(np.arange(cut, count))) if p.time.size
    ]
    joined = join_shifts([shift_means(part, plan) for part in parts])
    assert np.array_equal(whole.start, joined.start)
    assert joined.mean["feed_flow"] == pytest.approx(whole.mean["feed_flow"])
    assert joined.run_time.sum() == pytest.approx(whole.run_time.sum())


@FEW
@given(st.lists(st.integers(0, 2**31), min_size=1, max_size=50), st.sampled_from(ZONES))
def test_clock_there_and_back(moments: list[int], zone: str) -> None:
    """UTC to local and back is the same moment, or the twin hour of autumn."""
    utc = np.array(moments, dtype=np.int64)
    for one in utc:
        got = utc_from_local(local_from_utc(np.array([one]), zone), zone)
        assert not got.never.any()
        assert int(got.utc[0]) == one or (bool(got.twice[0]) and one - int(got.utc[0]) == 3600)


@FEW
@given(arrays(float, st.integers(1, 12), elements=SIZES), st.floats(0.01, 2), st.floats(0.05, 2))
def test_pooling_stays_within(value: FloatArray, error: float, scale: float) -> None:
    """Fleet mean and drawn estimates lie within the estimates; nobody gets less sure than alone."""
    got = pool_parameter(value, np.full(value.size, error), scale)
    low, high = value.min() - 1e-9, value.max() + 1e-9
    assert low <= got.mean <= high
    assert ((got.drawn >= low) & (got.drawn <= high)).all()
    assert (got.drawn_error <= error * (1 + 1e-6) + np.abs(got.drawn - value)).all()


@FEW
@given(st.dictionaries(st.sampled_from(list(FEATURES)), st.floats(-20, 20)))
def test_belief_is_a_whole(moves: dict[str, float]) -> None:
    """Whatever moved or was read, shares lie between 0 and 1 and add up to 1."""
    told = diagnose({key: Move(size, 0.2) for key, size in moves.items()})
    shares = np.array([one.share for one in told.causes] + [told.nothing, told.other])
    assert shares.sum() == pytest.approx(1.0)
    assert ((shares >= 0) & (shares <= 1)).all()
