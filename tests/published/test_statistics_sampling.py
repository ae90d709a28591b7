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
    normal_marginal,
    unit_cube,
    variance_indices,
)

Case = dict[str, Any]
DATA: dict[str, Any] = tomllib.loads(
    (Path(__file__).parent / "data/statistics_sampling.toml").read_text(encoding="utf-8")
)


def _cube(count: int, dimension: int) -> Any:
    """Base points A, base points B, then A with one column after another taken from B."""
    both = unit_cube(count, 2 * dimension)
    a, b = both[:, :dimension], both[:, dimension:]
    swapped = [np.where(np.arange(dimension) == n, b, a) for n in range(dimension)]
    return np.concatenate([a, b, *swapped])


def _ishigami() -> dict[str, float]:
    i = DATA["inputs"]["ishigami"]

    def function(cube: Any) -> Any:
        x, y, z = (np.pi * (2 * column - 1) for column in cube.T)
        return np.sin(x) + i["a"] * np.sin(y) ** 2 + i["b"] * z**4 * np.sin(x)

    got = variance_indices(function(_cube(i["base_samples"], 3)), 3)
    plain = unit_cube(4096, 3)
    given = first_order_indices(plain, function(plain))
    found = {}
    for n, name in enumerate("xyz"):
        found[f"first_{name}"], found[f"total_{name}"] = got.first[n], got.total[n]
        found[f"given_{name}"] = given.first[n]
    return found


def _percentiles() -> dict[str, float]:
    count = DATA["inputs"]["percentiles"]["count"]
    factors = {f"f{n}": normal_marginal(0.0, 0.2) for n in range(5)}
    marginals = {
        "lognormal": normal_marginal(np.log(3.0), 0.5),
        "a": normal_marginal(3.0, 0.4),
        "b": normal_marginal(2.0, 0.3),
    }
    drawn = draw({**marginals, **factors}, count, {("a", "b"): 0.5})
    results = {
        "lognormal": np.exp(drawn["lognormal"]),
        "sum": drawn["a"] + drawn["b"],
        "product": np.exp(sum(drawn[name] for name in factors)),
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
