"""The watch of one site, whole and bare."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from cakewright.errors import DataError
from cakewright.jobs.watch import WatchFindings, watch_site
from cakewright.reports.numbers import Units
from cakewright.reports.running_engineer import engineer_sections
from cakewright.reports.running_operator import operator_sections, operator_text
from cakewright.reports.running_pages import sections_page
from cakewright.running.indicators import Prices, Promise
from cakewright.running.practice_plant import invented_shifts
from cakewright.running.shifts import ShiftTable
from cakewright.running.site import Site, baseline_rows

SITE = Site(
    "a", "Invented works", invented=True, shafts=2, shaft_capacity=0.08,
    promise=Promise({"cake_solids": 0.15, "polymer_dose": 0.005}), prices=Prices(polymer=4.0),
)  # fmt: skip


def _only(table: ShiftTable, *keys: str) -> ShiftTable:
    mean = {key: table.mean[key] for key in keys}
    return replace(table, mean=mean, coverage={key: table.coverage[key] for key in keys})


def _findings() -> WatchFindings:
    log = invented_shifts("wash_fault", seed=9001, shifts=200, start=185)
    return watch_site(log.table, SITE)


FINDINGS = _findings()


def test_promise_kept_and_broken() -> None:
    """Cake is far above its promise, polymer far above its limit: one kept, one not."""
    text = operator_text(FINDINGS)
    chance = {one.name: one.chance for one in FINDINGS.promise}
    assert chance["cake_solids"] > 0.99
    assert chance["polymer_dose"] < 0.01
    assert text.startswith("Off promise this week: polymer")


def test_current_drift_is_believed_and_recent() -> None:
    """The wash fault of the last days is current; its cautions come along."""
    drift = FINDINGS.current[0]
    assert drift.explained.causes[0].cause.key == "wash_fault"
    assert {caution.key for caution in FINDINGS.cautions} >= {"rotating", "pressure"}


def test_weeks_cover_the_log_once() -> None:
    """Every running shift belongs to one week; weeks begin on Mondays."""
    assert sum(week.shifts for week in FINDINGS.weeks) == FINDINGS.table.size
    days = {np.datetime64(week.start, "s").astype(object).weekday() for week in FINDINGS.weeks}
    assert days == {0}


def test_what_is_left_out_is_said() -> None:
    """Missing prices are named, so that the cost is not taken for the whole."""
    assert any("power, water, cake, filtrate" in note for note in FINDINGS.notes)
    assert "carbon_specific" not in FINDINGS.month


@pytest.mark.parametrize(
    "keys",
    [
        ("feed_flow", "feed_solids", "cake_solids"),
        ("feed_flow", "cake_solids", "filtrate_solids"),
        ("feed_flow", "screw_torque", "floc_level"),
    ],
)
def test_bare_logs_still_make_a_report(keys: tuple[str, ...]) -> None:
    """A log with three columns gives what it can, in both unit systems, and says what it lacks."""
    findings = watch_site(
        _only(invented_shifts(None, seed=9, shifts=80).table, *keys), Site("b", "Bare")
    )
    assert operator_sections(findings, Units.US)
    assert engineer_sections(findings, Units.SI)
    assert any("too few readings for a balance" in note for note in findings.notes)
    if "cake_solids" in keys:
        assert findings.month["cake_solids"].value == pytest.approx(0.19, rel=0.05)


def test_log_that_carries_nothing() -> None:
    """A feed meter alone cannot be watched, and that is an error with a way out."""
    with pytest.raises(DataError, match="map feed solids and cake solids"):
        watch_site(
            _only(invented_shifts(None, seed=9, shifts=80).table, "feed_flow"), Site("b", "B")
        )


def test_baseline_by_date_and_by_default() -> None:
    """Dates of the site file choose the baseline; without them the first third does."""
    table = invented_shifts(None, seed=9, shifts=300).table
    day = int(table.start[0] // 86400 * 86400)
    dated = replace(SITE, baseline=(day + 10 * 86400, day + 40 * 86400))
    assert np.flatnonzero(baseline_rows(table, dated))[0] == 30
    assert baseline_rows(table, dated).sum() == 90
    assert baseline_rows(table, SITE).sum() == 100
    with pytest.raises(DataError, match="baseline"):
        baseline_rows(table, replace(SITE, baseline=(0, 86400)))


def test_weak_polymer_is_not_taken_for_wear() -> None:
    """Loss that rose with a fault of another kind brings no spare part forward."""
    log = invented_shifts("polymer_aged", seed=9002, shifts=240, start=180)
    found = watch_site(log.table, SITE)
    assert found.current[0].explained.causes[0].cause.key == "polymer_aged"
    assert found.loss_trend is not None
    assert found.loss_trend[0] < 2 * found.loss_trend[1]
    assert all(one.by != "wear" for one in found.parts if one.part.sign == "loss")


def test_stop_and_spares_reach_both_reports() -> None:
    """Next shaft, quiet time, spares and the mark of invented intervals stand in the reports."""
    found = replace(FINDINGS, parts=tuple(replace(p, order_in=0.0) for p in FINDINGS.parts))
    engineer = sections_page("t", "s", engineer_sections(found), invented=True)
    operator = sections_page("t", "s", operator_sections(found), invented=True)
    assert "Next to take out: shaft" in engineer
    assert "Intervals, counts and delivery times are invented" in engineer
    assert "Next to take out: shaft" in operator
    assert "(interval invented)" in operator
