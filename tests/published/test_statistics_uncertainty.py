"""Uncertainty budgets of the guide's gauge, a weighing, and solids capture."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from cakewright.statistics import (
    InputUncertainty,
    coverage_factor,
    draw,
    normal_marginal,
    uncertainty_budget,
)

Case = dict[str, Any]
FLAT = np.sqrt(3.0)  # half width over deviation of a flat distribution
DATA: dict[str, Any] = tomllib.loads(
    (Path(__file__).parent / "data/statistics_uncertainty.toml").read_text(encoding="utf-8")
)


def _length(i: Case) -> Callable[[Mapping[str, Any]], Any]:
    """Length over the nominal one, so that nanometres are not lost in the digits."""

    def model(x: Mapping[str, Any]) -> Any:
        expansion = x["dalpha"] * x["theta"] + x["alpha"] * x["dtheta"]
        return x["standard"] + x["d"] - (i["lS_nm"] + x["standard"]) * expansion

    return model


def _gum_h1(i: Case) -> dict[str, float]:
    parts = np.array(
        [
            i["pooled_s_nm"] / np.sqrt(i["n_readings"]),
            i["comparator_random_95_nm"] / coverage_factor(0.95, i["comparator_random_nu"]),
            i["comparator_systematic_3sigma_nm"] / 3,
        ]
    )
    freedoms = np.array([i["pooled_nu"], i["comparator_random_nu"], i["comparator_systematic_nu"]])
    terms = {
        str(n): InputUncertainty(0.0, *one)
        for n, one in enumerate(zip(parts, freedoms, strict=True))
    }
    difference = uncertainty_budget(lambda x: np.add.reduce(list(x.values())), terms)
    u_d, nu_d = difference.deviation, difference.freedom
    alpha = i["half_alphaS_per_C"] / FLAT
    inputs = {
        "standard": InputUncertainty(0.0, i["U_lS_nm"] / i["k_lS"], i["nu_lS"]),
        "d": InputUncertainty(i["d_nm"], u_d, nu_d),
        "dalpha": InputUncertainty(0.0, i["half_dalpha_per_C"] / FLAT, i["nu_dalpha"]),
        "theta": InputUncertainty(i["theta_C"], i["u_theta_C"]),
        "alpha": InputUncertainty(i["alphaS_per_C"], alpha),
        "dtheta": InputUncertainty(0.0, i["half_dtheta_C"] / FLAT, i["nu_dtheta"]),
    }
    budget = uncertainty_budget(_length(i), inputs)
    drawn = draw({name: normal_marginal(x.value, x.deviation) for name, x in inputs.items()}, 8192)
    whole = np.asarray(_length(i)({name: drawn[name][1:] for name in inputs}))
    return {
        "u_standard": inputs["standard"].deviation,
        "u_repeat": float(parts[0]),
        "u_random": float(parts[1]),
        "u_systematic": float(parts[2]),
        "u_d": u_d,
        "nu_d": nu_d,
        "c_dalpha": budget.contributions["dalpha"],
        "c_dtheta": budget.contributions["dtheta"],
        "variance": budget.deviation**2,
        "u_c": budget.deviation,
        "nu_eff": budget.freedom,
        "t99": coverage_factor(0.99, budget.freedom),
        "U99": budget.expanded(0.99),
        "length_mm": (i["lS_nm"] + budget.value) * 1e-6,
        "u_c2": float(whole.std()),
    }


def _ea_s2(i: Case) -> dict[str, float]:
    rectangular = ("half_drift_g", "half_eccentricity_g", "half_buoyancy_g")
    inputs = {name: InputUncertainty(0.0, i[name] / FLAT) for name in rectangular}
    inputs["standard"] = InputUncertainty(0.0, i["U_standard_g"] / i["k"])
    inputs["difference"] = InputUncertainty(0.0, i["pooled_s_g"] / np.sqrt(i["n"]))
    budget = uncertainty_budget(lambda x: np.add.reduce(list(x.values())), inputs)
    return {"u": budget.deviation, "U_expanded": i["k"] * budget.deviation}


def _capture(i: Case) -> dict[str, float]:
    inputs = {name: InputUncertainty(i[name], i[f"u_{name}"]) for name in ("f", "c", "e")}
    got = uncertainty_budget(
        lambda x: x["c"] * (x["f"] - x["e"]) / (x["f"] * (x["c"] - x["e"])), inputs
    )
    slopes = {f"dR_d{name}": slope for name, slope in got.sensitivities.items()}
    shares = {f"share_{name}": share for name, share in got.shares.items()}
    return {"R": got.value, "u_R": got.deviation, **slopes, **shares}


GROUPS: dict[str, Callable[[Case], dict[str, float]]] = {
    "gum_h1": _gum_h1,
    "ea_s2": _ea_s2,
    "capture": _capture,
}


@cache
def _answers(group: str) -> dict[str, float]:
    return GROUPS[group](DATA["inputs"][group])


@pytest.mark.parametrize("case", DATA["case"], ids=lambda case: case["id"])
def test_uncertainty(case: Case, prove: Callable[[Case, float], None]) -> None:
    """Budgets give the parts, degrees of freedom and expanded values of their sources."""
    prove(case, _answers(case["group"])[case["key"]])
