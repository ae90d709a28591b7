"""Catalogue rows: what is read, what is refused, and what the shipped one holds."""

from __future__ import annotations

import math
from typing import Any

import pytest

from cakewright.errors import DataError, UnknownNameError
from cakewright.machines import (
    Kind,
    catalogue_columns,
    frame_named,
    parse_catalogue,
    shipped_catalogue,
)
from cakewright.quantities import Mark


def _row(**changes: Any) -> dict[str, Any]:
    row: dict[str, Any] = {
        "name": "mine",
        "machine": "belt_press",
        "belt_width_m": 1.0,
        "solids_limit_kg_h": 100,
        "hydraulic_limit_m3_h": "9.5",
        "drive_power_kW": 1.5,
        "auxiliary_power_kW": 4,
        "wash_flow_L_min": 80,
        "wash_pressure_bar": 6,
        "mass_empty_kg": 3000,
        "mass_full_kg": 4000,
        "length_m": 4,
        "width_m": 2,
        "height_m": 2,
        "sound_level_dBA": 76,
        "budget_price": 80000,
        "currency": "EUR",
        "price_year": 2026,
        "mark": "",
    }
    return {key: value for key, value in {**row, **changes}.items() if value is not None}


def test_a_row_becomes_si() -> None:
    """Units of the titles are turned into SI; text numbers count; the mark is the row's."""
    frame = parse_catalogue([_row()])[0]
    assert frame.solids_limit == pytest.approx(100 / 3600)
    assert frame.hydraulic_limit == pytest.approx(9.5 / 3600)
    assert frame.wash_flow == pytest.approx(0.08 / 60)
    assert frame.wash_pressure == pytest.approx(6e5)
    assert frame.power == pytest.approx(5500.0)
    assert frame.installed_power == pytest.approx(5500.0)
    assert frame.wash_duty == 1.0
    assert frame.mark is Mark.NONE


def test_all_faults_are_told_at_once() -> None:
    """Unknown title, missing value, wrong sign, wrong kind and a name twice, in one error."""
    rows = [
        _row(solid_limit_kg_h=3),
        _row(name="a", belt_width_m=None),
        _row(name="b", drive_power_kW=-1),
        _row(name="c", machine="mangle"),
        _row(name="d", length_m=float("nan")),
        _row(name="e", price_year=2026.5),
        _row(name="f"),
        _row(name="F"),
        _row(name="g", rated_on="mud", source="hearsay"),
    ]
    with pytest.raises(DataError) as caught:
        parse_catalogue(rows)
    text = str(caught.value)
    assert "did you mean 'solids_limit_kg_h'" in text
    assert "row 2: belt_width_m: got nothing" in text
    assert "row 3: drive_power_kW: got -1 kW; allowed: 0 to 2000" in text
    assert "row 4: machine: got 'mangle'" in text
    assert "row 5: length_m" in text
    assert "row 6: price_year" in text
    assert "first used in row 7" in text
    assert "row 9: rated_on: got 'mud'" in text
    assert "row 9: source: got 'hearsay'" in text
    assert len(caught.value.faults) == 9


def test_an_empty_and_an_endless_catalogue_are_refused() -> None:
    """No rows and too many rows are faults."""
    with pytest.raises(DataError, match="no rows"):
        parse_catalogue([])
    with pytest.raises(DataError, match="more than 2000 rows"):
        parse_catalogue(_row(name=f"n{i}") for i in range(2005))


def test_shipped_catalogue_says_it_is_invented() -> None:
    """Every shipped frame carries the mark, a currency and a year; every kind has frames."""
    frames = shipped_catalogue()
    assert all(frame.mark is Mark.INVENTED for frame in frames)
    assert {frame.machine for frame in frames} == set(Kind)
    assert len({frame.name for frame in frames}) == len(frames)


def test_shipped_screw_presses_keep_their_areal_load() -> None:
    """Solids limits follow from the drained area, of drums less where the channel is deeper."""
    for frame in shipped_catalogue():
        if frame.drained_length is None or frame.screw_diameter is None:
            continue
        area = math.pi * frame.screw_diameter * frame.drained_length * frame.shafts
        deep = min(1.0, math.sqrt(0.3 / frame.screw_diameter))
        load = 20.0 if frame.machine is Kind.MULTI_DISC_SCREW_PRESS else 18.0 * deep
        assert frame.solids_limit * 3600.0 / area == pytest.approx(load, rel=0.02)


def test_shipped_multi_disc_sizes_span_common_practice() -> None:
    """Single units from a few to some 200 kg DS/h, up to a handful of shafts, 1 to 5 rpm."""
    discs = [f for f in shipped_catalogue() if f.machine is Kind.MULTI_DISC_SCREW_PRESS]
    limits = [frame.solids_limit * 3600.0 for frame in discs]
    assert min(limits) < 5.0
    assert 150.0 < max(limits) < 220.0
    assert max(frame.shafts for frame in discs) == 5
    for frame in discs:
        assert (frame.speed_low or 0.0) * 60 == pytest.approx(1.0)
        assert (frame.speed_high or 0.0) * 60 == pytest.approx(5.0)


def test_shipped_powers_and_water_are_near_common_practice() -> None:
    """Like capacity: half a belt's power, a seventh of a decanter's, a 17th of a belt's water."""

    def like(kind: Kind) -> tuple[float, float]:
        frame = min(
            (f for f in shipped_catalogue() if f.machine is kind),
            key=lambda f: abs(f.solids_limit * 3600.0 - 110.0),
        )
        shift = 8 * 3600.0
        water = frame.wash_flow_mean * shift + frame.wash_per_stop
        return frame.power / frame.solids_limit, water / (frame.solids_limit * shift)

    disc, belt, spun = (
        like(k) for k in (Kind.MULTI_DISC_SCREW_PRESS, Kind.BELT_PRESS, Kind.DECANTER)
    )
    assert belt[0] / disc[0] == pytest.approx(2.0, rel=0.15)
    assert spun[0] / disc[0] == pytest.approx(7.0, rel=0.15)
    assert belt[1] / disc[1] == pytest.approx(17.0, rel=0.15)
    assert spun[1] / disc[1] == pytest.approx(1.0, rel=0.2)


def test_frames_are_found_by_name() -> None:
    """A frame is found by name; a near miss names the nearest."""
    assert frame_named("disc 200 x 2", shipped_catalogue()).shafts == 2
    with pytest.raises(UnknownNameError, match="did you mean 'disc 200 x 2'"):
        frame_named("disc 200x2", shipped_catalogue())


def test_every_column_has_a_meaning_and_a_field() -> None:
    """The list of columns is complete enough to print as help."""
    columns = catalogue_columns()
    assert all(column.meaning and column.low < column.high for column in columns.values())
    assert len({column.field for column in columns.values()}) == len(columns)
