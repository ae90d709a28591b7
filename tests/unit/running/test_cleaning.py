"""Cleaning of readings: what is dropped, blanked, altered, and what is left alone."""

from __future__ import annotations

import numpy as np
import pytest

from cakewright.quantities import FloatArray
from cakewright.running.cleaning import Action, Block, Change, Memory, clean, find_gaps, unit_slips
from cakewright.running.signals import signal, signals

NOW = 10**10


def _block(count: int, step: int = 60, /, **values: FloatArray) -> Block:
    time = 1_700_000_000 + step * np.arange(count, dtype=np.int64)
    return Block(np.arange(count, dtype=np.int64), time, values)


def _wavy(level: float, count: int, seed: int = 0) -> FloatArray:
    return np.asarray(level * (1 + 0.05 * np.random.default_rng(seed).standard_normal(count)))


def _reasons(changes: tuple[Change, ...]) -> dict[str, int]:
    return {change.reason: change.row.size for change in changes}


def test_good_readings_are_left_alone() -> None:
    """A quiet log comes out as it went in."""
    block = _block(3000, feed_flow=_wavy(0.003, 3000), cake_solids=_wavy(0.19, 3000, 1))
    after, changes = clean(block, now=NOW)
    assert not changes
    assert np.array_equal(after.values["feed_flow"], block.values["feed_flow"])


@pytest.mark.parametrize(
    ("key", "level", "factor"),
    [
        ("feed_flow", 0.003, 3.6),
        ("feed_flow", 0.003, 1 / 3.6),
        ("feed_flow", 0.003, 1000.0),
        ("cake_solids", 0.19, 0.01),
        ("filtrate_solids", 0.9, 1000.0),
        ("drive_power", 1500.0, 0.001),
        ("plate_pressure", 6e4, 100.0),
        ("floc_level", 0.6, 3.28084),
    ],
)
def test_unit_slips_are_put_right(key: str, level: float, factor: float) -> None:
    """A stretch in another unit is brought back, and only that stretch."""  # fmt: skip
    good = _wavy(level, 4000)
    bad = good.copy()
    bad[2100:3100] *= factor
    after, changes = clean(_block(4000, **{key: bad}), now=NOW)
    assert after.values[key] == pytest.approx(good)
    assert [c.row.size for c in changes] == [1000]
    assert changes[0].action is Action.ALTERED
    assert changes[0].before == pytest.approx(bad[2100:3100])


def test_fahrenheit_among_celsius() -> None:
    """Temperatures written in degF for a while are brought back."""
    good = 288 + 0.5 * np.sin(np.arange(4000) / 100)
    bad = good.copy()
    bad[2000:3000] = (good[2000:3000] - 273.15) * 1.8 + 32 + 273.15
    after, _ = clean(_block(4000, feed_temperature=bad), now=NOW)
    assert after.values["feed_temperature"] == pytest.approx(good, abs=1e-6)


def test_slip_of_a_level_that_wanders() -> None:
    """A feed 10 % above its usual level and in another unit is still seen as a slip."""
    good = _wavy(0.003, 4000)
    good[2100:] *= 1.10
    bad = good.copy()
    bad[2100:3100] *= 3.6
    after, changes = clean(_block(4000, feed_flow=bad), now=NOW)
    assert after.values["feed_flow"] == pytest.approx(good)
    assert [c.row.size for c in changes] == [1000]


def test_a_true_change_is_no_unit_slip() -> None:
    """A feed that doubles, or a load that falls by a third, is believed."""
    value = _wavy(0.003, 4000)
    value[2000:] *= 2.0
    value[3000:] *= 0.67
    _, changes = clean(_block(4000, feed_flow=value), now=NOW)
    assert not changes


def test_slip_over_a_border_between_stretches() -> None:
    """What is usual is remembered from one stretch to the next."""
    memory = Memory()
    clean(_block(2000, feed_flow=_wavy(0.003, 2000)), now=NOW, memory=memory)
    after, changes = clean(_block(2000, feed_flow=_wavy(0.003 / 3.6, 2000)), now=NOW, memory=memory)
    assert _reasons(changes) == {"unit slip by 3.6 (L/s and m3/h)": 2000}
    assert np.median(after.values["feed_flow"]) == pytest.approx(0.003, rel=0.01)


def test_impossible_readings_are_blanked() -> None:
    """A cake of 150 % solids is no reading; its neighbours stay."""
    value = _wavy(0.19, 100)
    value[50] = 1.5
    after, changes = clean(_block(100, cake_solids=value), now=NOW)
    assert np.flatnonzero(np.isnan(after.values["cake_solids"])).tolist() == [50]
    assert _reasons(changes) == {"outside the possible": 1}


def test_stuck_only_while_running_and_not_when_held() -> None:
    """Standing still is no fault when the machine stands, nor for a value that is held."""
    flow, on = _wavy(0.003, 600), np.ones(600)
    flow[200:], on[200:] = 0.003, 0.0
    _, off = clean(_block(600, feed_flow=flow, machine_on=on), now=NOW)
    assert not off
    on[:] = 1.0
    _, running = clean(_block(600, feed_flow=flow, machine_on=on), now=NOW)
    assert _reasons(running) == {"unchanged for more than 60 min": 399}
    _, held = clean(
        _block(600, feed_flow=flow, machine_on=on), now=NOW, held=frozenset({"feed_flow"})
    )
    assert not held


def test_settings_may_stand_still() -> None:
    """A screw speed that never moves is a setting, not a dead sensor."""
    _, changes = clean(_block(5000, screw_speed=np.full(5000, 0.02)), now=NOW)
    assert not changes


def test_a_hole_ends_an_unchanged_run() -> None:
    """The same value before and after a hole is not an unchanged sensor."""
    block = _block(4, 3600, feed_flow=np.full(4, 0.003))
    hours = Block(block.row, block.time * 1, block.values)
    assert not clean(
        Block(hours.row[:1], hours.time[:1], {"feed_flow": np.full(1, 0.003)}), now=NOW
    )[1]
    value = _wavy(0.003, 120)
    value[50:70] = 0.003
    time = block.time[0] + 60 * np.arange(120, dtype=np.int64)
    time[60:] += 7200
    _, changes = clean(Block(np.arange(120), time, {"feed_flow": value}), now=NOW)
    assert not changes


def test_run_across_stretches() -> None:
    """A sensor stuck over a border is found although each part is short."""
    memory = Memory()
    stuck = np.full(50, 0.0031)
    _, first = clean(_block(50, feed_flow=stuck), now=NOW, memory=memory)
    later = _block(50, feed_flow=stuck)
    later = Block(later.row, later.time + 50 * 60, later.values)
    _, second = clean(later, now=NOW, memory=memory)
    assert not first
    assert _reasons(second) == {"unchanged for more than 60 min": 50}


def test_gaps() -> None:
    """A gap is where rows are missing for longer than a few steps."""
    time = np.array([0, 60, 120, 600, 660], dtype=np.int64)
    gaps = find_gaps(time, 60)
    assert [(g.start, g.end) for g in gaps] == [(120, 600)]


def test_tables_name_known_things() -> None:
    """Every signal has a house name with fitting limits; slips belong to house names in use."""
    names = {one.name for one in signals().values()}
    assert set(unit_slips()) <= names
    for one in signals().values():
        assert one.house.unit
        assert one.low < one.high
    assert signal("shaft_3_on").label == "shaft 3 running"
