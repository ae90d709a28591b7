"""Capture forms, balances and belt-press exercises; and where a capture form must not be used."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from cakewright.errors import OutOfRangeError
from cakewright.physics.balance import Additive, DewateringBalance, balance_dewatering
from cakewright.physics.capture import (
    capture_three_stream,
)
from cakewright.physics.solids import dry_solids_flow
from cakewright.sludge import Composition, Sludge, blend, run_load

Case = dict[str, Any]
Answers = dict[str, float]
GAL_LB, M3H = 8.34, 3600.0
LB_PER_KG = 2.2046226


def _cases() -> list[Case]:
    text = (Path(__file__).parent / "data/machines_capture.toml").read_text(encoding="utf-8")
    return list(tomllib.loads(text)["case"])


def _concentrations(i: Case) -> float:
    return float(capture_three_stream(i["feed"], i["cake"], i["filtrate"]))


def _w5_balance(i: Case) -> DewateringBalance:
    # Per metre and hour in pounds; a pound of water has the volume 1/GAL_LB gallons.
    hour = 60.0 * GAL_LB
    feed = float(dry_solids_flow(i["feed_gpm"] * 60.0, i["feed_TS"], GAL_LB))
    polymer = i["polymer_gpm"] * hour
    additive = Additive(
        "polymer", polymer * i["polymer_conc"], polymer * (1.0 - i["polymer_conc"]), 0.0
    )
    return balance_dewatering(
        feed,
        i["feed_TS"],
        0.0,
        i["cake_TS"],
        _w5_loss(i),
        [additive],
        wash_flow=i["wash_gpm"] * 60.0,
        density_dry=GAL_LB,
        density_water=GAL_LB,
    )


def _w5_loss(i: Case) -> float:
    return 1.0 - float(i["waste_gpm"] * i["waste_SS"]) / float(i["feed_gpm"] * i["feed_TS"])


def _belt_exercise(i: Case) -> Answers:
    balance = _w5_balance(i)
    sludge, cake = balance.streams["sludge"], balance.streams["cake"]
    per_day = i["gpd"] * GAL_LB * i["feed_TS"]
    added = (i["polymer_gpm"] + i["wash_gpm"]) / i["feed_gpm"]
    unguarded = capture_three_stream(
        i["feed_TS"], i["cake_TS"], i["waste_SS"], added, largest_added=1.0
    )
    into = i["feed_gpm"] + i["polymer_gpm"] + i["wash_gpm"]
    out = i["waste_gpm"] + float(cake.volume) / 60.0
    return {
        "W5-three-stream-refused": float(unguarded),
        "W5-solids-loading": float(sludge.suspended),
        "W5-dose": float(balance.streams["polymer"].conditioner / sludge.dry) * 1000.0,
        "W5-cake": per_day / float(sludge.dry) * float(cake.mass),
        "W5-water": out / into,
    }


def _cake(i: Case) -> float:
    lost = i.get("lost_t", 0.0)
    share = float(i["C"] if "C" in i else i["TS"])
    fed = i["Q"] * share
    balance = balance_dewatering(
        fed, share, 0.0, i["cake"], 1.0 - lost / fed, density_dry=1.0, density_water=1.0
    )
    return float(balance.streams["cake"].mass)


def _belt_design(i: Case) -> Answers:
    rho = i["SG"] * 1000.0
    daily = float(dry_solids_flow(i["Q_m3_d"], i["TS"], rho))
    feed = blend([Sludge.of("one", "was", daily / 86400.0, Composition(i["TS"], 0.2))])
    load = run_load(feed, i["hours"] / 24.0, i["days"])
    per_hour = float(load.dry_solids_flow[0]) * M3H
    width = per_hour / i["loading"]
    return {
        "W11-week": daily * 7.0,
        "W11-run": per_hour,
        "W11-width": width,
    }


def _answer(case: Case) -> float:
    key, inputs = str(case["id"]), case["inputs"]
    if key.startswith("W5"):
        return _belt_exercise(inputs)[key]
    if key.startswith("W11"):
        return _belt_design(inputs)[key]
    if key.endswith("-cake"):
        return _cake(inputs)
    return _concentrations(inputs)


@pytest.mark.parametrize("case", _cases(), ids=lambda case: str(case["id"]))
def test_capture_and_balances(case: Case, prove: Callable[[Case, float], None]) -> None:
    """Capture and balances agree with the source, or disagree for the reason given."""
    prove(case, _answer(case))


def test_three_concentrations_refuse_wash_water() -> None:
    """The concentration form is refused for the belt exercise, whose wash water it leaves out."""
    with pytest.raises(OutOfRangeError, match="use the loss form"):
        capture_three_stream(0.05, 0.24, 0.0022, added_water_share=36.0 / 45.0)
