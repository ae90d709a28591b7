"""What the store hands out: plain records."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

__all__ = ["Kept", "Revision", "Saved", "StudyRecord"]


@dataclass(frozen=True, slots=True)
class StudyRecord:
    """One study as it stands; ``version`` rises with every confirmed change."""

    id: str
    title: str
    site: str
    version: int
    created: datetime
    changed: datetime
    can_undo: bool
    can_redo: bool
    removed: bool = False


@dataclass(frozen=True, slots=True)
class Revision:
    """One confirmed change: what it was and where."""

    version: int
    at: datetime
    kind: str
    places: tuple[str, ...]
    author: str


@dataclass(frozen=True, slots=True)
class Saved:
    """Answer to a save: the new version, its text, and whether it was merged with other edits."""

    version: int
    data: bytes
    places: tuple[str, ...]
    merged: bool
    record: StudyRecord


@dataclass(frozen=True, slots=True)
class Kept:
    """A refused text, kept so that nothing typed is lost."""

    number: int
    base: int
    at: datetime
    places: tuple[str, ...]
    data: bytes
