"""A digested sludge, a typical machine and an invented frame, for the tests of the paths."""

from __future__ import annotations

import importlib.util
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from cakewright.machines.interface import Kind
from cakewright.machines.press_priors import parameter_priors, record_from
from cakewright.machines.pressing_path import PressedSludge, PressLoad
from cakewright.machines.screw.path import ScrewGeometry, ScrewOperation, ScrewParameters

SLUDGE = PressedSludge(1400.0, 0.024, 120.0, 3.12, 1e10, 0.85, 0.7, 2e-3)
FRAME = ScrewGeometry(0.2, 1.2, (0.09, 0.13), (0.16, 0.08))
LOAD = PressLoad(4.0 / 3600.0, 0.025, 0.05)
SETTING = ScrewOperation(2.0 / 60.0, 3e4, 0.2)


def typical(record: type[Any], machine: Kind) -> Any:
    """Parameter record at the middle of its priors."""
    return record_from(record, {k: p.at(0.0) for k, p in parameter_priors(machine).items()})


SCREW: ScrewParameters = typical(ScrewParameters, Kind.MULTI_DISC_SCREW_PRESS)


@cache
def draws_of(count: int) -> Any:
    """Draws of the prior as the benchmarks take them: the five arguments of a path."""
    place = Path(__file__).parents[3] / "benchmarks" / "press_cases.py"
    spec = importlib.util.spec_from_file_location("press_cases", place)
    if spec is None or spec.loader is None:
        pytest.fail(f"{place} is missing")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module.draws(count, 11)
