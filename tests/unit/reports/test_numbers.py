"""Numbers as people read them."""

from __future__ import annotations

import math

import pytest

from cakewright.quantities import Band
from cakewright.reports.numbers import (
    Units,
    band_text,
    decimals_for,
    number_text,
    plain_text,
    power_text,
    quantity_text,
    shown,
    unit_text,
)


@pytest.mark.parametrize(
    ("value", "decimals", "text"),
    [
        (18.24, 1, "18.2"),
        (-0.04, 1, "0.0"),
        (-12345.6, 0, "−12\u202f346"),
        (9999.4, 0, "9999"),
        (0.00031, 7, "3.1·10⁻⁴"),
    ],
)
def test_number_text(value: float, decimals: int, text: str) -> None:
    """Minus sign, thin spaces from five figures, no minus zero, powers when very small."""
    assert number_text(value, decimals) == text


def test_units_are_written_with_their_signs() -> None:
    """Powers are raised, degrees and the study's currency filled in, a ratio has no unit."""
    assert unit_text("m3/h") == "m³/h"
    assert unit_text("degC") == "°C"
    assert unit_text("currency/t", "EUR") == "EUR/t"
    assert unit_text("1") == ""
    assert unit_text("kg*m-2") == "kg·m⁻²"


def test_us_units_are_real_conversions() -> None:
    """18.2 % stays; 1 kg/t is 2 lb/ton; 1 m3/h is 4.403 gpm; 0 degC is 32 degF."""
    assert shown("polymer_dose", 0.001, Units.US) == pytest.approx(2.0, rel=1e-9)
    assert shown("volume_flow", 1 / 3600, Units.US) == pytest.approx(4.402868, rel=1e-6)
    assert shown("temperature", 273.15, Units.US) == pytest.approx(32.0, abs=1e-9)
    assert shown("cake_solids", 0.182, Units.US) == pytest.approx(18.2)


def test_small_numbers_get_more_digits_and_large_none() -> None:
    """At least two digits of the largest of a column are shown; thousands have no decimals."""
    assert decimals_for("total_solids", [0.0125], Units.SI) == 2
    assert decimals_for("total_solids", [0.00002], Units.SI) == 4
    assert decimals_for("mass_flow", [9000 / 3600], Units.SI) == 0


def test_band_text_says_to_when_a_minus_would_confuse() -> None:
    """A dash between plain numbers, "to" beside a minus sign, nothing for a point."""
    assert band_text("cake_solids", Band(0.161, 0.18, 0.198), Units.SI) == "16.1–19.8"
    assert "to" in band_text("cake_solids", Band(-0.05, 0.0, 0.05), Units.SI)
    assert band_text("cake_solids", Band(0.2, 0.2, 0.2), Units.SI) == ""


def test_quantity_text_carries_its_unit() -> None:
    """A value in a sentence is never without its unit."""
    assert quantity_text("volume_flow", 9 / 3600, Units.SI) == "9.00\u202fm³/h"


def test_significant_digits() -> None:
    """Four digits unless asked otherwise, as a power of ten when far from one."""
    assert plain_text(math.pi) == "3.142"
    assert plain_text(0.0) == "0"
    assert plain_text(0.00069444) == power_text(0.00069444, 4) == "6.944·10⁻⁴"
