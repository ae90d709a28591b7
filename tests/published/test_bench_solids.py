"""Solids, volume index and small bench arithmetic against their sources."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from tests.published.conftest import Case, load_cases

from cakewright.physics.capture import capture_three_stream
from cakewright.physics.drying_solids import (
    total_solids_weighed,
    volatile_share_weighed,
)
from cakewright.physics.filtration import filtration_time_ruth
from cakewright.physics.filtration_resistance import solids_per_filtrate
from cakewright.physics.settling import sludge_volume_index

CASES = {case["id"]: case for case in load_cases("bench_solids")}
Prove = Callable[[Case, float], None]


def test_weighings(prove: Prove) -> None:
    """Total and volatile solids of a textbook dish."""
    case = CASES["EX-TS-01-total"]
    given = {key: value * 1e-3 for key, value in case["inputs"].items()}
    prove(case, float(total_solids_weighed(given["dish"], given["wet"], given["dried"])))
    volatile = volatile_share_weighed(given["dish"], given["dried"], given["ash"])
    prove(CASES["EX-TS-01-volatile"], float(volatile))


def test_volume_index(prove: Prove) -> None:
    """150 mL/L at 2 g/L is 75 mL/g."""
    case = CASES["EX-SVI-01"]
    index = sludge_volume_index(case["inputs"]["settled"], case["inputs"]["solids"])
    prove(case, float(index) * 1e3)


def test_capture(prove: Prove) -> None:
    """Capture from three solids."""
    case = CASES["EX-BAL-capture"]
    given = case["inputs"]
    prove(case, float(capture_three_stream(given["feed"], given["cake"], given["filtrate"])))


def test_time_to_filter(prove: Prove) -> None:
    """Standard funnel, 100 mL at 51 kPa."""
    case = CASES["EX-TTF"]
    area = np.pi * 0.045**2
    time = filtration_time_ruth(1e-4, area, 51e3, 1e-3, 20.0, case["inputs"]["alpha"], 0.0)
    prove(case, float(time))


def test_moisture_form(prove: Prove) -> None:
    """The moisture form of the solids per filtrate."""
    case = CASES["EX-MOIST"]
    given = case["inputs"]
    prove(case, float(solids_per_filtrate(1000.0, 1 - given["feed"], 1 / (1 - given["cake"]))))
