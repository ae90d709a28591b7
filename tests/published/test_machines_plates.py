"""Plate presses against worked examples: solids, cake, chamber volume, filling time, cycle."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from cakewright.machines import solids_per_cycle
from cakewright.machines.plates.fill import Filled, filled
from cakewright.physics.balance import Additive, balance_dewatering
from cakewright.sludge import Composition, Sludge, blend, run_load

Case = dict[str, Any]
Answers = dict[str, float]
DAY = 86400.0


def _cases() -> list[Case]:
    text = (Path(__file__).parent / "data/machines_plates.toml").read_text(encoding="utf-8")
    return list(tomllib.loads(text)["case"])


def _run_day(i: Case) -> float:
    """Dry solids per operating day, kg; the source takes the sludge at the density of water."""
    dry = i["L_d"] * i["TS"]
    feed = blend([Sludge.of("one", "was", dry / DAY, Composition(i["TS"], 0.2))])
    return float(run_load(feed, 1.0, i["days"]).dry_solids_flow[0]) * DAY


def _cake_dry(fed: float, i: Case, shares: dict[str, float], retained: float) -> float:
    added = [Additive(key, share * fed, 0.0, retained) for key, share in shares.items()]
    balance = balance_dewatering(fed, 0.02, 0.0, i["cake"], i["capture"], added)
    return float(balance.streams["cake"].dry)


def _fixed_volume(i: Case) -> Answers:
    fed = _run_day(i)
    shares = {"lime": i["lime"], "ferric": i["ferric"]}
    cake = _cake_dry(fed, i, shares, 1.0)
    added = i["lime"] + i["ferric"]
    per_day = fed / solids_per_cycle(1.0, i["rho"], i["cake"], added)
    return {
        "W2-conditioner-lime": fed * i["lime"],
        "W2-total": fed * (1.0 + added),
        "W2-cake-dry": cake,
        "W2-cake-volume": cake / (i["cake"] * i["rho"]),
        "W2-volume-per-cycle": float(per_day) / i["cycles"],
    }


def _membrane(i: Case) -> Answers:
    shares = {"lime": i["lime"], "polymer": i["polymer"]}
    cake = _cake_dry(float(i["kg_d"]), i, shares, i["retained"])
    return {"W3-cake-dry": cake, "W3-cake-dry-printed": cake}


def _small(i: Case) -> Answers:
    fed = _run_day(i)
    per_day = fed / float(solids_per_cycle(1.0, i["rho"], i["cake"], i["lime"]))
    return {
        "W4-total": fed * (1.0 + i["lime"]),
        "W4-one-cycle": per_day,
        "W4-two-cycles": per_day / 2,
    }


def _filled(i: Case, deposit: float, half: float) -> Filled:
    """A chamber filled with a cake that does not compress, by a pump that never limits.

    ``deposit`` is the dry mass per filtrate volume. Density and cake are ours: the source needs
    neither, and they cancel.
    """
    dense, cake = 2700.0, 0.4
    void = dense / deposit + 1.0 / cake - 1.0
    inputs = {
        "gel_point": cake,
        "yield_scale": 300.0,
        "yield_exponent": 1e5,
        "local_resistance": i["alpha"],
        "resistance_exponent": 0.0,
        "solids_density": dense,
        "liquid_viscosity": i["mu"],
        "medium_resistance": i["medium"],
        "feed_pressure": i["pressure"],
        "half_depth": half,
        "slurry_solidosity": 1.0 / (1.0 + void),
        "initial_fill_time": 0.0,
        "pump_flux": 1.0,
        "end_flux": 1e-6,
        "longest_filling": 1e9,
        "wanted_solids": half * cake,
    }
    return filled({name: np.array([float(value)]) for name, value in inputs.items()})


def _scale_up(i: Case) -> Answers:
    half = i["volume"] / i["area"] * i["deposit"] / 2700.0 / 0.4
    return {"EX-SRF-02-press": float(_filled(i, i["deposit"], half).time[0])}


def _frames(i: Case) -> Answers:
    """Filtrate per time of a press of so many frames: cake fills a frame from both faces."""
    half = 0.5 * i["thickness"]
    deposit = i["v"] * 0.4 * 2700.0
    parameters = {"mu": 1e-3, "medium": 0.0, "alpha": 2.0 / (i["K"] * 1e-3 * deposit), **i}
    found = _filled(parameters, deposit, half)
    area = 2.0 * i["side"] ** 2 * i["frames"]
    cycle = found.time[0] + i["per_frame"] * i["frames"] + i["once"]
    filtrate = found.point.filtrate[0] * area / cycle
    names = ("EX-SRF-09d-time", "EX-SRF-09d-thin", "EX-SRF-09d-thick")
    return dict(zip(names, (float(found.time[0]), filtrate, filtrate), strict=True))


GROUPS: dict[str, Callable[[Case], Answers]] = {
    "W2": _fixed_volume,
    "W3": _membrane,
    "W4": _small,
    "EX-SRF-02": _scale_up,
    "EX-SRF-09d": _frames,
}


@pytest.mark.parametrize("case", _cases(), ids=lambda case: str(case["id"]))
def test_plate_press_design(case: Case, prove: Callable[[Case, float], None]) -> None:
    """Solids, cake, chamber volume and filling time agree with the worked example."""
    group = next(key for key in GROUPS if str(case["id"]).startswith(key))
    prove(case, GROUPS[group](case["inputs"])[case["id"]])
