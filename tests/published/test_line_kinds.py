"""Rows of the pieces of line against worked examples of plate presses."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from cakewright.line.duty_numbers import programme_times, sized
from cakewright.machines.piece import PieceItem, line_piece, pressing_settings

Case = dict[str, Any]
KIND = "chamber_press"


def _cases() -> list[Case]:
    text = (Path(__file__).parent / "data/line_kinds.toml").read_text(encoding="utf-8")
    return list(tomllib.loads(text)["case"])


def _row(tag: str) -> PieceItem:
    return next(row for row in line_piece(KIND).items if row.tag == tag)


def _precoat(i: Case) -> float:
    size = next(s for s in _row("T-304").sizes if s.name == "precoat_load")
    return sized(size, {"filter_area": i["area"]})


def _volume(i: Case) -> float:
    """The programme as printed: a cycle that leaves just its own minutes for feeding."""
    settings, steps = pressing_settings(KIND), line_piece(KIND).programme
    cycle = 60 * i["minutes"] + settings["discharge_time"] + settings["squeeze_time"] + 300
    times = programme_times(steps, cycle, KIND)
    means = [0.5 * (s.flow_start + s.flow_end) for s in steps]
    return float(i["flow"] * sum(t * m for t, m in zip(times, means, strict=True)))


def _drop(i: Case) -> float:
    bunker = sized(_row("B-501").sizes[0], {"chamber_volume": i["volume"]})
    return bunker / 1.5


ANSWERS: dict[str, Callable[[Case], float]] = {
    "K-W1c-precoat": _precoat,
    "K-W4-volume": _volume,
    "K-W7-drop": _drop,
}


@pytest.mark.parametrize("case", _cases(), ids=lambda c: c["id"])
def test_worked_examples(case: Case, prove: Callable[[Case, float], None]) -> None:
    """Precoat, pressed volume and drop come out as worked."""
    prove(case, ANSWERS[case["id"]](case["inputs"]))


def test_precoat_pump_lies_in_the_published_range() -> None:
    """0.2 to 0.3 L per second and m2 (K01): 60 to 90 L/s for 300 m2."""
    flow = _row("P-304").flow
    assert flow is not None
    assert 0.060 <= sized(flow, {"filter_area": 300.0}) <= 0.090
