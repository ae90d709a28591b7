"""Variance indices of a function with known ones; percentiles with a closed form."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from cakewright.statistics import (
    draw,
    first_order_indices,
    lognormal_marginal,
    normal_marginal,
    saltelli_cube,
    triangular_marginal,
    unit_cube,
    variance_indices,
)

Case = dict[str, Any]
DATA: dict[str, Any] = tomllib.loads(
    (Path(__file__).parent / "data/statistics_sampling.toml").read_text(encoding="utf-8")
)


def _ishigami() -> dict[str, float]:
    i = DATA["inputs"]["ishigami"]

    def function(cube: Any) -> Any:
        x, y, z = (np.pi * (2 * column - 1) for column in cube.T)
        return np.sin(x) + i["a"] * np.sin(y) ** 2 + i["b"] * z**4 * np.sin(x)

    got = variance_indices(function(saltelli_cube(i["base_samples"], 3)), 3)
    plain = unit_cube(4096, 3)
    given = first_order_indices(plain, function(plain))
    found = {}
    for n, name in enumerate("xyz"):
        found[f"first_{name}"], found[f"total_{name}"] = got.first[n], got.total[n]
        found[f"given_{name}"] = given.first[n]
    return found


def _percentiles() -> dict[str, float]:
    count = DATA["inputs"]["percentiles"]["count"]
    factors = {f"f{n}": lognormal_marginal(1.0, 0.2) for n in range(5)}
    marginals = {
        "lognormal": lognormal_marginal(3.0, 0.5),
        "triangular": triangular_marginal(1.0, 2.0, 5.0),
        "a": normal_marginal(3.0, 0.4),
        "b": normal_marginal(2.0, 0.3),
    }
    drawn = draw({**marginals, **factors}, count, {("a", "b"): 0.5})
    results = {
        "lognormal": drawn["lognormal"],
        "triangular": drawn["triangular"],
        "sum": drawn["a"] + drawn["b"],
        "product": np.prod([drawn[name] for name in factors], axis=0),
    }
    return {
        f"{name}_{p}": np.quantile(values[1:], p / 100)
        for name, values in results.items()
        for p in (10, 50, 90)
    }


@cache
def _answers(group: str) -> dict[str, float]:
    return _ishigami() if group == "ishigami" else _percentiles()


@pytest.mark.parametrize("case", DATA["case"], ids=lambda case: case["id"])
def test_sampling(case: Case, prove: Callable[[Case, float], None]) -> None:
    """Indices and percentiles come out at their exact values."""
    prove(case, float(_answers(case["group"])[case["key"]]))
