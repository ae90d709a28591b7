"""The one door between units."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cakewright.errors import QuantityError
from cakewright.quantities import from_si, house_names, to_si


@pytest.mark.parametrize(
    ("value", "unit", "si", "expected"),
    [
        (1.0, "gpm", "m3/s", 3.785411784e-3 / 60),
        (1.0, "MGD", "m3/s", 3785.411784 / 86400),
        (2.0, "lb/ton", "kg/kg", 0.001),
        (1.0, "kWh/t", "J/kg", 3600.0),
        (60.0, "rpm", "1/s", 1.0),
        (60.0, "turn/min", "1/s", 1.0),
        (100.0, "degC", "K", 373.15),
        (8.0, "h/d", "1", 8 / 24),
        (1.0, "currency/kWh", "currency/J", 1 / 3.6e6),
    ],
)
def test_known_conversions(value: float, unit: str, si: str, expected: float) -> None:
    """Conversions worked out by hand from the units' definitions."""
    assert to_si(value, unit, si) == pytest.approx(expected, rel=1e-9)


def test_arrays_convert_elementwise() -> None:
    """An array keeps its shape."""
    assert to_si(np.array([0.0, 100.0]), "%", "1") == pytest.approx([0.0, 1.0])


@pytest.mark.parametrize("unit", ["furlongs/d", "m3", "", "m3/(", "48"])
def test_wrong_units_are_refused(unit: str) -> None:
    """Unknown units, units of another kind and broken text raise, never guess."""
    with pytest.raises(QuantityError):
        to_si(1.0, unit, "m3/s")


@settings(max_examples=50, deadline=None)
@given(st.sampled_from(sorted(house_names())), st.floats(-1e6, 1e6))
def test_shown_units_round_trip(name: str, value: float) -> None:
    """Every house name goes to its shown and US unit and back without loss."""
    entry = house_names()[name]
    for unit in (entry.shown, entry.shown_us):
        back = to_si(from_si(value, entry.unit, unit), unit, entry.unit)
        assert back == pytest.approx(value, rel=1e-9, abs=1e-9)


def test_ready_conversions_are_those_of_the_registry() -> None:
    """Every entry of the table of ready conversions is what the unit registry gives."""
    from cakewright.quantities.convert import _ready, affine

    assert len(_ready()) > 100
    for key, pair in _ready().items():
        have, want = key.split("|")
        if pair is None:
            with pytest.raises(QuantityError):
                affine(have, want)
        else:
            assert affine(have, want) == pytest.approx(tuple(pair), rel=1e-12, abs=1e-12)


def test_every_shown_unit_has_a_ready_conversion() -> None:
    """Showing a house name never needs the registry."""
    from cakewright.quantities.convert import _ready

    for entry in house_names().values():
        for unit in (entry.shown, entry.shown_us):
            assert unit == entry.unit or _ready().get(f"{entry.unit}|{unit}"), entry.name
