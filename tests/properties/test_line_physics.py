"""Limits, inverses and monotone trends of the line's physics, over random inputs."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cakewright.physics.mixing import impeller_speed_for_power
from cakewright.physics.pipes import friction_factor_newtonian
from cakewright.physics.pipes_bingham import (
    bingham_friction_laminar,
    critical_reynolds_hanks_pratt,
    friction_factor_darby_melson,
    wall_stress_buckingham_reiner,
)
from cakewright.physics.pipes_herschel_bulkley import (
    bulk_shear_rate_herschel_bulkley,
    wall_stress_herschel_bulkley,
)
from cakewright.physics.polymer_solution import (
    active_flow,
    dilution_water_flow,
    solution_flow,
)
from cakewright.physics.weirs_rectangular import (
    flow_rectangular_kindsvater_carter,
    head_rectangular_kindsvater_carter,
)

EXAMPLES = settings(max_examples=60, deadline=None)
velocity = st.floats(0.01, 5.0)
bore = st.floats(0.02, 0.5)
yield_stress = st.floats(0.0, 200.0)
viscosity = st.floats(1e-3, 1.0)


@EXAMPLES
@given(velocity, bore, yield_stress, viscosity)
def test_wall_stress_solves_its_equation(v: float, d: float, tau0: float, mu: float) -> None:
    """The answer put back into Buckingham and Reiner's equation gives the velocity."""
    wall = float(wall_stress_buckingham_reiner(v, d, tau0, mu))
    a = tau0 / wall
    assert 0 <= a < 1
    # the bracket is known to the rounding of a, which near plug flow leaves few digits
    left = wall / mu * (1 - a) ** 2 * (3 + 2 * a + a**2) / 3
    assert left == pytest.approx(8 * v / d, rel=1e-5)


@EXAMPLES
@given(velocity, bore, st.floats(0.01, 100.0), st.floats(0.01, 5.0), st.floats(0.3, 1.0))
def test_yielding_power_law_is_inverted(v: float, d: float, t0: float, k: float, n: float) -> None:
    """The wall stress found carries the flow asked for."""
    wall = wall_stress_herschel_bulkley(v, d, t0, k, n)
    carried = float(bulk_shear_rate_herschel_bulkley(wall, t0, k, n))
    assert carried == pytest.approx(8 * v / d, rel=1e-4)


@EXAMPLES
@given(st.floats(10.0, 1e6), st.floats(0.0, 1e6), st.floats(1.0, 10.0))
def test_more_yield_stress_never_flows_easier(re: float, he: float, times: float) -> None:
    """Laminar friction and the critical Reynolds number rise with the Hedstrom number."""
    low, high = (float(bingham_friction_laminar(re, x)) for x in (he, he * times))
    assert high >= low * (1 - 1e-12)
    critical = np.asarray(critical_reynolds_hanks_pratt(np.array([he, he * times])))
    assert critical[1] >= critical[0] * (1 - 1e-12)


@EXAMPLES
@given(st.floats(10.0, 1e6), st.floats(0.0, 1e6))
def test_all_regimes_lie_above_both_branches(re: float, he: float) -> None:
    """The joined law is never below its laminar branch."""
    f = float(friction_factor_darby_melson(re, he))
    assert f >= float(bingham_friction_laminar(re, he)) * (1 - 1e-12)


@EXAMPLES
@given(st.floats(2200.0, 1e8), st.floats(0.0, 0.05))
def test_colebrook_solves_its_equation(re: float, rough: float) -> None:
    """The factor put back into Colebrook's equation closes."""
    f = float(friction_factor_newtonian(re, rough))
    right = -2 * np.log10(rough / 3.7 + 2.51 / re / np.sqrt(f))
    assert 1 / np.sqrt(f) == pytest.approx(right, rel=1e-10)


@EXAMPLES
@given(st.floats(1e-4, 0.05), st.floats(0.15, 1.0), st.floats(0.1, 1.0), st.floats(0.0, 1.0))
def test_weir_head_is_inverted(q: float, b: float, p: float, ratio: float) -> None:
    """Head of a flow gives the flow back wherever the head correction leaves a head."""
    head = float(head_rectangular_kindsvater_carter(q, b, p, ratio))
    back = float(flow_rectangular_kindsvater_carter(head, b, p, ratio))
    assert head == 0.0 or back == pytest.approx(q, rel=1e-8)


@EXAMPLES
@given(st.floats(1.0, 1e4), st.floats(0.3, 5.0), st.floats(0.1, 2.0), st.floats(1e-3, 100.0))
def test_impeller_power_is_inverted(p: float, np_t: float, d: float, mu: float) -> None:
    """Speed of a power gives the power back through the power number."""
    n = float(impeller_speed_for_power(p, np_t, 1000.0, d, mu))
    number = np_t + 60.0 * mu / (1000.0 * n * d**2)
    assert number * 1000.0 * n**3 * d**5 == pytest.approx(p, rel=1e-8)


@EXAMPLES
@given(st.floats(1e-4, 1.0), st.floats(1e-3, 0.02), st.floats(1e-3, 0.01), st.floats(1.0, 5.0))
def test_dilution_keeps_the_polymer(m: float, d: float, final: float, times: float) -> None:
    """Stock and water together carry the active polymer at the final strength."""
    active = float(active_flow(m, d))
    stock = final * times
    total = float(solution_flow(active, stock)) + float(dilution_water_flow(active, stock, final))
    assert total * 1000 * final == pytest.approx(active, rel=1e-12)
