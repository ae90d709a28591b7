"""The front door for texts of others: what is too much is refused in words, not taken in."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from cakewright.errors import InputFileError
from cakewright.storage.texts import read_json, read_text, rows_of


@pytest.mark.skipif(os.name == "nt", reason="there is no endless file there")
def test_an_endless_file_ends() -> None:
    """A device that says it holds nothing and never ends is read to the bound and refused."""
    with pytest.raises(InputFileError, match="larger than 2 MB"):
        read_text(Path("/dev/zero"))


def test_a_cell_or_a_table_that_never_ends_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """A quote left open swallows the file; a table of commas has no end of cells."""
    with pytest.raises(InputFileError, match="quote left open"):
        rows_of('a,b\n"' + "x,1\n" * 5000, "s.csv")
    with pytest.raises(InputFileError, match="not valid CSV"):
        rows_of("a,b\n" + "x" * 200_000, "s.csv")
    monkeypatch.setattr("cakewright.storage.texts._MOST_CELLS", 1000)
    with pytest.raises(InputFileError, match="1000 cells"):
        rows_of(",\n" * 501, "s.csv")


def test_rows_are_cut_at_the_mark_of_the_titles() -> None:
    """Remarks before the titles do not say which mark it is."""
    assert rows_of("# a, b, c\nrun;flow\n1;2,5\n", "s")[1:] == [["run", "flow"], ["1", "2,5"]]


def test_deep_json_is_words(tmp_path: Path) -> None:
    """Lists inside each other without end end in words."""
    path = tmp_path / "f.json"
    path.write_text("[" * 100_000)
    with pytest.raises(InputFileError, match="cannot be read as JSON"):
        read_json(path)
