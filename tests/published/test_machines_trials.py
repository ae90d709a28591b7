"""Predicted cakes over draws of the class and machine priors against trials of whole machines."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from tests.properties.press_draws import settled_cake, site_cakes

from cakewright.machines.decanter.path import DecanterGeometry
from cakewright.machines.pressing_path import PressLoad
from cakewright.quantities import FloatArray

Case = dict[str, Any]
GRAVITY = 9.80665
SITE_KINDS = ("belt_press", "multi_disc_screw_press", "belt_press", "decanter")
# P08: 153 mm, length ratio 4.22, weir 85 mm; cylinder share and pitch are those of the catalogue.
PILOT = DecanterGeometry(0.153, 0.65 * 4.22 * 0.153, 0.5 * (0.153 - 0.085), 0.35 * 0.153)


def _cases() -> list[Case]:
    text = (Path(__file__).parent / "data/machines_trials.toml").read_text(encoding="utf-8")
    return list(tomllib.loads(text)["case"])


def _pilot(i: Case) -> tuple[FloatArray, FloatArray]:
    load = PressLoad(i["kg_h"] / 3600.0, i["TS"], 0.05)
    return settled_cake(i["sludge"], load, i["force"] * GRAVITY, PILOT)


@pytest.mark.parametrize("case", _cases(), ids=lambda case: str(case["id"]))
def test_middle_cake_of_a_trial(case: Case, prove: Callable[..., None]) -> None:
    """The median over all draws that give a cake."""
    i = case["inputs"]
    cake = site_cakes(i["sludge"])[i["place"]] if "place" in i else _pilot(i)[0]
    low, median, high = (100.0 * float(v) for v in np.nanquantile(cake, (0.1, 0.5, 0.9)))
    answered = 100.0 * float(np.isfinite(cake).mean())
    kind = SITE_KINDS[i["place"]] if "place" in i else "decanter"
    prove(case, median, trial={"kind": kind, "low": low, "high": high, "answered": answered})


def test_scroll_turns_about_as_fast_as_in_the_pilot() -> None:
    """The slowest scroll that leaves room: digested < primary < activated sludge, as in P08.

    Read there: 1.6, 2.0 and 4.0 turns a minute; the middle draw within a factor of two of each.
    """
    found = []
    for sludge, solids, kg_h, read in (
        ("ad_mixed", 0.0375, 9.6, 1.6),
        ("primary", 0.04, 10.2, 2.0),
        ("was", 0.044, 11.3, 4.0),
    ):
        middle = 60.0 * float(
            np.median(_pilot({"sludge": sludge, "TS": solids, "kg_h": kg_h, "force": 2600.0})[1])
        )
        assert 0.5 * read < middle < 2.0 * read, (sludge, middle)
        found.append(middle)
    assert max(found) == found[-1]
