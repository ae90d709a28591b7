"""The guideline's feed-water circuit, reconciled."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from cakewright.statistics import reconcile

Case = dict[str, Any]
DATA: dict[str, Any] = tomllib.loads(
    (Path(__file__).parent / "data/statistics_reconciliation.toml").read_text(encoding="utf-8")
)
# Half widths are stated at 95 %, as 1.96 standard deviations.
FACTOR = 1.96


@cache
def _answers() -> dict[str, float]:
    i = DATA["inputs"]["vdi"]
    spread = np.array(i["half_width"]) / FACTOR
    covariance = np.diag(spread**2)
    for one, other, r in i["correlated"]:
        covariance[one, other] = covariance[other, one] = r * spread[one] * spread[other]
    got = reconcile(np.array(i["measured"]), covariance, lambda x: x @ np.array(i["balances"]).T)
    answers = {"misfit": float(got.misfit), "limit": got.limit(), "test_mFDKEL": got.tests[0]}
    for name, value, error in zip(i["names"], got.values, got.standard_errors, strict=True):
        answers[f"value_{name}"] = value
        answers[f"half_{name}"] = FACTOR * error
    combined = np.array([1, 1, 0, 0, -0.2, 0, 0, 0, 0, 0])
    answers["FD1"] = combined @ got.values
    answers["half_FD1"] = FACTOR * np.sqrt(combined @ got.covariance @ combined)
    return answers


@pytest.mark.parametrize("case", DATA["case"], ids=lambda case: case["id"])
def test_reconciliation(case: Case, prove: Callable[[Case, float], None]) -> None:
    """Reconciled flows, their half widths and the tests equal the printed ones."""
    prove(case, float(_answers()[case["key"]]))
