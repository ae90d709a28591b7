"""Recipes: each kind has one for each sludge, amounts have sources, plates keep lime apart."""

from __future__ import annotations

import numpy as np
import pytest

from cakewright.errors import UnknownNameError
from cakewright.machines import Kind
from cakewright.machines.recipes import Product, recipe, recipes
from cakewright.reference import performance_band, performance_rows, sludge_classes
from cakewright.sources import sources

PLATES = (Kind.CHAMBER_PRESS, Kind.MEMBRANE_PRESS)


@pytest.mark.parametrize("kind", list(Kind))
def test_every_kind_has_a_recipe_with_amounts_for_every_sludge(kind: Kind) -> None:
    """At least one recipe of each kind has all its amounts, and cakes to go with them."""
    for key in sludge_classes():
        able = [one for one in recipes(kind) if not one.missing([key])]
        assert able, (kind, key)
        for one in able:
            assert performance_band(kind.value, key, "cake_ts", conditioning=one.cake)


@pytest.mark.parametrize("kind", list(Kind))
def test_every_amount_has_a_source_on_the_shelf_and_is_in_order(kind: Kind) -> None:
    """Sources exist, doses are low to high, below the sludge's own mass."""
    for one in recipes(kind):
        told = [dose for step in one.steps for dose in step.doses.values()]
        for source in (*one.source.split(), *(s for d in told for s in d.source.split())):
            assert source in sources()
        assert all(0.0 < d.low <= d.typical <= d.high < 0.5 for d in told)


def test_only_plate_presses_take_lime() -> None:
    """No other kind has lime in any recipe; both plate presses do."""
    assert {kind for kind in Kind for one in recipes(kind) if one.limed} == set(PLATES)


def test_a_recipe_of_another_kind_is_named() -> None:
    """The error says what the kind takes."""
    with pytest.raises(UnknownNameError, match="screw press has no recipe 'lime'"):
        recipe(Kind.MULTI_DISC_SCREW_PRESS, "lime")


def test_a_blend_takes_its_doses_by_dry_solids() -> None:
    """Half and half of two classes: the mean of their doses at the point."""
    one = recipe(Kind.MEMBRANE_PRESS, "iron and lime")
    half = np.array([0.5])
    lime = one.dose(Product.LIME, {"primary": half, "was": half}, 0.5)
    assert float(lime[0]) == pytest.approx(0.5 * (0.120 + 0.300))


@pytest.mark.parametrize("kind", PLATES)
def test_a_plate_press_cake_is_drier_as_weighed_with_its_chemicals(kind: Kind) -> None:
    """Iron and lime raise the weighed cake of every class above that of polymer alone."""
    for key in sludge_classes():
        if recipe(kind, "iron and lime").missing([key]):
            continue
        limed, plain = (
            performance_band(kind.value, key, "cake_ts", conditioning=word)
            for word in ("iron and lime", "polymer")
        )
        assert limed.typical > plain.typical
        assert not any(row.conditioning == "polymer" for row in limed.rows)


def test_rows_of_the_membrane_table_carry_iron_and_lime() -> None:
    """Rows 1a155 to 1a159 and 1a171 to 1a174 never answer for polymer."""
    wanted = {f"1a{n}" for n in (*range(155, 160), *range(171, 175))}
    rows = [row for row in performance_rows() if row.row in wanted]
    assert len(rows) == len(wanted)
    assert {row.conditioning for row in rows} == {"iron and lime"}
    assert all(row.conditioning for row in performance_rows())
