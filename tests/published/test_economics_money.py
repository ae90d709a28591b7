"""Annuities, a small line over its life, scale and index, value of a drier cake."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from cakewright.economics import (
    Investment,
    YearlyCost,
    capital_cost_scaled,
    capital_recovery_factor,
    disposal_cost,
    energy_cost,
    labour_cost,
    life_cycle,
    maintenance_cost,
    polymer_cost,
    present_worth_annuity,
    present_worth_growing_annuity,
)

Case = dict[str, Any]
DATA: dict[str, Any] = tomllib.loads(
    (Path(__file__).parent / "data/economics_money.toml").read_text(encoding="utf-8")
)
HOUR, KWH, TONNE = 3600.0, 3.6e6, 1000.0


def _factors(i: Case) -> dict[str, float]:
    pairs = enumerate(zip(i["rate"], i["years"], strict=True))
    found = {f"crf_{n}": float(capital_recovery_factor(r, y)) for n, (r, y) in pairs}
    for percent in (3, 5, 8):
        found[f"pwa_{percent}_20"] = float(present_worth_annuity(percent / 100, 20))
    found["growing"] = float(present_worth_growing_annuity(0.05, 20, i["growth"]))
    return found


def _line(i: Case) -> dict[str, float]:
    solids = i["dry_solids_t"] * TONNE
    energy = i["power_kW"] * 1000 * i["hours"] * HOUR
    yearly = {
        "energy": energy_cost(energy, i["power_price_kWh"] / KWH),
        "polymer": polymer_cost(solids, i["polymer_kg"] / solids, i["polymer_price_kg"]),
        "cake": disposal_cost(i["cake_t"] * TONNE, i["cake_price_t"] / TONNE),
        "upkeep": maintenance_cost(i["capex"], i["maintenance_share"]),
        "labour": labour_cost(i["labour_h"] * HOUR, i["labour_rate_h"] / HOUR),
    }
    got = life_cycle(
        [Investment("line", i["capex"], i["years"])],
        [YearlyCost(name, cost) for name, cost in yearly.items()],
        i["years"],
        i["rate"],
        solids,
    )
    return {
        "capital": float(got.annualised_parts["line"]),
        "running": float(sum(yearly.values())),
        "annualised": float(got.annualised),
        "per_t": TONNE * float(got.per_dry_solids),
        "worth": float(got.present_worth),
    }


def _scale(i: Case) -> dict[str, float]:
    return {"scaled": float(capital_cost_scaled(**i))}


GROUPS: dict[str, Callable[[Case], dict[str, float]]] = {
    "factors": _factors,
    "line": _line,
    "scale": _scale,
}


@cache
def _answers(group: str) -> dict[str, float]:
    return GROUPS[group](DATA["inputs"][group])


@pytest.mark.parametrize("case", DATA["case"], ids=lambda case: case["id"])
def test_money(case: Case, prove: Callable[[Case, float], None]) -> None:
    """Factors and the cost of a small line come out to the cent."""
    prove(case, _answers(case["group"])[case["key"]])
