"""Weirs, pipes and pumps against published examples, misprints kept in."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from cakewright.physics.pipes import mean_velocity, pressure_drop_darcy, reynolds_number
from cakewright.physics.pipes_bingham import (
    bingham_friction_laminar,
    critical_reynolds_hanks_pratt,
    friction_factor_darby_melson,
    hedstrom_number,
    wall_stress_buckingham_reiner,
)
from cakewright.physics.weirs import (
    flow_v_notch_kindsvater_shen,
    head_v_notch_kindsvater_shen,
    v_notch_coefficient,
    v_notch_head_correction,
)
from cakewright.physics.weirs_rectangular import flow_rectangular_kindsvater_carter
from cakewright.quantities import to_si
from cakewright.quantities.constants import GRAVITY

Case = dict[str, Any]
Prove = Callable[[Case, float], None]
DATA = Path(__file__).parent / "data" / "line_hydraulics.toml"
CASES = tomllib.loads(DATA.read_text(encoding="utf-8"))["case"]
RIGHT_ANGLE = np.pi / 2
PIPE = {"diameter": 0.254, "density": 1300.0}


def _v_notch(i: Case) -> float:
    return float(flow_v_notch_kindsvater_shen(i["head"], RIGHT_ANGLE, 0.578, 0.00085))


def _v_notch_45(i: Case) -> float:
    angle = np.radians(45.0)
    k = v_notch_head_correction(angle)
    return float(flow_v_notch_kindsvater_shen(i["head"], angle, v_notch_coefficient(angle), k))


def _v_notch_us_constant(i: Case) -> float:
    flow = float(flow_v_notch_kindsvater_shen(0.3048, RIGHT_ANGLE, 0.5, 0.0))
    return float(to_si(flow, "m3/s", "ft3/s")) / 0.5


def _v_notch_head(i: Case) -> float:
    return float(head_v_notch_kindsvater_shen(i["flow_m3_h"] / 3600, RIGHT_ANGLE))


def _rectangular(i: Case) -> float:
    return float(flow_rectangular_kindsvater_carter(0.2, 1.0, 0.5, width_ratio=0.0))


def _darby(i: Case) -> float:
    re, he = _darby_reynolds(i), _darby_hedstrom(i)
    return 4 * float(friction_factor_darby_melson(re, he, i["a0"]))


def _darby_reynolds(i: Case) -> float:
    return float(reynolds_number(2.3, viscosity=0.02, **PIPE))


def _darby_hedstrom(i: Case) -> float:
    return float(hedstrom_number(yield_stress=6.0, plastic_viscosity=0.02, **PIPE))


def _darby_laminar(i: Case) -> float:
    return float(bingham_friction_laminar(_darby_reynolds(i), _darby_hedstrom(i)))


def _velocity(i: Case) -> float:
    return float(mean_velocity(i["flow_m3_h"] / 3600, i["diameter"]))


def _bingham_wall(i: Case) -> float:
    args = (_velocity(i), i["diameter"], i["yield_stress"], i["plastic_viscosity"])
    return float(wall_stress_buckingham_reiner(*args))


def _bingham_drop(i: Case) -> float:
    v, d, rho, mu = _velocity(i), i["diameter"], i["density"], i["plastic_viscosity"]
    re, he = reynolds_number(v, d, rho, mu), hedstrom_number(d, rho, i["yield_stress"], mu)
    f = 4 * float(friction_factor_darby_melson(re, he, -1.47))
    return float(pressure_drop_darcy(f, i["length"], d, rho, v))


def _hanks_pratt(i: Case) -> float:
    return float(critical_reynolds_hanks_pratt(i["hedstrom"]))


KINDS: dict[str, Callable[[Case], float]] = {
    "v_notch": _v_notch,
    "v_notch_45": _v_notch_45,
    "v_notch_us_constant": _v_notch_us_constant,
    "v_notch_head": _v_notch_head,
    "rectangular_contracted": _rectangular,
    "darby": _darby,
    "darby_reynolds": _darby_reynolds,
    "darby_hedstrom": _darby_hedstrom,
    "darby_laminar": _darby_laminar,
    "bingham_wall": _bingham_wall,
    "bingham_drop": _bingham_drop,
    "hanks_pratt": _hanks_pratt,
}


@pytest.mark.parametrize("case", CASES, ids=lambda c: c["id"])
def test_hydraulics(case: Case, prove: Prove) -> None:
    """Weirs, friction and critical flow meet their sources, or differ for a reason."""
    prove(case, KINDS[case["inputs"]["kind"]](case["inputs"]))


def test_gravity_is_standard() -> None:
    """The weir answers above were computed at standard gravity."""
    assert GRAVITY == 9.80665
