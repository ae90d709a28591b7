"""Control charts and the outlier test of the public handbook; run lengths from memory."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from cakewright.statistics import (
    ewma_chart,
    grubbs_test,
    individuals_chart,
    moving_range_chart,
    run_length_cusum,
    run_length_ewma,
)

Case = dict[str, Any]
DATA: dict[str, Any] = tomllib.loads(
    (Path(__file__).parent / "data/statistics_charts.toml").read_text(encoding="utf-8")
)
INPUTS = DATA["inputs"]


def _individuals() -> dict[str, float]:
    x = np.array(INPUTS["individuals"]["x"])
    chart, ranges = individuals_chart(x), moving_range_chart(x)
    return {
        "mean": chart.centre,
        "mr_mean": ranges.centre,
        "upper": chart.upper[0],
        "lower": chart.lower[0],
        "mr_upper": ranges.upper[0],
    }


def _ewma() -> dict[str, float]:
    i = INPUTS["ewma"]
    chart = ewma_chart(np.array(i["x"]), i["start"], i["s"], i["weight"], i["width"])
    averages = {f"z{n:02d}": z for n, z in enumerate(chart.values, 1)}
    return {**averages, "upper": chart.upper[0], "lower": chart.lower[0]}


def _grubbs() -> dict[str, float]:
    i = INPUTS["grubbs"]
    test = grubbs_test(np.array(i["x"]), i["significance"], two_sided=False)
    return {"G": test.statistic, "critical": test.critical}


def _run_length() -> dict[str, float]:
    found = {}
    for h in (4, 5):
        for shift in (0, 1):
            found[f"cusum_k0.5_h{h}_{shift}"] = run_length_cusum(0.5, h, shift)
    for weight, width in ((0.1, 2.814), (0.2, 2.962)):
        for shift in (0, 1):
            found[f"ewma_{weight}_{width}_{shift}"] = run_length_ewma(weight, width, shift)
    return found


ANSWERS = {
    "individuals": _individuals(),
    "ewma": _ewma(),
    "grubbs": _grubbs(),
    "run_length": _run_length(),
}


@pytest.mark.parametrize("case", DATA["case"], ids=lambda case: case["id"])
def test_charts(case: Case, prove: Callable[[Case, float], None]) -> None:
    """Chart lines, averages, statistics and run lengths equal the published ones."""
    prove(case, float(ANSWERS[case["group"]][case["key"]]))


def test_verdicts_of_the_handbook() -> None:
    """No signal on either chart of the handbook, one outlier in its uranium data."""
    i = INPUTS["ewma"]
    assert individuals_chart(np.array(INPUTS["individuals"]["x"])).signals.size == 0
    assert ewma_chart(np.array(i["x"]), i["start"], i["s"], i["weight"]).signals.size == 0
    found = grubbs_test(np.array(INPUTS["grubbs"]["x"]), two_sided=False)
    assert found.is_outlier
    assert found.index == 7
