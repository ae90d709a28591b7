"""Sludges from what makes them."""

from __future__ import annotations

import pytest

from cakewright.errors import OutOfRangeError
from cakewright.sludge import (
    Composition,
    coagulant_precipitate,
    sludge_chemical,
    sludge_excess_net_yield,
    sludge_flotation,
    sludge_primary,
    sludge_water_works,
)

DAY = 86400.0
MADE = Composition(0.01, 0.2)


def test_net_yield_takes_the_difference_of_bod() -> None:
    """Excess sludge grows with BOD removed and refuses more BOD out than in."""
    common = {"flow": 0.25, "yield_true": 0.5, "decay_rate": 0.06 / DAY, "sludge_age": 10 * DAY}
    made = sludge_excess_net_yield(
        "x", "was", MADE, bod_in=0.25, bod_out=0.0062, volatile_share=0.8, **common
    )
    assert made.dry_solids_flow[0] * DAY == pytest.approx(2057, rel=0.001)
    with pytest.raises(OutOfRangeError, match="more BOD out than in"):
        sludge_excess_net_yield(
            "x", "was", MADE, bod_in=0.1, bod_out=0.2, volatile_share=0.8, **common
        )


def test_primary_refuses_more_removed_than_came() -> None:
    """More suspended solids out than in is refused."""
    made = sludge_primary("x", "primary", MADE, flow=1.0, tss_in=0.3, tss_removed=0.18)
    assert made.dry_solids_flow == pytest.approx(0.18)
    with pytest.raises(OutOfRangeError, match="share that settles"):
        sludge_primary("x", "primary", MADE, flow=1.0, tss_in=0.3, tss_removed=0.4)


def test_precipitate_of_two_metals_shares_the_phosphorus() -> None:
    """Two metals together make what each makes at the common ratio to phosphorus."""
    iron = float(coagulant_precipitate(iron=0.055845, phosphorus_removed=0.0154870))
    both = float(
        coagulant_precipitate(iron=0.0279225, aluminium=0.013491, phosphorus_removed=0.0154870)
    )
    only_al = float(coagulant_precipitate(aluminium=0.026982, phosphorus_removed=0.0154870))
    assert both == pytest.approx((iron + only_al) / 2.0, rel=1e-4)


def test_phosphorus_without_metal_is_refused() -> None:
    """Phosphorus cannot be precipitated by nothing."""
    with pytest.raises(OutOfRangeError, match="no metal dosed"):
        coagulant_precipitate(phosphorus_removed=0.005)


def test_bound_water_adds() -> None:
    """Bound water that drying leaves in adds its share."""
    assert coagulant_precipitate(iron=0.01, water_share=0.2) == pytest.approx(
        1.2 * float(coagulant_precipitate(iron=0.01))
    )


def test_flotation_chemical_and_water_works_add_their_parts() -> None:
    """Each origin is the sum of its parts times the flow."""
    precipitate = coagulant_precipitate(iron=0.02)
    froth = sludge_flotation(
        "x",
        "flotation_froth",
        MADE,
        flow=0.01,
        tss_removed=0.8,
        oil_removed=0.3,
        precipitate=precipitate,
    )
    assert froth.dry_solids_flow == pytest.approx(0.01 * (1.1 + float(precipitate)))
    chemical = sludge_chemical("x", "metal_hydroxide", MADE, flow=0.01, precipitate=precipitate)
    assert chemical.dry_solids_flow == pytest.approx(0.01 * float(precipitate))
    works = sludge_water_works("x", "ferric_wtp", MADE, flow=1.0, tss_removed=0.009, iron=0.006)
    assert works.dry_solids_flow == pytest.approx(0.009 + 1.9 * 0.006)
