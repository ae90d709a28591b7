"""A study that has been read: every value with its basis, every word, and the text itself."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from cakewright.errors import UnknownNameError
from cakewright.quantities import Given

__all__ = ["Study", "Word"]

Word = str | bool | int | tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Study:
    """One site's case.

    ``values`` holds quantities by place (``duty.hours_per_day``, ``sludge.0.flow``), defaults
    included; ``words`` holds texts, choices, flags and counts; ``text`` is the file as written.
    """

    text: str
    values: Mapping[str, Given]
    words: Mapping[str, Word]
    lines: Mapping[str, int]
    sludges: int

    def given(self, place: str) -> Given | None:
        """Quantity at a place, or None where nothing is given and no default stands in."""
        return self.values.get(place)

    def value(self, place: str) -> float:
        """SI value at a place.

        Raises
        ------
        UnknownNameError
            If nothing is given there and no default stands in.
        """
        if place not in self.values:
            raise UnknownNameError(f"the study gives no {place} and no default stands in for it")
        return self.values[place].value

    def word(self, place: str) -> str:
        """Text or choice at a place; empty when nothing is given."""
        found = self.words.get(place, "")
        return found if isinstance(found, str) else str(found)

    def texts(self, section: str) -> dict[str, str]:
        """The words given in one section, by key."""
        start = f"{section}."
        found = {k.removeprefix(start): self.word(k) for k in self.words if k.startswith(start)}
        return {key: text for key, text in found.items() if text}

    def flag(self, place: str) -> bool:
        """Flag at a place."""
        return bool(self.words.get(place, False))

    def count(self, place: str) -> int:
        """Whole number at a place; 0 when nothing is given."""
        found = self.words.get(place, 0)
        return found if isinstance(found, int) else 0
