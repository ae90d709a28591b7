"""Quantities as people write them."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cakewright.errors import QuantityError
from cakewright.study import parse_quantity
from cakewright.study.quantity_text import AmbiguousQuantityError, Decimals


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
        ("48 m3", "is a volume"),
        ("0,8,1 %", "do not fit"),
        ("nan %", "not a number"),
        ("1e999 %", "finite"),
        ("48", "no unit"),
        ("48 foo", "not a unit"),
        ("", "not a number"),
        ("20 .. 18 .. 16 %", "order"),
        ("18 % ± 2 kg", "mixes"),
        ("18 % ± -2 %", "negative"),
        ("1 .. 2 .. 3 .. 4 %", "low .. typical .. high"),
        ("12 % ± 10 %", "points"),
        ("> 5 %", "upper end"),
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


@pytest.mark.parametrize(
    ("text", "bare", "low", "value", "high"),
    [
        ("30-40", "m3/d", 30, 35, 40),
        ("30 – 40 m3/d", "", 30, 35, 40),
        ("30 to 40 m3/d", "", 30, 35, 40),
        ("zwischen 30 und 40 m3/Tag", "", 30, 35, 40),
        ("30 a 40 m3/día", "", 30, 35, 40),
        ("30 m3/d - 40 m3/d", "", 30, 35, 40),
        ("about 35", "m3/d", 31.5, 35, 38.5),
        ("約35 m3/日", "", 31.5, 35, 38.5),
        ("~35 cbm/Tag", "", 31.5, 35, 38.5),
        ("120 m3/d ± 15 %", "", 102, 120, 138),
        ("120 ± 20", "m3/d", 100, 120, 140),
        ("< 100", "m3/d", 10, 50, 90),
    ],
)
def test_spreads_as_people_say_them(
    text: str, bare: str, low: float, value: float, high: float
) -> None:
    """Ranges, about, relative half-widths and upper limits land where they were meant."""
    spread = parse_quantity(text, "m3/s", bare=bare)
    told = [x * 86400 for x in (spread.low or 0, spread.value, spread.high or 0)]
    assert told == pytest.approx([low, value, high])


@pytest.mark.parametrize(
    ("text", "low", "high"),
    [
        ("18 % ± 2 points", 0.16, 0.20),
        ("18 % ± 10 % rel.", 0.162, 0.198),
        ("0.8 % ± 10 %", 0.0072, 0.0088),
    ],
)
def test_points_and_shares_of_a_share(text: str, low: float, high: float) -> None:
    """A half-width of a share is points or a part of the value, as written or as possible."""
    spread = parse_quantity(text, "1")
    assert (spread.low, spread.high) == pytest.approx((low, high))


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("6 kg/t DS", "kg/kg", 0.006),
        ("6 kg/tDS", "kg/kg", 0.006),
        ("6 kg WS/t TR", "kg/kg", 0.006),
        ("864 kg DS/d", "kg/s", 0.01),
        ("48 m3/operating day", "m3/s", 48 / 86400),
        ("48 m3 per Betriebstag", "m3/s", 48 / 86400),
        ("１２０ ㎥/日", "m3/s", 120 / 86400),
        ("18 C", "K", 291.15),
        ("3 lb/1000 gal", "kg/m3", 3 * 0.45359237 / 3.785411784),
        ("€ 90 /t", "currency/kg", 0.09),
        ("240 kEUR", "currency", 240e3),
        ("1'200.5 L", "m3", 1.2005),
        ("1.200,5 L", "m3", 1.2005),
        ("0,8 L", "m3", 0.0008),
    ],
)
def test_units_as_people_say_them(text: str, unit: str, value: float) -> None:
    """Marks, currencies, languages and thousands signs do not stand in the way."""
    assert parse_quantity(text, unit, currency="EUR").value == pytest.approx(value)


@pytest.mark.parametrize("text", ["1.200 m3/d", "1,200 m3/d", "240.000"])
def test_a_number_with_two_readings_is_asked_about(text: str) -> None:
    """Neither reading is guessed; the style, once said, decides."""
    with pytest.raises(AmbiguousQuantityError) as asked:
        parse_quantity(text, "m3/s", bare="m3/d", decimals=Decimals.ASK)
    small, large = sorted(one.value for one in asked.value.readings)
    assert large == pytest.approx(1000 * small)
    styles = (Decimals.POINT, Decimals.COMMA)
    told = [parse_quantity(text, "m3/s", bare="m3/d", decimals=style).value for style in styles]
    assert sorted(told) == pytest.approx([small, large])


@pytest.mark.parametrize(
    "text",
    [
        "5 9**9**9 m3/d", "8 m0", "8 h0", "8 ft0", "8 m⁰", "8 m-0.0", "5 " + "m*" * 1000 + "m",
        "5 " + "(" * 500 + "m", "9" * 4000 + " m", "1e-320 m", "5 m**99", "5 __class__", "1" * 119,
        "." * 119, "1 " * 59, "±" * 100, "5 " + "to " * 30 + "6", "~" * 119, "<" * 119, "5 m3/d\0",
    ],
)  # fmt: skip
def test_no_text_stops_the_reader(text: str) -> None:
    """Powers of powers, powers of nothing, endless units: refused in words, at once."""
    import time

    start = time.monotonic()
    with pytest.raises(QuantityError):
        parse_quantity(text, "m3/s", bare="")
    assert time.monotonic() - start < 2


@settings(max_examples=200, deadline=None)
@given(st.text(alphabet="0123456789.,-+±%~<>€$ eEmktdhLgDS/*()^ato³·'", max_size=40))
def test_any_text_is_a_quantity_or_a_fault(text: str) -> None:
    """Whatever is typed, a value comes with low <= typical <= high, or a fault in words."""
    try:
        spread = parse_quantity(text, "m3/s", bare="m3/d", currency="EUR", decimals=Decimals.ASK)
    except QuantityError:
        return
    if spread.low is not None and spread.high is not None:
        assert spread.low <= spread.value <= spread.high
