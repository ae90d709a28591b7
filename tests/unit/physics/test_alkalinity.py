"""Conditioner chemistry from atomic masses."""

from __future__ import annotations

import pytest
from chemicals.elements import molecular_weight, simple_formula_parser

from cakewright.errors import OutOfRangeError
from cakewright.physics.alkalinity import (
    Conditioner,
    alkalinity_after_dose,
    alkalinity_use,
    conditioner_solids,
    ph_carbonate,
)


def _mass(formula: str) -> float:
    return float(molecular_weight(simple_formula_parser(formula)))


@pytest.mark.parametrize(
    ("conditioner", "formula", "equivalents", "solid", "count"),
    [
        (Conditioner.FERRIC_CHLORIDE, "FeCl3", 3, "FeO3H3", 1),
        (Conditioner.IRON, "Fe", 3, "FeO3H3", 1),
        (Conditioner.ALUM, "Al2S3O26H28", 6, "AlO3H3", 2),
        (Conditioner.ALUMINIUM, "Al", 3, "AlO3H3", 1),
        (Conditioner.HYDRATED_LIME, "CaO2H2", -2, "CaO2H2", 1),
        (Conditioner.QUICKLIME, "CaO", -2, "CaO2H2", 1),
    ],
)
def test_stoichiometry_meets_library_masses(
    conditioner: Conditioner, formula: str, equivalents: int, solid: str, count: int
) -> None:
    """Alkalinity use and solids follow from an open library's molar masses."""
    molar = _mass(formula)
    use = equivalents / 2 * _mass("CaCO3") / molar
    assert alkalinity_use(conditioner) == pytest.approx(use, rel=2e-4)
    assert conditioner_solids(conditioner) == pytest.approx(count * _mass(solid) / molar, rel=2e-4)


def test_acid_lowers_and_lime_raises_ph() -> None:
    """Iron takes alkalinity and pH down; nothing dosed leaves the pH."""
    assert ph_carbonate(7.2, 0.5, 0.5) == pytest.approx(7.2)
    left = alkalinity_after_dose(0.5, 0.1, Conditioner.IRON)
    assert float(ph_carbonate(7.2, 0.5, left)) < 7.2
    assert float(alkalinity_after_dose(0.5, 0.1, Conditioner.QUICKLIME)) > 0.5


def test_used_up_alkalinity_gives_no_ph() -> None:
    """Where no alkalinity is left the estimate is refused, not extrapolated."""
    left = alkalinity_after_dose(0.1, 0.2, Conditioner.IRON)
    assert float(left) < 0
    with pytest.raises(OutOfRangeError, match="alkalinity left"):
        ph_carbonate(7.0, 0.1, left)
