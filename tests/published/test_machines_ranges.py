"""The shipped catalogue, invented as it is, against the published ranges of every kind.

Rows marked MEM or PRACTICE hold the invented figures near the trade and are no proof.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from cakewright.machines import Frame, Kind, shipped_catalogue

Case = dict[str, Any]
RANGES = tomllib.loads(
    (Path(__file__).parent / "data/machines_ranges.toml").read_text(encoding="utf-8")
)["range"]

ASKED: dict[str, Callable[[Frame], float]] = {
    "kWh per m3": lambda f: f.power / f.hydraulic_limit / 3.6e6,
    "kWh per t": lambda f: f.power / f.solids_limit / 3600.0,
    "m3 per m and h": lambda f: f.hydraulic_limit * 3600.0 / (f.belt_width or 1.0),
    "kg per m and h": lambda f: f.solids_limit * 3600.0 / (f.belt_width or 1.0),
    "wash m3 per m and h": lambda f: f.wash_flow * 3600.0 / (f.belt_width or 1.0),
    "wash bar": lambda f: f.wash_pressure / 1e5,
    "wash share of time": lambda f: f.wash_duty,
    "kg per h": lambda f: f.solids_limit * 3600.0,
    "g at the bowl": lambda f: f.relative_force or 0.0,
    "rated kW": lambda f: f.installed_power / 1e3,
    "plates": lambda f: float(f.plates or 0),
    "shafts": lambda f: float(f.shafts),
}


@pytest.mark.parametrize("row", RANGES, ids=[f"{r['kind']}-{r['quantity']}" for r in RANGES])
def test_frames_lie_in_the_range(row: Case, prove: Callable[..., None]) -> None:
    """Every frame of the kind lies between the ends told."""
    frames = [f for f in shipped_catalogue() if f.machine is Kind(row["kind"])]
    frames = [f for f in frames if f.solids_limit * 3600.0 >= row.get("from_kg_h", 0.0)]
    assert frames
    for frame in frames:
        got = ASKED[row["quantity"]](frame)
        case = {
            "id": f"range-{row['kind']}-{row['quantity']}-{frame.name}".replace(" ", "-"),
            "source": row["source"],
            "where": row["where"],
            "status": row["status"],
            "read": f"{row['low']:g} to {row['high']:g} {row['quantity']}",
            "quantity": row["quantity"],
            "expected": float(np.clip(got, row["low"], row["high"])),
            "tolerance": 1e-9,
            "reason": "inside the range",
        }
        prove(case, got, within=True)


def test_energy_per_volume_grows_with_the_bowl_and_falls_with_nothing_else_known() -> None:
    """Large bowls bring the liquid to a faster weir: kWh per m3 of the largest tops the middle."""
    bowls = [f for f in shipped_catalogue() if f.machine is Kind.DECANTER]
    per = [ASKED["kWh per m3"](f) for f in bowls]
    assert max(per) == per[-1]
    assert max(per) - min(per) > 0.2
