"""Weighted averages of the public handbook; cumulative sums of a textbook."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from cakewright.statistics import cusum_chart, ewma_chart

Case = dict[str, Any]
DATA: dict[str, Any] = tomllib.loads(
    (Path(__file__).parent / "data/statistics_charts.toml").read_text(encoding="utf-8")
)
INPUTS = DATA["inputs"]


def _ewma() -> dict[str, float]:
    i = INPUTS["ewma"]
    chart = ewma_chart(np.array(i["x"]), i["start"], i["s"], i["weight"], i["width"])
    averages = {f"z{n:02d}": z for n, z in enumerate(chart.values, 1)}
    return {**averages, "upper": chart.upper[0], "lower": chart.lower[0]}


def _cusum() -> dict[str, float]:
    i = INPUTS["cusum"]
    chart = cusum_chart(np.array(i["x"]), i["centre"], 1.0, i["reference"], i["limit"])
    rows = zip(("upper", "lower"), chart.values, strict=True)
    return {f"{side}{n:02d}": v for side, row in rows for n, v in enumerate(row, 1)}


ANSWERS = _ewma() | _cusum()


@pytest.mark.parametrize("case", DATA["case"], ids=lambda case: case["id"])
def test_charts(case: Case, prove: Callable[[Case, float], None]) -> None:
    """Chart lines and averages equal the published ones."""
    prove(case, float(ANSWERS[case["key"]]))


def test_sums_the_textbook_prints_as_nothing_are_nothing() -> None:
    """The 25 sums printed as 0.0 are 0."""
    told = {case["key"] for case in DATA["case"] if case["group"] == "cusum"}
    rest = [v for key, v in _cusum().items() if key not in told]
    assert len(rest) == 25
    assert np.allclose(rest, 0.0, atol=1e-9)


def test_verdicts_of_the_sources() -> None:
    """No signal on the chart of the handbook nor on that of the textbook."""
    i = INPUTS["cusum"]
    chart = cusum_chart(np.array(i["x"]), i["centre"], 1.0, i["reference"], i["limit"])
    assert chart.signals.size == 0
    i = INPUTS["ewma"]
    assert ewma_chart(np.array(i["x"]), i["start"], i["s"], i["weight"]).signals.size == 0
