"""The compiled path against a plain NumPy and SciPy twin of the same equations."""

from __future__ import annotations

import importlib.util
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
from tests.unit.machines.press_case import FRAME, LOAD, SCREW, SETTING, SLUDGE

from cakewright.machines.pressing_path import checked_inputs
from cakewright.machines.screw.path import screw_path


def _twin() -> ModuleType:
    place = Path(__file__).parents[4] / "benchmarks" / "press_reference.py"
    spec = importlib.util.spec_from_file_location("press_reference", place)
    if spec is None or spec.loader is None:
        pytest.fail(f"{place} is missing")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_cake_is_that_of_the_twin() -> None:
    """From the same start the twin's stiff integrator reaches the same stress and cake."""
    answer = screw_path(SLUDGE, LOAD, SETTING, SCREW, FRAME)
    columns = checked_inputs(SLUDGE, LOAD, SETTING, SCREW)
    press = _twin().Press({k: float(v[0]) for k, v in columns.items()}, FRAME.numbers())
    press.drain()
    log_stress, void = press.march(float(answer.details["pressing_start"][0]), 1e-6)
    target = np.log(float(SCREW.side_ratio) * float(SETTING.back_pressure))
    assert abs(log_stress - target) < 2e-3
    solids, water = float(SLUDGE.solids_density), float(SLUDGE.liquid_density)
    assert np.isclose(answer.cake_solids[0], solids / (solids + void * water), rtol=1e-3)
