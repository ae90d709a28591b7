"""Conditioner solids in a cake, own-solids dryness, heat, ammonia and acid by worked examples."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from cakewright.physics import conditioner_solids as cs

Case = dict[str, Any]


def _cases() -> list[Case]:
    text = (Path(__file__).parent / "data/conditioning.toml").read_text(encoding="utf-8")
    return list(tomllib.loads(text)["case"])


def _lime(i: Case) -> tuple[float, float, float, float, float, float]:
    """Arguments of the fate of iron and lime; the cake's water never becomes filtrate."""
    liquor = (1.0 - i["TS"]) / i["TS"] / 1000.0
    rest = i["CaO"] / i["purity"] - i["CaO"]
    filtrate = liquor
    for _ in range(4):
        kept = cs.iron_lime_kept(i["FeCl3"], i["CaO"], liquor, i["alkalinity"], filtrate, rest)
        filtrate = liquor - (1.0 + float(kept)) * (1.0 - i["cake"]) / i["cake"] / 1000.0
    return i["FeCl3"], i["CaO"], liquor, i["alkalinity"], filtrate, rest


def _equal(i: Case) -> float:
    """Conditioner at which the press cake holds as much sludge per wet mass as the other."""
    return float(i["press"] / cs.share_own_solids(i["decanter"], 0.0) - 1.0)


def _added(i: Case) -> float:
    return float((i["CaO"] + i["FeCl3"]) / i["sludge"])


def _hydroxide(i: Case) -> float:
    """No acid: iron alone and lime alone; no liquor, so nothing carbonates or dissolves."""
    iron = cs.iron_lime_kept(i["FeCl3"] / i["sludge"], 0.0, 0.0, 0.0, 0.0)
    lime = cs.iron_lime_kept(0.0, i["CaO"] / i["sludge"], 0.0, 0.0, 0.0)
    return float(iron) + float(lime)


ANSWERS: dict[str, Callable[[Case], Any]] = {
    "COND-1-mass": _equal,
    "COND-1-dryness": lambda i: cs.dryness_free_of_conditioner(i["press"], _equal(i)),
    "COND-2-added": _added,
    "COND-2-hydroxide": _hydroxide,
    "COND-2-share": lambda i: cs.share_own_solids(i["cake"], _added(i)),
    "COND-2-free": lambda i: cs.dryness_free_of_conditioner(i["cake"], _added(i)),
    "COND-3-kept": lambda i: cs.iron_lime_kept(*_lime(i)),
    "COND-4-kept": lambda i: cs.iron_lime_kept(*_lime(i)),
    "COND-6-ash": lambda i: i["own"] + cs.iron_lime_ash(*_lime(i)),
}


@pytest.mark.parametrize("case", _cases(), ids=lambda case: str(case["id"]))
def test_conditioner_in_the_cake(case: Case, prove: Callable[[Case, float], None]) -> None:
    """What is left of the chemicals, and the views of the cake, agree with the example."""
    prove(case, float(ANSWERS[case["id"]](case["inputs"])))


def test_lime_is_spent_in_order() -> None:
    """Lime too little for the acid of the iron leaves no lime in the cake: the iron alone stays."""
    iron = float(cs.iron_lime_kept(0.06, 0.0, 0.03, 3.0, 0.028))
    assert float(cs.iron_lime_kept(0.06, 0.02, 0.03, 3.0, 0.028)) == pytest.approx(iron)
    assert float(cs.iron_lime_kept(0.06, 0.10, 0.03, 3.0, 0.028)) > iron
