"""Blends and production for any composition: solids, water and ash are conserved."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cakewright.physics.solids import density_slurry, density_solids
from cakewright.sludge import Composition, Sludge, blend

SHARE = st.floats(0.0, 0.45)
SLUDGE = st.builds(
    lambda flow, ts, ash, oil, key: Sludge.of(key, key, flow, Composition(ts, ash, oil=oil)),
    st.floats(1e-4, 10.0),
    st.floats(0.001, 0.3),
    SHARE,
    SHARE,
    st.sampled_from(["was", "primary", "flotation_froth", "ferric_wtp"]),
)


@settings(max_examples=60, deadline=None)
@given(st.lists(SLUDGE, min_size=1, max_size=5))
def test_a_blend_conserves_solids_water_ash_and_oil(parts: list[Sludge]) -> None:
    """Dry mass, wet mass, ash and oil of the blend are those of its parts; shares sum to one."""
    feed = blend(parts)
    dry = sum(float(part.dry_solids_flow[0]) for part in parts)
    assert feed.mix.dry_solids_flow[0] == pytest.approx(dry, rel=1e-12)
    assert feed.mix.mass_flow[0] == pytest.approx(
        sum(float(part.mass_flow[0]) for part in parts), rel=1e-12
    )
    for name in ("ash", "oil"):
        whole = sum(float((getattr(p, name) * p.dry_solids_flow)[0]) for p in parts)
        assert (getattr(feed.mix, name) * feed.mix.dry_solids_flow)[0] == pytest.approx(whole)
    assert sum(float(share[0]) for share in feed.shares.values()) == pytest.approx(1.0)


@settings(max_examples=60, deadline=None)
@given(st.lists(SLUDGE, min_size=2, max_size=4))
def test_a_blend_lies_between_its_parts(parts: list[Sludge]) -> None:
    """Total solids of a blend lie between the thinnest and the thickest part, in any order."""
    mixed = float(blend(parts).mix.total_solids[0])
    solids = [float(part.total_solids[0]) for part in parts]
    assert min(solids) * (1 - 1e-12) <= mixed <= max(solids) * (1 + 1e-12)
    assert float(blend(parts[::-1]).mix.total_solids[0]) == pytest.approx(mixed, rel=1e-12)


@settings(max_examples=60, deadline=None)
@given(st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_sludge_is_heavier_than_water_and_lighter_than_its_solids(ash: float, ts: float) -> None:
    """Slurry density lies between the liquid and the dry solids."""
    solids = float(density_solids(ash))
    slurry = float(density_slurry(ts, solids))
    assert 998.0 <= slurry <= solids + 1e-9
