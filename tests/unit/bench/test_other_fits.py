"""Solids, suction time, drainage, pressing, settling, charge."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.unit.bench.simulated import TEMPERATURE, drainage_test, press_course_test

from cakewright.bench import (
    BenchTest,
    fit_capillary_suction,
    fit_charge_titration,
    fit_gravity_drainage,
    fit_press_course,
    fit_pressed_cake,
    fit_settled_volume,
    fit_solids_dish,
    fit_solids_filter,
    fit_time_to_filter,
    fit_zone_settling,
    reading_faults,
)
from cakewright.bench.replicates import grubbs_outlier


def _test(kind: str, numbers: dict[str, float], columns: dict[str, list[float]],
          what: list[str] | None = None) -> BenchTest:  # fmt: skip
    return BenchTest(
        id="X1",
        kind=kind,
        sludge="s",
        numbers=numbers,
        words={},
        columns={key: np.array(values, dtype=float) for key, values in columns.items()},
        labels={"what": tuple(what)} if what else {},
    )


def test_grubbs_agrees_with_its_table() -> None:
    """Critical distance at 1 % two-sided for n = 4 and 10 (1.496 and 2.482 standard deviations)."""
    for count, limit in ((4, 1.496), (10, 2.482)):
        base = np.zeros(count)
        base[: count - 1] = np.linspace(-1, 1, count - 1) * 1e-3

        def distance(last: float, start: np.ndarray = base) -> tuple[float, bool]:
            values = start.copy()
            values[-1] = last
            spread = abs(last - values.mean()) / values.std(ddof=1)
            return float(spread), grubbs_outlier(values) is not None

        reached = [distance(x) for x in np.geomspace(1e-4, 1.0, 400)]
        assert max(d for d, out in reached if not out) < limit + 0.01
        assert min(d for d, out in reached if out) > limit - 0.01


def test_outlying_dish_is_left_out_and_named() -> None:
    """A dish that lost half its solids does not move the mean."""
    wet, ts = 0.05, [0.0187, 0.0188, 0.0186, 0.0187, 0.0110]
    dish = [0.022] * 5
    fit = fit_solids_dish(
        _test("solids_dish", {}, {
            "dish": dish,
            "with_wet": [d + wet for d in dish],
            "with_dried": [d + wet * t for d, t in zip(dish, ts, strict=True)],
            "with_ash": [d + wet * t * 0.2 for d, t in zip(dish, ts, strict=True)],
        })
    )  # fmt: skip
    assert fit.estimate("total_solids").value == pytest.approx(0.0187, rel=0.005)
    assert fit.estimate("volatile_share").value == pytest.approx(0.8)
    assert any("reading 5" in words and "Grubbs" in words for words in fit.warnings)
    assert fit.clues is not None


def test_blank_filter_is_taken_off() -> None:
    """A blank that lost 0.4 mg adds 0.4 mg to each sample."""
    fit = fit_solids_filter(
        _test("solids_filter", {}, {
            "volume": [1e-5, 1e-5, 1e-5, 1e-5],
            "filter": [1.2e-4] * 4,
            "with_dried": [1.2e-4 - 4e-7, 3.0e-4, 3.01e-4, 2.99e-4],
        }, ["blank", "sample", "sample", "sample"])
    )  # fmt: skip
    assert fit.estimate("suspended_solids").value == pytest.approx(18.04)


def test_suction_time_is_brought_to_twenty_degrees_per_solids() -> None:
    """Less the blank, times the ratio of viscosities, over the solids."""
    fit = fit_capillary_suction(
        _test("capillary_suction", {"temperature": 283.15, "feed_solids": 0.02},
              {"suction_time": [8.0, 8.0, 60.0, 61.0, 59.0, 60.0, 60.0]},
              ["blank"] * 2 + ["sample"] * 5)
    )  # fmt: skip
    expected = (60.0 - 8.0) * (1.0016 / 1.3059) / (0.02 * 999.7)
    assert fit.estimate("suction_time_normal").value == pytest.approx(expected, rel=2e-3)
    assert fit.clues is None


def test_suction_time_near_water_is_doubted() -> None:
    """Within three blanks the test is said to tell nothing more."""
    fit = fit_capillary_suction(
        _test("capillary_suction", {"temperature": TEMPERATURE, "feed_solids": 0.02},
              {"suction_time": [8.0, 12.0, 12.1, 11.9]}, ["blank"] + ["sample"] * 3)
    )  # fmt: skip
    assert any("within three blanks" in words for words in fit.warnings)


def test_time_to_filter_indicates_a_resistance() -> None:
    """The textbook funnel: 48.45 s for 100 mL means 1e12 m/kg."""
    fit = fit_time_to_filter(
        _test("time_to_filter", {
            "pressure": 51e3, "area": 6.3617e-3, "sample_volume": 2e-4, "share": 0.5,
            "temperature": 293.35, "feed_solids": 20.0 / 998.2,
        }, {"filter_time": [48.45, 48.45, 48.45]})
    )  # fmt: skip
    assert fit.estimate("specific_resistance").value == pytest.approx(1e12, rel=0.01)


def test_drainage_gives_the_truth() -> None:
    """Clean drainage readings give cake and screen resistance, fines and a gel point bound."""
    fit = fit_gravity_drainage(drainage_test(1.5e10, 2.5e8))
    assert fit.estimate("specific_resistance").value == pytest.approx(1.5e10, rel=1e-6)
    assert fit.estimate("medium_resistance").value == pytest.approx(2.5e8, rel=1e-6)
    assert fit.estimate("fines_share").value == pytest.approx(
        0.4 * 0.62 / (0.018 * 998.2), rel=1e-3
    )
    assert "upper bound" in fit.estimate("gel_point").note


def test_press_course_gives_the_truth() -> None:
    """Clean settlement gives consolidation coefficient, creep share and creep rate."""
    fit = fit_press_course(press_course_test(5e-8, 0.82, 1.2e-3))
    assert fit.estimate("consolidation_coefficient").value == pytest.approx(5e-8, rel=1e-3)
    assert fit.estimate("creep_share").value == pytest.approx(0.82, rel=1e-3)
    assert fit.estimate("creep_rate").value == pytest.approx(1.2e-3, rel=1e-3)


def test_pressed_cake_is_judged() -> None:
    """Few pressures, a narrow span and a wetter cake at more pressure are each said."""
    fit = fit_pressed_cake(
        _test("pressed_cake", {}, {"press_pressure": [5e4, 1e5, 2e5], "cake_ts": [0.2, 0.25, 0.24]})
    )
    text = " ".join(fit.warnings)
    assert "cannot be told apart" in text
    assert "less than tenfold" in text
    assert "came out wetter" in text


def test_volume_index_and_its_limit() -> None:
    """SVI by definition; a cylinder still full of sludge asks for dilution."""
    fit = fit_settled_volume(
        _test("settled_volume", {"cylinder": 1e-3, "suspended": 2.0}, {"settled": [150e-6]})
    )
    assert fit.estimate("volume_index").value == pytest.approx(0.075)
    full = fit_settled_volume(
        _test("settled_volume", {"cylinder": 1e-3, "suspended": 8.0}, {"settled": [850e-6]})
    )
    assert any("dilute" in words for words in full.warnings)


def test_zone_settling_speed_is_the_straight_fall() -> None:
    """0.4 mm/s over the straight part, compression left out."""
    time = np.arange(0, 1500, 100.0)
    height = np.maximum(0.4 - 4e-4 * time, 0.12 + 0.03 * np.exp(-(time - 700) / 400))
    fit = fit_zone_settling(
        _test("zone_settling", {"suspended": 3.0}, {"time": list(time), "blanket": list(height)})
    )
    assert fit.estimate("zone_settling_speed").value == pytest.approx(4e-4, rel=0.03)


def test_charge_demand_takes_the_blank_off() -> None:
    """4.65 mL less 0.15 mL of 1 mol/m3 on 18.2 mg is 0.2473 mol/kg."""
    fit = fit_charge_titration(
        _test("charge_titration", {"titrant": 1.0, "sample_volume": 1e-5, "suspended": 1.82},
              {"titrant_volume": [0.15e-6, 4.65e-6, 4.65e-6]}, ["blank", "sample", "sample"])
    )  # fmt: skip
    assert fit.estimate("charge_demand").value == pytest.approx(4.5e-6 / 1.82e-5, rel=1e-6)


def test_the_handbooks_outlier_is_found() -> None:
    """The public handbook's uranium readings (L97): the last of eight does not belong."""
    values = np.array([199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57])
    assert grubbs_outlier(values) == 7
    assert grubbs_outlier(values[:-1]) is None


