"""The `prove` fixture: compares with a source and records the outcome for the proof page."""

from __future__ import annotations

import json
import math
import os
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from cakewright.sources import source

Case = dict[str, Any]
DATA = Path(__file__).parent / "data"


def load_cases(name: str) -> list[Case]:
    """Cases of one data file."""
    text = (DATA / f"{name}.toml").read_text(encoding="utf-8")
    return list(tomllib.loads(text)["case"])


def _deviation(got: float, expected: float) -> float:
    return abs(got - expected) / abs(expected) if expected else abs(got)


@pytest.fixture
def prove(request: pytest.FixtureRequest) -> Callable[..., None]:
    """Compare one value with its source; record it for the proof page when asked to.

    ``also`` goes into the record: ``within`` True for a range in which a value need only lie,
    ``trial`` for the band of a machine's prediction.
    """

    def check(case: Case, got: float, **also: Any) -> None:
        source(case["source"])
        expected = float(case["expected"])
        deviation = _deviation(float(got), expected)
        agrees = math.isfinite(got) and deviation <= float(case["tolerance"])
        target = os.environ.get("CAKEWRIGHT_PROOF")
        if target:
            row = {
                "id": case["id"],
                "quantity": case["quantity"],
                "source": case["source"],
                "where": case.get("where", ""),
                "read": case.get("read", ""),
                "status": case["status"],
                "expected": expected,
                "got": float(got),
                "deviation": deviation,
                "tolerance": float(case["tolerance"]),
                "reason": case["reason"],
                "agrees": agrees,
                "disagrees": case.get("disagrees", ""),
                "test": request.node.nodeid,
                **also,
            }
            with Path(target).open("a", encoding="utf-8") as file:
                file.write(json.dumps(row) + "\n")
        if case.get("disagrees"):
            assert not agrees, f"{case['id']} now agrees with its source: drop `disagrees`"
            return
        assert agrees, (
            f"{case['id']}: got {got:.8g}, {case['source']} gives {expected:.8g} "
            f"(off by {deviation:.3g}, allowed {case['tolerance']}: {case['reason']})"
        )

    return check
