"""Which inputs a sheet points to: the cells of the study's values, and what was used of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from cakewright.quantities import Given

__all__ = ["Links"]


@dataclass(frozen=True, slots=True)
class Links:
    """The SI cell of each input by its place in the study; ``used`` are those answers rest on."""

    cells: Mapping[str, str]
    givens: Mapping[str, Given]
    used: set[str] = field(default_factory=set)

    def has(self, place: str) -> bool:
        """Whether the study has a value there."""
        return place in self.cells

    def value(self, place: str) -> float:
        """Value of the study, SI; 0 where it has none."""
        return self.givens[place].value if place in self.givens else 0.0

    def term(self, place: str) -> str:
        """The cell as a term of a formula; the study's 0 where it has no such value."""
        if place not in self.cells:
            return "0"
        self.used.add(place)
        return self.cells[place]
