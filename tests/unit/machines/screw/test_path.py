"""Multi-disc pressing path: limits, profile, derivatives, errors."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from tests.unit.machines.press_case import FRAME, LOAD, SCREW, SETTING, SLUDGE

from cakewright.errors import InfeasibleError, OutOfRangeError
from cakewright.machines.pressing_path import PathStatus, require_answer
from cakewright.machines.screw.path import (
    ScrewGeometry,
    quadratic,
    screw_path,
    screw_profile,
    screw_sensitivities,
)


def test_help_does_not_load_the_solver() -> None:
    """Importing the package and the path leaves the heavy library alone."""
    code = (
        "import sys, cakewright, cakewright.machines.screw.path;"
        "import cakewright.physics.expression;"
        "sys.exit('jax' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_overload_says_cause_capacity_and_way_out() -> None:
    """One sample beyond capacity raises with what to change."""
    heavy = replace(LOAD, dry_solids_flow=40.0 / 3600.0)
    answer = screw_path(SLUDGE, heavy, SETTING, SCREW, FRAME)
    with pytest.raises(InfeasibleError, match=r"capacity 5 kg/h dry solids.*less load"):
        require_answer(answer, capacity=5.0 / 3600.0)


def test_torque_limit_is_a_cause() -> None:
    """A drive rated below the torque needed takes the answer away and is named."""
    weak = replace(FRAME, rated_torque=20.0)
    answer = screw_path(SLUDGE, LOAD, SETTING, SCREW, weak)
    assert answer.status[0] == PathStatus.TORQUE


def test_idle_plate_is_a_cause() -> None:
    """A plate set below the head of the water is no pressing."""
    answer = screw_path(SLUDGE, LOAD, replace(SETTING, back_pressure=500.0), SCREW, FRAME)
    assert answer.status[0] == PathStatus.PLATE_IDLE


def test_two_shafts_carry_twice() -> None:
    """A machine of two shafts makes the same cake of twice the load with twice the power."""
    twin = replace(FRAME, shafts=2)
    one = screw_path(SLUDGE, LOAD, SETTING, SCREW, FRAME)
    double = replace(LOAD, dry_solids_flow=2.0 * float(LOAD.dry_solids_flow))
    two = screw_path(SLUDGE, double, SETTING, SCREW, twin)
    assert np.isclose(two.cake_solids[0], one.cake_solids[0], rtol=1e-12)
    assert np.isclose(two.power[0], 2.0 * one.power[0], rtol=1e-12)


def test_profile_ends_in_the_answer() -> None:
    """Along the barrel solids and stress grow to the cake and to the plate's back pressure."""
    profile = screw_profile(SLUDGE, LOAD, SETTING, SCREW, FRAME)
    answer = screw_path(SLUDGE, LOAD, SETTING, SCREW, FRAME)
    assert np.isclose(profile.total_solids[-1], answer.cake_solids[0], rtol=2e-3)
    assert np.isclose(profile.axial_stress[-1], 3e4, rtol=0.02)
    pressing = profile.zone == "pressing"
    assert np.all(np.diff(profile.total_solids[pressing]) > 0.0)
    assert np.all(np.diff(profile.drained_volume) > -1e-12)
    assert profile.total_solids_face[-1] > profile.total_solids_core[-1]


def test_derivatives_agree_with_differences() -> None:
    """Exact derivatives of the cake are those of central differences, every input that matters."""
    exact = screw_sensitivities(SLUDGE, LOAD, SETTING, SCREW, FRAME)["cake_solids"]
    records: dict[str, Any] = {"sludge": SLUDGE, "load": LOAD, "setting": SETTING, "machine": SCREW}
    for name in ("local_resistance", "gel_point", "dry_solids_flow", "speed", "back_pressure",
                 "grip", "remix"):  # fmt: skip
        where = next(k for k, r in records.items() if hasattr(r, name))
        value = float(getattr(records[where], name))
        ends = np.array([value * (1.0 - 1e-4), value * (1.0 + 1e-4)])
        moved = records | {where: replace(records[where], **{name: ends})}
        cake = screw_path(
            moved["sludge"], moved["load"], moved["setting"], moved["machine"], FRAME
        ).cake_solids
        assert np.isclose(exact[name], (cake[1] - cake[0]) / (2e-4 * value), rtol=0.02), name


def test_geometry_faults_are_all_named() -> None:
    """A core as thick as the screw, no pitch and no length are said at once."""
    with pytest.raises(OutOfRangeError, match=r"(?s)drained length.*core diameter.*pitch"):
        ScrewGeometry(0.2, -1.0, (0.1, 0.25), (0.1, 0.0))


def test_input_faults_are_all_named() -> None:
    """Law, load and setting faults come in one message."""
    with pytest.raises(OutOfRangeError, match=r"(?s)yield exponent.*feed solids.*speed"):
        screw_path(
            replace(SLUDGE, yield_exponent=0.0),
            replace(LOAD, feed_solids=2.5),
            replace(SETTING, speed=-1.0),
            SCREW,
            FRAME,
        )


def test_arrays_of_different_length_are_refused() -> None:
    """Columns that do not belong together are named with their lengths."""
    with pytest.raises(OutOfRangeError, match=r"different length.*speed"):
        screw_path(
            SLUDGE,
            replace(LOAD, dry_solids_flow=np.ones(2) / 3600.0),
            replace(SETTING, speed=np.full(3, 0.03)),
            SCREW,
            FRAME,
        )


def test_quadratic_passes_its_points() -> None:
    """Inlet, middle and outlet lie on the parabola."""
    a, b, c = quadratic((0.1, 0.13, 0.12))
    assert np.allclose([a, a + b / 2 + c / 4, a + b + c], [0.1, 0.13, 0.12])
