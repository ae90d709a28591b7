"""The name list."""

from __future__ import annotations

import pytest

from cakewright.errors import UnknownNameError
from cakewright.quantities import house_name, house_names


def test_every_name_says_what_it_means() -> None:
    """Label, symbol, unit and meaning are filled in; names are lower case with underscores."""
    for entry in house_names().values():
        assert entry.label
        assert entry.symbol
        assert entry.meaning.endswith(".")
        assert entry.name.replace("_", "").isalnum()
        assert entry.name == entry.name.lower()


def test_unknown_name_offers_the_nearest() -> None:
    """A misspelt name raises and names the nearest one."""
    with pytest.raises(UnknownNameError, match="did you mean 'cake_solids'"):
        house_name("cake_solid")
    with pytest.raises(UnknownNameError, match="docs/names"):
        house_name("zzzzzz")
