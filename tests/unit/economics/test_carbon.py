"""Carbon: hand arithmetic, sets of potentials, biogenic apart."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from cakewright.economics import carbon as c
from cakewright.errors import OutOfRangeError, UnknownNameError
from cakewright.sources import source

AR6 = c.warming_potentials("AR6")


def test_every_set_has_a_source_and_recall_is_marked() -> None:
    """Sets carry year and source; the one that was not read says so."""
    for name in ("SAR", "AR4", "AR5", "AR6"):
        potentials = c.warming_potentials(name)
        assert source(potentials.source)
        assert (potentials.mark == "from memory") == (potentials.source == "MEM")
        assert potentials.nitrous_oxide > potentials.methane > 20


def test_recovery_and_cover_take_their_share() -> None:
    """Half recovered and a tenth of the rest oxidised leave 45 %."""
    bare = c.landfill_methane(1000.0, 0.5, 0.5, 1.0)
    kept = c.landfill_methane(1000.0, 0.5, 0.5, 1.0, 0.5, 0.1, 0.5)
    assert float(kept / bare) == pytest.approx(0.45)


def test_carbon_of_methane_and_dioxide_closes() -> None:
    """Carbon in the methane and in the dioxide of landfill gas adds to the carbon decayed."""
    methane = float(c.landfill_methane(1000.0, 0.5, 0.6, 1.0, 0.55))
    dioxide = float(c.biogenic_carbon_dioxide(1000 * 0.5 * 0.6 * 0.45))
    assert methane * 12 / 16 + dioxide * 12 / 44 == pytest.approx(300.0)


def test_footprint_leaves_biogenic_out_and_takes_credits() -> None:
    """The sum holds every part, a credit included, and not the biogenic figure."""
    got = c.footprint({"power": np.array([7.0, 8.0]), "fertiliser": -2.0}, AR6, 900.0)
    assert got.total.tolist() == [5.0, 6.0]
    assert float(got.biogenic) == 900.0
    assert got.potentials is AR6


def test_products_over_samples() -> None:
    """Power, products, haulage and process factors multiply sample by sample."""
    two = np.array([1.0, 2.0])
    assert c.power_carbon(3.6e6 * two, 0.4 / 3.6e6).tolist() == pytest.approx([0.4, 0.8])
    assert c.product_carbon(two, 3.0).tolist() == [3.0, 6.0]
    assert c.haulage_carbon(1000 * two, 1000.0, 1e-7).tolist() == pytest.approx([0.1, 0.2])
    assert c.process_emission(1000 * two, 0.0006).tolist() == pytest.approx([0.6, 1.2])
    assert c.soil_nitrous_oxide(28 * two, 0.5).tolist() == pytest.approx([22.0, 44.0])
    assert c.carbon_equivalent(two, 0.0, AR6).tolist() == pytest.approx([27.9, 55.8])


@pytest.mark.parametrize(
    ("call", "error", "text"),
    [
        (lambda: c.warming_potentials("AR9"), UnknownNameError, "sets are SAR"),
        (lambda: c.power_carbon(-1.0, 0.1), OutOfRangeError, "energy: got -1"),
        (lambda: c.landfill_methane(1.0, 50.0, 0.5, 1.0), OutOfRangeError, "organic carbon"),
        (lambda: c.soil_nitrous_oxide(1.0, 1.5), OutOfRangeError, "emission factor"),
        (lambda: c.carbon_equivalent(-1.0, 0.0, AR6), OutOfRangeError, "methane: got -1"),
    ],
)
def test_impossible_factors_are_refused(call: Any, error: type[Exception], text: str) -> None:
    """Percent for fractions, negative masses and unknown sets are named."""
    with pytest.raises(error, match=text):
        call()
