"""What cannot be trusted is found before anything is concluded from it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from cakewright.running.cleaning import Block, clean
from cakewright.running.instruments import Removed, Trouble, instrument_faults
from cakewright.running.practice_plant import invented_shifts
from cakewright.running.shifts import ShiftTable

TABLE = invented_shifts(None, seed=5, shifts=120, missing=0.0).table


def _with(key: str, values: np.ndarray, cover: np.ndarray | None = None) -> ShiftTable:
    coverage = TABLE.coverage if cover is None else {**TABLE.coverage, key: cover}
    return replace(TABLE, mean={**TABLE.mean, key: values}, coverage=coverage)


def test_sound_instruments_are_left_alone() -> None:
    """Nothing is told of a plant whose readings are all there."""
    table, found = instrument_faults(TABLE)
    assert not [one for one in found if one.alarm]
    assert np.isfinite(table.get("feed_flow")).all()


def test_a_frozen_meter_is_told_with_what_it_hides() -> None:
    """Two weeks of readings taken out because they stood still lead the page."""
    flow, cover = TABLE.get("feed_flow").copy(), np.full(TABLE.size, 0.98)
    flow[-42:], cover[-42:] = np.nan, 0.0
    gone = Removed("feed_flow", "unchanged for more than 60 min", 10_062, 0, 1)
    _, found = instrument_faults(_with("feed_flow", flow, cover), [gone])
    first = found[0]
    assert (first.key, first.kind) == ("feed_flow", Trouble.FROZEN)
    assert first.since == int(TABLE.start[-42])
    assert "dry_solids_flow" in first.hides


def test_a_dead_meter_that_reads_zero() -> None:
    """A meter that shows nought while the press runs is dead."""
    torque = TABLE.get("screw_torque").copy()
    torque[-30:] = 0.0
    _, found = instrument_faults(_with("screw_torque", torque, np.full(TABLE.size, 0.97)))
    assert [(one.key, one.kind) for one in found if one.alarm] == [("screw_torque", Trouble.DEAD)]


def test_slips_of_the_laboratory_are_named_and_set_aside() -> None:
    """Ten times off, moisture for solids, another sample's value: left out with what they look
    like; an honest swing is not."""
    cake, feed = TABLE.get("cake_solids").copy(), TABLE.get("feed_solids").copy()
    cake[20], cake[40] = 10 * cake[20], 1 - cake[40]
    feed[60] = cake[61]
    feed[80] = 1.25 * feed[80]
    table = replace(TABLE, mean={**TABLE.mean, "cake_solids": cake, "feed_solids": feed})
    clean_table, found = instrument_faults(table)
    kinds = {(one.key, one.kind) for one in found}
    assert ("cake_solids", Trouble.MOISTURE) in kinds
    assert ("feed_solids", Trouble.SWAPPED) in kinds or ("feed_solids", Trouble.TENFOLD) in kinds
    assert np.isnan(clean_table.get("cake_solids")[[20, 40]]).all()
    assert np.isnan(clean_table.get("feed_solids")[60])
    assert np.isfinite(clean_table.get("feed_solids")[80])


def test_spikes_no_press_can_do_are_taken_out() -> None:
    """Single minutes of 25 to 257 m3/h on a 6 m3/h press go; a level that stays is believed."""
    rng = np.random.default_rng(1)
    time = np.arange(4000) * 60
    flow = (6.0 + 0.1 * rng.standard_normal(time.size)) / 3600
    spikes = np.array([300, 900, 901, 2000])
    flow[spikes] = np.array([25.0, 60.0, 60.0, 257.0]) / 3600
    flow[3000:] *= 1.5
    on = np.ones(time.size)
    block, changes = clean(
        Block(time // 60, time, {"machine_on": on, "feed_flow": flow}), now=10**9
    )
    taken = np.flatnonzero(np.isnan(block.values["feed_flow"]))
    assert taken.tolist() == spikes.tolist()
    assert {c.reason for c in changes} == {"spike, beyond the range of this press"}