def test_one_bad_pressed_cake_is_named_and_left_out() -> None:
    """A misread cake is told as a reading, and the law gets the others only; honest ones stay."""
    pressure = np.repeat([2.5e4, 5e4, 1e5, 2e5, 4e5], 2)
    solids = 0.16 * (pressure / 1e5) ** 0.16 * (1 + 0.01 * np.array([1, -1, 0.5, -1, 1] * 2))
    columns = {"press_pressure": list(pressure), "cake_ts": list(solids)}
    good = fit_pressed_cake(_test("pressed_cake", {}, columns))
    assert good.clues is not None
    assert len(good.clues.clues) == 10
    solids[5] = 0.206
    columns["cake_ts"] = list(solids)
    fit = fit_pressed_cake(_test("pressed_cake", {}, columns))
    assert fit.clues is not None
    assert len(fit.clues.clues) == 9
    assert any("reading 6 left out: 20.6 % at 100 kPa" in words for words in fit.warnings)
    assert not any("pressed harder" in words for words in fit.warnings)


def test_a_plateau_is_a_normal_reading() -> None:
    """Draining that has ended leaves the fit as it was."""
    plain = drainage_test(5e9, 1e8)
    held = replace(
        plain,
        columns={
            "time": np.append(plain.columns["time"], plain.columns["time"][-1] + [60.0, 120.0]),
            "drained_volume": np.append(
                plain.columns["drained_volume"], np.repeat(plain.columns["drained_volume"][-1], 2)
            ),
        },
    )
    assert not any("after" in str(fault) for fault in reading_faults(held))
    found = [fit_gravity_drainage(one).estimates[0].value for one in (plain, held)]
    assert found[1] == pytest.approx(found[0], rel=1e-9)
