"""Which kinds of machine there are: every folder of this room that holds a ``kind.toml``.

The one door: a new folder is a new kind, and nothing else need be told of it.
"""

from __future__ import annotations

import pkgutil
from collections.abc import Iterator, Mapping
from functools import cache
from importlib import import_module
from importlib.resources import files
from types import MappingProxyType
from typing import Any, final

from cakewright.quantities.tables import packaged_table

__all__ = ["Kind", "data_of", "folder_of", "kind_keys", "look_in", "shared_data"]


_ROOM = "cakewright.machines"


@cache
def _folders() -> Mapping[str, str]:
    """Package of every kind by its key, in the order in which kinds are compared."""
    found: list[tuple[int, str, str]] = []
    for one in pkgutil.iter_modules(import_module(_ROOM).__path__):
        if not one.ispkg:
            continue
        package = f"{_ROOM}.{one.name}"
        if files(package).joinpath("kind.toml").is_file():
            row = _toml(package, "kind.toml")
            found.append((row["order"], row["key"], package))
    return MappingProxyType({key: package for _, key, package in sorted(found)})


def _toml(package: str, name: str) -> dict[str, Any]:
    return packaged_table(package, name)


def look_in(folder: str) -> None:
    """Find kinds among the packages of one more folder too; call it before any other use."""
    import_module(_ROOM).__path__.append(folder)
    _folders.cache_clear()


def kind_keys() -> tuple[str, ...]:
    """Keys of all kinds, in the order in which they are compared."""
    return tuple(_folders())


def folder_of(key: str) -> str:
    """Dotted name of the package that holds all that is peculiar to a kind."""
    return _folders()[key]


@cache
def data_of(key: str, name: str) -> Mapping[str, Any]:
    """One table of a kind from its folder, such as ``kind.toml``; empty where it has none."""
    package = _folders()[key]
    if not files(package).joinpath(name).is_file():
        return MappingProxyType({})
    return MappingProxyType(_toml(package, name))


@cache
def shared_data(key: str, name: str) -> Mapping[str, Any]:
    """One table of the model that a kind shares with others; empty where there is none."""
    model = data_of(key, "kind.toml").get("shares")
    if model is None or not files(f"{_ROOM}.{model}").joinpath(name).is_file():
        return MappingProxyType({})
    return MappingProxyType(_toml(f"{_ROOM}.{model}", name))


class _Keys(type):
    """Lets the class of keys be walked and asked like an enum of what the folders hold."""

    def __iter__(cls) -> Iterator[Kind]:
        return iter([Kind(key) for key in _folders()])

    def __len__(cls) -> int:
        return len(_folders())

    def __contains__(cls, key: object) -> bool:
        return key in _folders()

    def __getattr__(cls, name: str) -> Kind:
        if name.isupper() and name.lower() in _folders():
            return Kind(name.lower())
        raise AttributeError(f"no kind of machine is called {name}; known: {', '.join(_folders())}")


@final
class Kind(str, metaclass=_Keys):
    """The key of a kind of machine that has a folder; one object per key.

    ``Kind.BELT_PRESS`` is ``Kind("belt_press")``.

    Raises
    ------
    ValueError
        If no folder holds a kind of that key.
    """

    __slots__ = ()

    def __new__(cls, key: str) -> Kind:
        """The one object of this key."""
        if key not in _folders():
            raise ValueError(f"{key!r} is no kind of machine; known: {', '.join(_folders())}")
        return _interned(str(key))

    @property
    def value(self) -> str:
        """The key as plain text."""
        return str(self)

    def __reduce__(self) -> tuple[type[Kind], tuple[str]]:
        """Read back as the one object."""
        return Kind, (str(self),)


@cache
def _interned(key: str) -> Kind:
    return str.__new__(Kind, key)
