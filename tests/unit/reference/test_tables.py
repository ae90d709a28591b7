"""Every data file of the room: sources exist, units convert, bands are in order."""

from __future__ import annotations

import re
from importlib.resources import files

import pytest

from cakewright.quantities import to_si
from cakewright.reference import RowKind, _tables
from cakewright.sources import sources

DATA = files("cakewright.reference").joinpath("data")
CSV = sorted(file.name.removesuffix(".csv") for file in DATA.iterdir() if file.name.endswith("csv"))
WITH_UNITS = ("peaking", "performance", "envelopes")
UNITS = _tables.toml_table("units")
ID = re.compile(r"\b([PTLC]\d\d\d?b?)\b")


@pytest.mark.parametrize("name", CSV)
def test_every_row_has_every_cell(name: str) -> None:
    """A stray comma cannot shift a row: no row has more or fewer cells than the head."""
    for cells in _tables.csv_table(name):
        assert None not in cells
        assert None not in cells.values(), cells


@pytest.mark.parametrize("name", CSV)
def test_every_row_has_a_source_on_the_shelf(name: str) -> None:
    """No figure without a source id that exists, and `kind` agrees with it."""
    for cells in _tables.csv_table(name):
        assert cells["source"] in sources(), cells
        if cells.get("kind"):
            kind = RowKind(cells["kind"])
            assert (cells["source"] == "MEM") == (kind is RowKind.FROM_MEMORY), cells
            assert (cells["source"] == "JUDGEMENT") == (
                kind in (RowKind.JUDGEMENT, RowKind.PROXY)
            ), cells


@pytest.mark.parametrize("name", CSV)
def test_every_source_named_in_a_remark_exists(name: str) -> None:
    """Ids in conditions, notes and based_on are on the shelves too."""
    for cells in _tables.csv_table(name):
        for column in ("conditions", "note", "based_on"):
            for key in ID.findall(cells.get(column, "")):
                assert key in sources(), (key, cells)


@pytest.mark.parametrize("unit", sorted(UNITS))
def test_unit_factor_is_that_of_the_registry(unit: str) -> None:
    """The packaged factors are those of the one door between units."""
    assert to_si(1.0, unit, UNITS[unit]["si"]) == pytest.approx(UNITS[unit]["factor"], rel=1e-9)


def test_every_unit_is_known_and_used() -> None:
    """Every unit of a table has a factor, and no factor lies idle."""
    used = {cells["unit"] for name in WITH_UNITS for cells in _tables.csv_table(name)}
    assert used == set(UNITS)


@pytest.mark.parametrize("name", WITH_UNITS)
def test_low_typical_high_are_in_order(name: str) -> None:
    """Every band is in order and every row gives at least one number."""
    for cells in _tables.csv_table(name):
        given = [float(cells[end]) for end in ("low", "typical", "high") if cells[end]]
        assert given
        assert given == sorted(given), cells
