"""The chart of weighted averages of the public handbook."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from cakewright.statistics import ewma_chart

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


ANSWERS = _ewma()


@pytest.mark.parametrize("case", DATA["case"], ids=lambda case: case["id"])
def test_charts(case: Case, prove: Callable[[Case, float], None]) -> None:
    """Chart lines and averages equal the published ones."""
    prove(case, float(ANSWERS[case["key"]]))


def test_verdicts_of_the_handbook() -> None:
    """No signal on the chart of the handbook."""
    i = INPUTS["ewma"]
    assert ewma_chart(np.array(i["x"]), i["start"], i["s"], i["weight"]).signals.size == 0
