"""Where every figure comes from: source id -> author, title, year, number, and what was read.

Ids: ``Pnn`` performance of machines, ``Tnn`` theory and bench, ``Lnn`` the line, money and safety,
``Cnn`` conditioning, ``Knn`` what each kind of machine needs round it;
``MEM`` is recall, not proof; ``PRACTICE`` is common practice without a source; ``OWN`` is derived
here (a balance or a definition) and needs no source.
"""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from types import MappingProxyType

from cakewright.errors import UnknownNameError

__all__ = ["Source", "source", "sources"]


@dataclass(frozen=True, slots=True)
class Source:
    """One source and how far it was read.

    ``grade``: A whole document read, B the cited page or section, C abstract or first page,
    D secondary transcription, exercise or web page, ``-`` nothing read.
    """

    id: str
    title: str
    grade: str
    read: str
    author: str = ""
    year: int | None = None
    number: str = ""


@cache
def sources() -> Mapping[str, Source]:
    """All sources by id.

    Raises
    ------
    UnknownNameError
        If two shelves use the same id.
    """
    found: dict[str, Source] = {}
    for shelf in sorted(files("cakewright.sources").joinpath("shelves").iterdir(), key=str):
        if not shelf.name.endswith(".toml"):
            continue
        for key, entry in tomllib.loads(shelf.read_text(encoding="utf-8")).items():
            if key in found:
                raise UnknownNameError(f"{shelf.name}: source id {key!r} is used twice")
            found[key] = Source(id=key, **entry)
    return MappingProxyType(found)


def source(key: str) -> Source:
    """One source.

    Raises
    ------
    UnknownNameError
        If the id is not on any shelf; names the nearest one.
    """
    known = sources()
    if key in known:
        return known[key]
    near = difflib.get_close_matches(key, known, n=1)
    hint = f"did you mean {near[0]!r}?" if near else "see docs/sources for the list"
    raise UnknownNameError(f"{key!r} is not a source id; {hint}")
