"""Solids made by metal salts and lime."""

from __future__ import annotations

import numpy as np
import pytest

from cakewright.errors import OutOfRangeError
from cakewright.physics.precipitates import (
    Metal,
    metal_in_salt,
    solids_concentration_water_works_lang,
    solids_per_metal_precipitation,
)


@pytest.mark.parametrize(
    ("metal", "beta", "expected"),
    [
        (Metal.ALUMINIUM, np.inf, 2.89),
        (Metal.IRON, np.inf, 1.914),
        (Metal.ALUMINIUM, 1.0, 4.52),
        (Metal.IRON, 1.0, 2.701),
        (Metal.ALUMINIUM, 2.0, 3.71),
        (Metal.IRON, 2.0, 2.31),
    ],
)
def test_solids_per_metal(metal: Metal, beta: float, expected: float) -> None:
    """Hydroxide alone, phosphate alone and a mix agree with sums of atomic masses by hand."""
    assert solids_per_metal_precipitation(metal, beta) == pytest.approx(expected, rel=0.002)


def test_too_little_metal_is_refused() -> None:
    """Less than one mole of metal per mole of phosphorus cannot bind it."""
    with pytest.raises(OutOfRangeError, match="metal per phosphorus"):
        solids_per_metal_precipitation(Metal.IRON, 0.8)


def test_unknown_salt_names_those_known() -> None:
    """An unknown coagulant is refused with the list of known ones."""
    with pytest.raises(OutOfRangeError, match="ferric_chloride"):
        metal_in_salt("magic")


def test_water_works_terms_add_up() -> None:
    """Each dose adds its own published factor, and a negative dose is refused by name."""
    base = float(solids_concentration_water_works_lang(0.01))
    assert solids_concentration_water_works_lang(0.01, iron=0.001) == pytest.approx(base + 0.0019)
    both = solids_concentration_water_works_lang(0.01, 0, 0, 0.1, 0.02, 0.005)
    assert both == pytest.approx(0.01 + 0.2 + 0.052 + 0.005)
    with pytest.raises(OutOfRangeError, match="alum"):
        solids_concentration_water_works_lang(0.01, alum=-0.1)
