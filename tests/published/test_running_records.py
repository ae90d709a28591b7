"""Plant records with known contradictions: reckoned as their sources do, and flagged."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from cakewright.running.investigate import conditions_of, responses_of
from cakewright.running.reconcile import Assumed, BalanceInput, BalanceTable, reconcile_shifts
from cakewright.running.shifts import ShiftTable

Prove = Callable[[dict[str, Any], float], None]
DATA = Path(__file__).parent / "data" / "running_records.toml"
CASES = {case["id"]: case for case in tomllib.loads(DATA.read_text(encoding="utf-8"))["case"]}
DAY, GPM = 86400.0, 6.30902e-5


def _record(**mean: float) -> ShiftTable:
    one = np.full(1, DAY)
    values = {key: np.array([value]) for key, value in mean.items()}
    cover = {key: np.ones(1) for key in values}
    return ShiftTable(np.zeros(1, dtype=np.int64), one, one, one, np.zeros(1), values, cover)


# W6: 1620 m3/d at 3.4 %, centrate 1450 m3/d at 920 mg/L, cake 201 t/d at 26.73 %, 12.4 kg/t.
W6 = _record(
    feed_flow=1620 / DAY, feed_solids=0.034, filtrate_flow=1450 / DAY, filtrate_solids=0.92,
    cake_flow=201_000 / DAY, cake_solids=0.2673, polymer_flow=171 / DAY, polymer_strength=0.004,
    wash_flow=1e-9,
)  # fmt: skip
# W7: 510 m3/d at 2.6 %, centrate 464 m3/d at 4330 mg/L of total solids, cake 40 t/d at 28.1 %.
W7 = _record(
    feed_flow=510 / DAY, feed_solids=0.026, filtrate_flow=464 / DAY, filtrate_solids=4.33,
    cake_flow=40_000 / DAY, cake_solids=0.281, polymer_flow=0.0001, polymer_strength=0.004,
)  # fmt: skip
# W5: per metre of belt 45 gpm at 5 %, polymer 4 gpm at 0.2 %, wash 32, wastewater 64 at 2200 mg/L.
W5_READ: dict[str, float] = {
    "feed_flow": 45 * GPM, "feed_solids": 0.05, "filtrate_flow": 64 * GPM, "filtrate_solids": 2.2,
    "polymer_flow": 4 * GPM, "polymer_strength": 0.002, "wash_flow": 32 * GPM, "cake_solids": 0.24,
}  # fmt: skip
W5 = _record(**W5_READ, cake_flow=0.937 * 45 * GPM * 1000 * 0.05 / 0.24)


def _loss(table: ShiftTable) -> float:
    balance = reconcile_shifts(table)
    return float(responses_of(table, balance)["loss"][0])


def _answers() -> dict[str, float]:
    w5, w6 = reconcile_shifts(W5), reconcile_shifts(W6)
    return {
        "W6-loss": _loss(W6),
        "W6-water-gap": float(w6.gap_water[0]),
        "W7-loss": _loss(W7),
        "W5-loss": _loss(W5),
        "W5-dose": float(conditions_of(W5, w5)["dose"][0]),
        "W5-water-gap": float(w5.gap_water[0]),
        "P4-cake": float(_p4(cake_read=False).column("cake_flow")[0]) * DAY * 365 / 1000,
    }


@pytest.mark.parametrize("key", CASES)
def test_as_the_source_reckons(key: str, prove: Prove) -> None:
    """Losses, doses and gaps come out as the records give them."""
    prove(CASES[key], _answers()[key])


@pytest.mark.parametrize(("name", "table"), [("W5", W5), ("W6", W6)])
def test_water_that_does_not_close_is_flagged(name: str, table: ShiftTable) -> None:
    """The belt-press exercise and the centrifuge record do not pass as agreeing."""
    balance = reconcile_shifts(table)
    assert balance.freedom[0] == 2
    assert not balance.agrees[0]


def test_belt_exercise_is_flagged_without_a_cake_scale_too() -> None:
    """Even with the cake flow unknown, the missing eighth of the water shows."""
    balance = reconcile_shifts(_record(**W5_READ))
    assert balance.freedom[0] == 1
    assert not balance.agrees[0]


def _p4(*, cake_read: bool) -> BalanceTable:
    year = DAY * 365
    read = {"feed_flow": 15_000 / year, "feed_solids": 0.035, "cake_solids": 0.25}
    if cake_read:
        read["cake_flow"] = 600_000 / year
    clear = BalanceInput(assumed={"filtrate_solids": Assumed(1.0, 0.7)})
    return reconcile_shifts(_record(**read), clear)


def test_cake_volume_that_cannot_be_is_flagged() -> None:
    """600 m3 of cake a year from 525 t of dry solids: no uncertainty explains that."""
    balance = _p4(cake_read=True)
    assert not balance.agrees[0]
    assert balance.misfit[0] > 100


def test_dissolved_solids_explain_a_poor_capture() -> None:
    """W7: capture on total solids looks poor; naming dissolved solids brings it back."""
    plain = reconcile_shifts(W7)
    suspended = W7.mean["filtrate_solids"][0] - 3.5
    table = _record(**{k: float(v[0]) for k, v in W7.mean.items()} | {"filtrate_solids": suspended})
    named = reconcile_shifts(table, BalanceInput(dissolved=3.5))
    assert 1 - _loss(W7) == pytest.approx(0.848, abs=0.002)
    assert plain.capture[0] < 0.88
    assert named.capture[0] > 0.95
