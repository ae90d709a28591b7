"""Solids and water balance per shift."""

from __future__ import annotations

import numpy as np
import pytest

from cakewright.quantities import FloatArray
from cakewright.running.practice_plant import invented_shifts
from cakewright.running.reconcile import (
    BALANCE_KEYS,
    Assumed,
    BalanceInput,
    balance_residuals,
    reconcile_shifts,
    standing_bias,
)
from cakewright.running.shifts import ShiftTable
from cakewright.running.signals import signal


def _table(**mean: float | FloatArray) -> ShiftTable:
    values = {key: np.atleast_1d(np.asarray(value, dtype=float)) for key, value in mean.items()}
    size = next(iter(values.values())).size
    hours = np.full(size, 28800.0)
    cover = {key: np.ones(size) for key in values}
    return ShiftTable(np.arange(size) * 28800, hours, hours, hours, np.zeros(size), values, cover)


# A press that closes exactly: 10 m3/h at 2 %, 95 % captured, cake at 20 %.
CLOSED = {
    "feed_flow": 10 / 3600, "feed_solids": 0.02, "polymer_flow": 0.8 / 3600,
    "polymer_strength": 0.002, "wash_flow": 0.7 / 3600, "cake_solids": 0.2,
}  # fmt: skip
_DRY = 0.95 * (200 + 1.6) / 3600
CLOSED["cake_flow"] = _DRY / 0.2
CLOSED["filtrate_flow"] = 11.5 / 3600 - CLOSED["cake_flow"] / 1000
CLOSED["filtrate_solids"] = 0.05 * 201.6 / 3600 / CLOSED["filtrate_flow"]


def test_closed_readings_are_left_as_they_are() -> None:
    """Readings that close already are not moved, and capture and dose follow."""
    got = reconcile_shifts(_table(**CLOSED))
    assert got.value[0] == pytest.approx([CLOSED[key] for key in BALANCE_KEYS])
    assert got.misfit[0] == pytest.approx(0, abs=1e-9)
    assert got.dose[0] == pytest.approx(0.008)
    assert got.capture[0] == pytest.approx(1 - 0.05 * 201.6 / 200)
    assert got.freedom[0] == 2


def test_reconciled_values_close_and_know_more() -> None:
    """After reconciliation both balances close and no value is less certain than its reading."""
    table = invented_shifts(None, seed=1, shifts=60).table
    got = reconcile_shifts(table)
    good = np.isfinite(got.capture) & (got.freedom == 2)
    left = balance_residuals(got.value[good])
    assert np.abs(left[:, 0] / (got.value[good, 0] * 20)).max() < 1e-8
    assert np.abs(left[:, 1] / (got.value[good, 0] * 1000)).max() < 1e-8
    assert (got.spread[good] <= got.sigma[good] * (1 + 1e-9)).all()


def test_agreement_rate_of_honest_readings() -> None:
    """Honest readings agree with the balances about as often as promised."""
    rng = np.random.default_rng(3)
    relative = {key: signal(key).relative for key in CLOSED}
    noisy = {k: v * (1 + relative[k] * rng.standard_normal(600)) for k, v in CLOSED.items()}
    got = reconcile_shifts(_table(**noisy))
    assert got.agrees.mean() == pytest.approx(0.95, abs=0.03)


@pytest.mark.parametrize(
    "missing", ["cake_flow", "filtrate_flow", "filtrate_solids", "feed_solids"]
)
def test_one_missing_reading_is_found(missing: str) -> None:
    """One reading too few is worked out, and one check remains."""
    rest = {key: value for key, value in CLOSED.items() if key != missing}
    got = reconcile_shifts(_table(**rest))
    assert got.column(missing)[0] == pytest.approx(CLOSED[missing], rel=1e-6)
    assert got.freedom[0] == 1


def test_two_missing_readings_close_unchecked() -> None:
    """Without filtrate and cake flow the balances still answer, but nothing checks them."""
    rest = {k: v for k, v in CLOSED.items() if k not in ("cake_flow", "filtrate_flow")}
    got = reconcile_shifts(_table(**rest))
    assert got.column("cake_flow")[0] == pytest.approx(CLOSED["cake_flow"], rel=1e-6)
    assert got.freedom[0] == 0
    assert got.capture_spread[0] > 0


def test_too_few_readings_have_no_answer() -> None:
    """Three readings short there is no number, not a guess."""
    rest = {k: CLOSED[k] for k in ("feed_flow", "feed_solids", "cake_solids")}
    got = reconcile_shifts(_table(**rest))
    assert np.isnan(got.capture[0])


def test_unread_wash_water_is_assumed_wide() -> None:
    """Wash water nobody measures is taken as a share of the feed with a wide uncertainty."""
    rest = {k: v for k, v in CLOSED.items() if k != "wash_flow"}
    narrow = BalanceInput(assumed={"wash_flow": Assumed(0.07, 0.001, of_feed=True)})
    wide, sure = reconcile_shifts(_table(**rest)), reconcile_shifts(_table(**rest), narrow)
    i = BALANCE_KEYS.index("wash_flow")
    assert wide.spread[0, i] > 3 * sure.spread[0, i]
    assert not wide.read[0, i]


def test_dissolved_solids_count_in_feed_and_not_in_capture() -> None:
    """Dissolved solids pass with the water: capture on suspended solids rises by naming them."""
    plain = reconcile_shifts(_table(**CLOSED))
    # The same press with 1 g/L dissolved in feed and in cake water.
    dissolved = dict(CLOSED)
    dissolved["feed_solids"] = 0.02 + 0.001
    dissolved["cake_solids"] = 0.2 + 0.8 * 0.001
    named = reconcile_shifts(_table(**dissolved), BalanceInput(dissolved=1.0))
    assert named.capture[0] == pytest.approx(plain.capture[0], abs=2e-4)


def test_standing_bias_over_many_shifts() -> None:
    """A cake scale 8 % low hides in one shift and stands out over fifty."""
    table = invented_shifts(None, seed=2, shifts=50).table
    honest = standing_bias(reconcile_shifts(table))
    mean = dict(table.mean)
    mean["cake_flow"] = mean["cake_flow"] * 0.90
    biased = _table(**mean)
    got = standing_bias(reconcile_shifts(biased))
    names = {got[0].key, *got[0].alike}
    assert not honest
    assert "cake_flow" in names
    assert next(one.bias for one in got if one.key == "cake_flow") < -0.02
