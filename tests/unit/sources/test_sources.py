"""The shelves: complete, graded, in our own words, and free of addresses."""

from __future__ import annotations

import re

import pytest

from cakewright.errors import UnknownNameError
from cakewright.sources import source, sources

CONDITIONING = (
    *(2, 3, 5, 8, 9, 13, 14, 15, 16, 20, 30, 31, 32, 33, 34, 36, 37, 38, 39, 41, 47, 53, 55),
    *(60, 63, 67, 68, 69, 70, 71),
)
KINDS = (
    *range(1, 24),
    *(25, 26, 27, 28, 30, 31, 33, 37, 40, 43, 44, 45, 46, 50, 51),
)
EXPECTED = (
    {f"P{i:02d}" for i in range(1, 53) if i != 28}
    | {f"T{i:02d}" for i in range(2, 87)}
    | {f"L{i:02d}" for i in range(1, 129)}
    | {f"C{i:02d}" for i in CONDITIONING}
    | {f"K{i:02d}" for i in KINDS}
    | {"L18b", "MEM", "PRACTICE", "OWN", "JUDGEMENT"}
)
ADDRESS = re.compile(r"https?:|www\.|\.(com|org|net|gov|edu|de|at|ch|int)\b")


def test_every_id_of_the_surveys_is_on_a_shelf() -> None:
    """Performance, theory, the line, conditioning, kinds, and the four that are no document."""
    assert set(sources()) == EXPECTED


@pytest.mark.parametrize("key", sorted(EXPECTED))
def test_an_entry_says_what_it_is_and_what_was_read(key: str) -> None:
    """Title, known grade and what was read; a year is a year; no web address."""
    entry = source(key)
    assert entry.title
    assert entry.read
    assert entry.grade in {"A", "B", "C", "D", "-"}
    assert entry.year is None or 1980 <= entry.year <= 2026
    assert not ADDRESS.search(f"{entry.title} {entry.author} {entry.number} {entry.read}")


def test_only_what_was_read_has_a_grade() -> None:
    """Recall, practice, derivation and judgement are not dressed up as documents."""
    ungraded = {key for key, entry in sources().items() if entry.grade == "-"}
    assert ungraded == {"MEM", "PRACTICE", "OWN", "JUDGEMENT"}


def test_one_document_was_read_whole() -> None:
    """Grade A is rare and stays so until somebody reads more."""
    assert [key for key, entry in sources().items() if entry.grade == "A"] == ["P08"]


def test_an_unknown_id_names_the_nearest() -> None:
    """A slip of the pen fails and helps."""
    with pytest.raises(UnknownNameError, match="is not a source id; did you mean"):
        source("P99")
    with pytest.raises(UnknownNameError, match="see docs/sources"):
        source("zzzz")
