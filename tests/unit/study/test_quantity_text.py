"""Quantities as people write them."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cakewright.errors import QuantityError
from cakewright.study import parse_quantity


@pytest.mark.parametrize(
    ("text", "unit", "also", "value"),
    [
        ("48 m3/d", "m3/s", "", 48 / 86400),
        ("0.8 %", "1", "", 0.008),
        ("12 gpm", "m3/s", "", 12 * 3.785411784e-3 / 60),
        ("6 kg/t", "kg/kg", "", 0.006),
        ("12 lb/ton", "kg/kg", "", 0.006),
        ("20 degC", "K", "", 293.15),
        ("8 h/d", "1", "per_day", 1 / 3),
        ("8 h", "1", "per_day", 1 / 3),
        ("7", "1", "", 7.0),
    ],
)
def test_written_quantities_reach_si(text: str, unit: str, also: str, value: float) -> None:
    """Each way of writing lands on the SI value worked out by hand."""
    assert parse_quantity(text, unit, also=also).value == pytest.approx(value, rel=1e-9)


def test_slurry_concentration_becomes_a_share_of_wet_mass() -> None:
    """8000 mg/L of solids at 1400 kg/m3: share = c / (rho_w + c (1 - rho_w/rho_s))."""
    share = parse_quantity("8000 mg/L", "1", also="as_slurry").value
    assert share == pytest.approx(8 / (1000 + 8 * (1 - 1000 / 1400)), rel=1e-12)


@pytest.mark.parametrize("unit", ["kg/", "kg*", "m^", "m3/h/", "/", "@", ".", '"', "\\", "#", "("])
def test_a_unit_typed_half_way_is_a_fault(unit: str) -> None:
    """What stands in a field between two keys is refused in words, never a crash."""
    with pytest.raises(QuantityError):
        parse_quantity(f"60 {unit}", "kg/m3")


@pytest.mark.parametrize("text", ["18 % ± 2 %", "18 ± 2 %", "18 % +/- 2 %", "16 .. 18 .. 20 %"])
def test_spreads_are_read(text: str) -> None:
    """Every way of writing a spread gives the same low, typical and high."""
    spread = parse_quantity(text, "1")
    assert (spread.low, spread.value, spread.high) == pytest.approx((0.16, 0.18, 0.20))


def test_temperature_spread_uses_the_written_scale() -> None:
    """A half-width in degC is not an absolute temperature."""
    spread = parse_quantity("28 degC ± 4 degC", "K")
    assert (spread.low, spread.high) == pytest.approx((297.15, 305.15))


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("48 m3", "does not measure"),
        ("0,8 %", "comma"),
        ("nan %", "not a number"),
        ("1e999 %", "finite"),
        ("48", "no unit"),
        ("48 foo", "not a unit"),
        ("", "not a number"),
        ("20 .. 18 .. 16 %", "order"),
        ("18 % ± 2 kg", "mixes"),
        ("18 % ± -2 %", "negative"),
        ("1 .. 2 %", "low .. typical .. high"),
    ],
)
def test_bad_text_says_what_is_wrong(text: str, words: str) -> None:
    """The message names the trouble."""
    with pytest.raises(QuantityError, match=words):
        parse_quantity(text, "m3/s" if "48" in text else "1")


def test_foreign_currency_needs_a_rate() -> None:
    """A price in another currency than the study's is refused."""
    with pytest.raises(QuantityError, match="USD without a rate"):
        parse_quantity("0.2 USD/kWh", "currency/J", currency="EUR")


@settings(max_examples=60, deadline=None)
@given(st.floats(min_value=1e-6, max_value=1e6))
def test_units_round_trip(number: float) -> None:
    """The same flow written in m3/d and gpm is the same flow."""
    from cakewright.quantities import from_si

    si = parse_quantity(f"{number!r} m3/d", "m3/s").value
    again = parse_quantity(f"{from_si(si, 'm3/s', 'gpm')!r} gpm", "m3/s").value
    assert again == pytest.approx(si, rel=1e-12)
