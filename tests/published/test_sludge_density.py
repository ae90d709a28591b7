"""Density of solids and sludge, blends, storage and run load against worked examples."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from cakewright.physics.solids import density_slurry, density_solids
from cakewright.sludge import Composition, Sludge, blend, run_load, sludge_direct

Case = dict[str, Any]
DAY, WATER = 86400.0, 1000.0


def _cases() -> list[Case]:
    text = (Path(__file__).parent / "data/sludge_density.toml").read_text(encoding="utf-8")
    return list(tomllib.loads(text)["case"])


def _digestion(i: Case) -> dict[str, float]:
    ash = 1.0 - i["VS1"]
    before = float(density_solids(ash, i["S_v"] * WATER, i["S_f"] * WATER))
    volume_1 = i["DS_kg"] / (i["TS1"] * float(density_slurry(i["TS1"], before, WATER)))
    left = i["DS_kg"] * (1.0 - i["VS1"] * i["destroyed"])
    after_ash = ash / (1.0 - i["VS1"] * i["destroyed"])
    after = float(density_solids(after_ash, i["S_v"] * WATER, i["S_f"] * WATER))
    volume_2 = left / (i["TS2"] * float(density_slurry(i["TS2"], after, WATER)))
    return {
        "EX-DENS-01-solids-before": before / WATER,
        "EX-DENS-01-volume-before": volume_1,
        "EX-DENS-01-volume-after": volume_2,
        "EX-DENS-01-reduction": 1.0 - volume_2 / volume_1,
    }


def _blend(i: Case) -> dict[str, float]:
    parts = [
        Sludge.of("one", "primary", i["M1"], Composition(i["TS1"], 0.3)),
        Sludge.of("two", "was", i["M2"], Composition(i["TS2"], 0.2)),
    ]
    return {"1E-blend-TS": float(blend(parts).mix.total_solids[0])}


def _density(i: Case) -> dict[str, float]:
    if "ash" in i:
        solids = float(density_solids(i["ash"], i["S_v"] * WATER, i["S_f"] * WATER))
        return {"1E-solids-density": solids / WATER}
    if "S" in i:
        return {"1E-slurry-density": float(density_slurry(i["TS"], i["S"] * WATER, WATER)) / WATER}
    return {f"5C-void-free-{i['TS']:g}": float(density_slurry(i["TS"], i["rho_s"], i["rho_w"]))}


def _week(i: Case) -> dict[str, float]:
    feed = blend(
        [sludge_direct("one", "was", Composition(0.01, 0.2), np.array([i["flow_m3_h"] / 3600.0]))]
    )
    load = run_load(feed, i["hours"] / 24.0, i["days"])
    return {"2A-week-run-rate": float(load.volume_flow[0]) * 3600.0}


def _ufc(i: Case) -> dict[str, float]:
    # The source takes the sludge at the density of water: solids from the mass flow itself.
    dry = i["flow_L_d"] / 1000.0 * i["SG"] * WATER * i["TS"]
    feed = blend([Sludge.of("one", "was", dry / DAY, Composition(i["TS"], 0.2))])
    load = run_load(feed, 1.0, i["days"])
    return {
        "2B-solids-per-day": float(feed.mix.dry_solids_flow[0]) * DAY,
        "2B-solids-per-run-day": float(load.dry_solids_flow[0]) * DAY,
    }


GROUPS: dict[str, Callable[[Case], dict[str, float]]] = {
    "EX-DENS": _digestion,
    "1E-blend": _blend,
    "1E": _density,
    "5C": _density,
    "2A": _week,
    "2B": _ufc,
}


@pytest.mark.parametrize("case", _cases(), ids=lambda case: str(case["id"]))
def test_density_blend_and_week(case: Case, prove: Callable[[Case, float], None]) -> None:
    """Density, blends and weekly loads agree with the source."""
    group = next(group for start, group in GROUPS.items() if case["id"].startswith(start))
    prove(case, group(case["inputs"])[case["id"]])
