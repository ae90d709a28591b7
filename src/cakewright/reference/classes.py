"""House sludge classes: what the tables are looked up by."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

from cakewright.reference import _tables

__all__ = ["Neighbours", "SludgeClass", "neighbours", "sludge_class", "sludge_classes"]


@dataclass(frozen=True, slots=True)
class SludgeClass:
    """A house class and the words the sources use for it."""

    key: str
    label: str
    municipal: bool
    also: tuple[str, ...]

    @property
    def words(self) -> frozenset[str]:
        """Every word under which a row belongs to this class itself."""
        return frozenset((self.key, *self.also))

    @property
    def wide_words(self) -> frozenset[str]:
        """Words of rows that hold for this class among others."""
        return frozenset(("any", "any_municipal") if self.municipal else ("any",))


@dataclass(frozen=True, slots=True)
class Neighbours:
    """Classes to borrow from, nearest first, and how much wider the borrowed band becomes."""

    classes: tuple[str, ...]
    widen: float
    why: str


@cache
def sludge_classes() -> Mapping[str, SludgeClass]:
    """All house classes by key."""
    return MappingProxyType(
        {
            key: SludgeClass(key, entry["label"], entry["municipal"], tuple(entry["also"]))
            for key, entry in _tables.toml_table("classes").items()
        }
    )


def sludge_class(key: str) -> SludgeClass:
    """One house class.

    Raises
    ------
    UnknownNameError
        If there is no such class; names the nearest one.
    """
    found = sludge_classes()
    if key not in found:
        raise _tables.unknown(key, found, "a sludge class")
    return found[key]


def neighbours(key: str) -> Neighbours:
    """Where a class borrows from when it has no row of its own.

    Raises
    ------
    UnknownNameError
        If there is no such class.
    """
    entry = _tables.toml_table("neighbours")[sludge_class(key).key]
    return Neighbours(tuple(entry["from"]), float(entry["widen"]), entry["why"])
