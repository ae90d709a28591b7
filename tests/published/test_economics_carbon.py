"""Carbon of a tonne of dry solids by route, and a grid factor from totals."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from cakewright.economics import (
    carbon_equivalent,
    haulage_carbon,
    landfill_methane,
    power_carbon,
    product_carbon,
    soil_nitrous_oxide,
    warming_potentials,
)

Case = dict[str, Any]
DATA: dict[str, Any] = tomllib.loads(
    (Path(__file__).parent / "data/economics_carbon.toml").read_text(encoding="utf-8")
)
KWH, TONNE = 3.6e6, 1000.0


def _tonne(i: Case) -> dict[str, float]:
    gwp = warming_potentials("AR6")
    methane = landfill_methane(TONNE, i["DOC"], i["DOCf"], i["MCF"], i["F"], i["OX"])
    nitrogen = TONNE * i["nitrogen_share"]
    oxide = soil_nitrous_oxide(nitrogen, i["EF1_default"])
    wet = soil_nitrous_oxide(nitrogen, i["EF1_wet"])
    cake = TONNE / i["cake_solids"]
    haul = haulage_carbon(cake, i["distance_km"] * 1000, i["factor_tkm"] / TONNE / 1000)
    return {
        "landfill_CH4": float(methane),
        "landfill": float(carbon_equivalent(methane, 0.0, gwp)),
        "land_N2O": float(oxide),
        "land": float(carbon_equivalent(0.0, oxide, gwp)),
        "land_wet": float(carbon_equivalent(0.0, wet, gwp)),
        "haul": float(haul),
        "power": float(power_carbon(i["power_kWh"] * KWH, i["factor_kWh"] / KWH)),
        "polymer": float(product_carbon(i["polymer_kg"], i["factor_polymer"])),
    }


@cache
def _answers() -> dict[str, float]:
    return _tonne(DATA["inputs"]["tonne"])


@pytest.mark.parametrize("case", DATA["case"], ids=lambda case: case["id"])
def test_carbon(case: Case, prove: Callable[[Case, float], None]) -> None:
    """Each part of the tonne equals the worked figures."""
    prove(case, _answers()[case["key"]])
