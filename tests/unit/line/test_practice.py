"""Design coefficients: every one has a home, a range, a source, and can be replaced."""

from __future__ import annotations

import pytest

from cakewright.errors import OutOfRangeError, UnknownNameError
from cakewright.line.practice import practice, product_form, rule_book
from cakewright.quantities import Basis, Given, Mark, house_names, to_si
from cakewright.sources import sources


@pytest.mark.parametrize("name", sorted(practice()))
def test_coefficient_has_name_range_and_source(name: str) -> None:
    """Value inside its range, a house name with known units, a known source, the right mark."""
    given = practice()[name]
    house = house_names()[name]
    assert given.low is not None
    assert given.high is not None
    assert given.low <= given.value <= given.high
    assert to_si(1.0, house.shown, house.unit) is not None
    assert to_si(1.0, house.shown_us, house.unit) is not None
    assert given.source in sources()
    marks = {"MEM": Mark.FROM_MEMORY, "JUDGEMENT": Mark.JUDGEMENT}
    assert given.mark == marks.get(given.source or "", Mark.NONE)
    assert given.default


def test_override_is_in_force_and_loses_the_default() -> None:
    """A replaced coefficient keeps what its giver said about it."""
    given = Given("flocculation_time", 240.0, Basis.MEASURED, note="pilot")
    book = rule_book({"flocculation_time": given, "motor_margin": 0.2})
    assert book["flocculation_time"] == 240.0
    assert book.table["flocculation_time"].basis is Basis.MEASURED
    assert not book.table["motor_margin"].default


def test_misspelt_coefficient_names_the_nearest() -> None:
    """A coefficient that does not exist is refused with a hint."""
    with pytest.raises(UnknownNameError, match="did you mean 'motor_margin'"):
        rule_book({"motor_margn": 0.2})


def test_negative_coefficient_is_refused() -> None:
    """A negative coefficient is refused with the usual value."""
    with pytest.raises(OutOfRangeError, match=r"motor_margin: got -1; .* usual value is 0.15"):
        rule_book({"motor_margin": -1.0})


def test_forms_carry_their_sources() -> None:
    """Each product form has known sources and ordered bands."""
    for name in ("powder", "emulsion", "solution", "coagulant", "lime"):
        form = product_form(name)
        assert {form.activity_source, form.stock_source, form.life_source} <= set(sources())
        assert form.stock_low <= form.stock <= form.stock_high
        assert form.final <= form.stock
        assert form.ageing_low <= form.ageing <= form.ageing_high


def test_unknown_form_is_refused() -> None:
    """A form that does not exist is refused with the known ones."""
    with pytest.raises(UnknownNameError, match="known: powder"):
        product_form("tablet")
