"""Sludge production against yields, tables and chemical-sludge examples."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from cakewright.physics.precipitates import (
    Metal,
    metal_in_salt,
    solids_concentration_water_works_lang,
    solids_per_metal_precipitation,
)
from cakewright.physics.yields import (
    solids_flow_net_yield,
    solids_per_bod_load_rule,
    yield_observed,
)
from cakewright.sludge import coagulant_precipitate

Case = dict[str, Any]
DAY = 86400.0


def _cases() -> list[Case]:
    import tomllib

    text = (Path(__file__).parent / "data/sludge_production.toml").read_text(encoding="utf-8")
    return list(tomllib.loads(text)["case"])


def _observed(i: Case) -> float:
    return float(yield_observed(i["Y"], i["kd_per_d"] / DAY, i["SRT_d"] * DAY))


def _net(i: Case) -> float:
    removed = (i["S0_mg_L"] - i["S_mg_L"]) / 1000.0
    flow = solids_flow_net_yield(i["Q_m3_d"] / DAY, removed, _observed(i), i["VSS_over_TSS"])
    return float(flow) * DAY


def _ferric(i: Case) -> float:
    iron = i["ferric_sulphate_mg_L"] / 1000.0 * metal_in_salt("ferric_sulphate")
    return float(coagulant_precipitate(iron=iron) + i["SS_mg_L"] / 1000.0)


def _alum(i: Case) -> float:
    made = float(coagulant_precipitate(alum=i["alum_mg_L"] / 1000.0)) + i["SS_mg_L"] / 1000.0
    return float(made * i["Q_L_d"])


def _lang(i: Case) -> float:
    made = solids_concentration_water_works_lang(i["SS_mg_L"] / 1000.0, alum=i["alum_mg_L"] / 1e3)
    return float(made) * float(i["Q_L_d"])


def _metal(i: Case) -> float:
    return float(solids_per_metal_precipitation(Metal(i["metal"]), i["beta"]))


def _load_rule(i: Case) -> float:
    return float(solids_per_bod_load_rule(i["ratio"], i["age_d"] * DAY, i["T_C"] + 273.15))


MODELS: dict[str, Callable[[Case], float]] = {
    "1A-net-yield-observed": _observed,
    "1A-net-yield-TSS": _net,
    "1F": _ferric,
    "1G-alum-lang": _lang,
    "1G": _alum,
    "1-chemical": _metal,
    "1B": _load_rule,
}


@pytest.mark.parametrize("case", _cases(), ids=lambda case: str(case["id"]))
def test_sludge_production(case: Case, prove: Callable[[Case, float], None]) -> None:
    """Dry solids made agree with the source, or disagree for the reason given."""
    model = next(model for start, model in MODELS.items() if case["id"].startswith(start))
    prove(case, model(case["inputs"]))
