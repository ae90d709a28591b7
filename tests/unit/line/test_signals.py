"""Tags from the letter table, in both codes."""

from __future__ import annotations

import pytest

from cakewright.errors import UnknownNameError
from cakewright.line import Letters, instrument_tag


@pytest.mark.parametrize(
    ("measured", "functions", "isa", "iso"),
    [
        ("flow", ("indicate", "transmit"), "FIT-101", "FI-101"),
        ("level", ("switch", "high"), "LSH-101", "LSH-101"),
        ("level", ("safety", "high"), "LSH-101", "LZH-101"),
        ("position", ("indicate",), "ZI-101", "GI-101"),
        ("speed", ("indicate", "control"), "SIC-101", "SIC-101"),
        ("time", ("totalise",), "KQ-101", "KQ-101"),
    ],
)
def test_one_instrument_in_two_codes(
    measured: str, functions: tuple[str, ...], isa: str, iso: str
) -> None:
    """The same instrument is written in both letter codes from one table."""
    assert instrument_tag(measured, functions, 101) == isa
    assert instrument_tag(measured, functions, 101, Letters.ISO) == iso


def test_unknown_quantity_is_refused() -> None:
    """A quantity without a letter is refused with the known ones."""
    with pytest.raises(UnknownNameError, match="tag: got 'mood'"):
        instrument_tag("mood", ("indicate",), 1)
