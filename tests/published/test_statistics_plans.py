"""Sequential test and fixed sample size."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from cakewright.statistics import sample_size_known_deviation, sequential_test

Case = dict[str, Any]
DATA: dict[str, Any] = tomllib.loads(
    (Path(__file__).parent / "data/statistics_plans.toml").read_text(encoding="utf-8")
)


@pytest.mark.parametrize("case", DATA["case"], ids=lambda case: case["id"])
def test_plans(case: Case, prove: Callable[[Case, float], None]) -> None:
    """Lines and numbers of the exercise are reproduced."""
    i = DATA["inputs"]["wald"]
    test = sequential_test(i["sigma"], i["m0"], i["m1"], i["alpha"], i["beta"])
    answers = {
        "slope": test.slope,
        "intercept": test.upper,
        "expected": test.expected_first,
        "fixed": sample_size_known_deviation(i["alpha"], i["beta"], i["sigma"], i["m1"] - i["m0"]),
    }
    assert test.lower == pytest.approx(test.upper)
    prove(case, answers[case["key"]])
