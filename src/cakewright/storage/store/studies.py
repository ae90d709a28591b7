"""Studies kept: every confirmed change is a revision, undo walks back, edits of others merge."""

from __future__ import annotations

import re
import secrets
from collections.abc import Callable, Iterable, Sequence
from datetime import UTC, datetime
from typing import Any

import sqlalchemy as sa

from cakewright.errors import ConflictError, InputFileError, UnknownNameError
from cakewright.storage.file_names import is_file_name
from cakewright.storage.store.editing import (
    Edit,
    apply_edits,
    changed_places,
    merged_text,
    overlapping,
    tables,
)
from cakewright.storage.store.engine import alone, open_engine, reading, writing
from cakewright.storage.store.records import Kept, Revision, Saved, StudyRecord
from cakewright.storage.store.tables import attachments, kept, revisions, settings, studies

__all__ = ["MAX_STUDY_BYTES", "StudyStore", "open_store"]

MAX_STUDY_BYTES = 2_000_000
_MOST_ATTACHED = 8_000_000
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9 ._-]{0,99}$")
_ID = re.compile(r"[a-z0-9]{8,32}$")


def open_store(address: str) -> StudyStore:
    """Store at an address (a path is a file of its own).

    Raises
    ------
    StoreError
        If it cannot be opened.
    """
    return StudyStore(open_engine(address if "://" in address else f"sqlite:///{address}"))


def _text(data: bytes) -> str:
    if len(data) > MAX_STUDY_BYTES:
        raise InputFileError(
            f"the study: got {len(data)} bytes; at most {MAX_STUDY_BYTES} are taken; logs and "
            "readings go in files of their own"
        )
    if b"\0" in data:
        raise InputFileError("the study: got a binary file; a study is TOML text")
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise InputFileError(
            f"the study: line {line} is not UTF-8; save the file as UTF-8 text"
        ) from None


def _titles(text: str) -> dict[str, str]:
    """Title and site of a text, empty where it cannot be read yet."""
    try:
        table = tables(text)
    except InputFileError:
        return {}
    # A server's text columns hold no zero character, which TOML can write as an escape.
    return {key: str(table.get(key, "")).replace("\0", "")[:300] for key in ("title", "site")}


class StudyStore:
    """The studies of one person or one team."""

    def __init__(self, engine: sa.Engine) -> None:
        self.engine = engine

    def close(self) -> None:
        """Let go of the file or the server."""
        self.engine.dispose()

    def secret(self) -> bytes:
        """Random bytes that belong to this store, made once."""
        with reading(self.engine) as link:
            found = link.execute(sa.select(settings.c.value).where(settings.c.key == "secret"))
            value = found.scalar()
        if value is not None:
            return bytes(value)
        with writing(self.engine) as link:
            alone(link)
            found = link.execute(sa.select(settings.c.value).where(settings.c.key == "secret"))
            value = found.scalar()
            if value is None:
                value = secrets.token_bytes(32)
                link.execute(sa.insert(settings).values(key="secret", value=value))
        return bytes(value)

    def list(self, *, removed: bool = False) -> tuple[StudyRecord, ...]:
        """Studies, the last changed first."""
        query = _records().where(studies.c.removed == removed).order_by(studies.c.changed.desc())
        with reading(self.engine) as link:
            return tuple(_record(row) for row in link.execute(query))

    def get(self, study: str) -> StudyRecord:
        """One study.

        Raises
        ------
        UnknownNameError
            If there is none of that id.
        """
        with reading(self.engine) as link:
            return _one(link, study)

    def data(self, study: str, version: int | None = None) -> bytes:
        """Text of a study exactly as stored; an older version by its number.

        Raises
        ------
        UnknownNameError
            If there is no such study or version.
        """
        with reading(self.engine) as link:
            wanted = _one(link, study).version if version is None else version
            return _revision_data(link, study, wanted)

    def create(self, data: bytes, author: str = "", kind: str = "new") -> StudyRecord:
        """Keep a new study; its bytes come back unchanged on export.

        Raises
        ------
        InputFileError
            If it is too large or no UTF-8 text. A study with faults is kept all the same.
        """
        text = _text(data)
        key, now = secrets.token_hex(6), datetime.now(UTC)
        titles = {"title": "", "site": ""} | _titles(text)
        with writing(self.engine) as link:
            row = {"id": key, "version": 1, "created": now, "changed": now, "removed": False}
            link.execute(sa.insert(studies).values(**row, **titles))
            _add_revision(link, key, 1, data, kind, (), author, None, None)
            return _one(link, key)

    def duplicate(self, study: str, author: str = "") -> StudyRecord:
        """A copy with a title of its own, its files with it."""
        with reading(self.engine) as link:
            record = _one(link, study)
            data = _revision_data(link, study, record.version)
            files = link.execute(sa.select(attachments).where(attachments.c.study == study)).all()
        try:
            title = f"{record.title} (variant)"[:300]
            data = apply_edits(_text(data), [Edit("title", title)]).encode("utf-8")
        except InputFileError:
            pass  # A text that is no TOML yet is copied as it is.
        copy = self.create(data, author, "copy")
        for file in files:
            self.attach(copy.id, file.name, bytes(file.data))
        return copy

    def edit(self, study: str, base: int, edits: Sequence[Edit], author: str = "") -> Saved:
        """Make edits that were meant for version ``base``.

        Raises
        ------
        ConflictError
            If somebody changed the same places since; the refused text is kept.
        InputFileError
            If the text or what was typed cannot be used.
        """
        places = tuple(dict.fromkeys(edit.touches for edit in edits))

        def change(old: str, head: str) -> tuple[str | None, tuple[str, ...]]:
            if old == head:
                return apply_edits(head, edits), ()
            theirs = changed_places(old, head)
            both = overlapping(places, theirs)
            if not both:
                return apply_edits(head, edits), ()
            # The same edit twice (its confirmation was lost on the way) is no conflict.
            mine = changed_places(old, apply_edits(old, edits))
            if all(place in theirs and theirs[place] == value for place, value in mine.items()):
                return head, ()
            return None, both

        return self._save(study, base, change, lambda old: apply_edits(old, edits), places, author)

    def replace(self, study: str, base: int, data: bytes, author: str = "") -> Saved:
        """Put a whole text in place of version ``base``.

        Raises
        ------
        ConflictError
            If it cannot be merged with what others changed since; the refused text is kept.
        """
        mine = _text(data)

        def change(old: str, head: str) -> tuple[str | None, tuple[str, ...]]:
            if old == head:
                return mine, ()
            try:
                return merged_text(old, mine, head)
            except InputFileError:
                return None, ("the whole text",)

        return self._save(study, base, change, lambda _: mine, (), author)

    def _save(
        self,
        study: str,
        base: int,
        change: Callable[[str, str], tuple[str | None, tuple[str, ...]]],
        alone: Callable[[str], str],
        places: tuple[str, ...],
        author: str,
    ) -> Saved:
        with writing(self.engine) as link:
            record = _one(link, study, lock=True)
            head = _revision_data(link, study, record.version)
            old = head if base == record.version else _revision_data(link, study, base)
            text, both = change(_text(old), _text(head))
            if text is not None:
                data = text.encode("utf-8")
                _text(data)
                return _advance(link, record, head, data, places, author, base != record.version)
            refused = alone(_text(old)).encode("utf-8")
            number = _keep(link, study, base, both, refused)
        raise ConflictError(
            f"{', '.join(both)}: changed elsewhere since this page was loaded; both versions are "
            f"kept, yours as number {number}; look at the newer value, then type yours again if "
            "it is still right",
            both,
            number,
        )

    def undo(self, study: str, base: int, author: str = "") -> Saved:
        """Bring back the text before the last change.

        Raises
        ------
        InputFileError
            If there is nothing to undo.
        ConflictError
            If somebody changed the study since version ``base``.
        """
        return self._walk(study, base, "undo", author)

    def redo(self, study: str, base: int, author: str = "") -> Saved:
        """Bring back what was undone last; raises like `undo`."""
        return self._walk(study, base, "redo", author)

    def _walk(self, study: str, base: int, kind: str, author: str) -> Saved:
        with writing(self.engine) as link:
            record = _one(link, study, lock=True)
            if record.version != base:
                raise ConflictError("the study was changed elsewhere; look at it before you undo")
            here = _revision(link, study, base)
            target = here.back if kind == "undo" else here.forward
            if target is None:
                raise InputFileError(f"there is nothing to {kind}")
            there = _revision(link, study, target)
            forward = base if kind == "undo" else there.forward
            data, number = bytes(there.data), base + 1
            _add_revision(link, study, number, data, kind, (), author, there.back, forward)
            _move_head(link, study, number, data)
            return Saved(number, data, (), False, _one(link, study))

    def history(self, study: str, limit: int = 200) -> tuple[Revision, ...]:
        """Confirmed changes, newest first."""
        query = (
            sa.select(revisions)
            .where(revisions.c.study == study)
            .order_by(revisions.c.version.desc())
            .limit(limit)
        )
        with reading(self.engine) as link:
            _one(link, study)
            return tuple(
                Revision(r.version, _aware(r.at), r.kind, _split(r.places), r.author)
                for r in link.execute(query)
            )

    def kept(self, study: str) -> tuple[Kept, ...]:
        """Refused texts, newest first."""
        query = sa.select(kept).where(kept.c.study == study).order_by(kept.c.number.desc())
        with reading(self.engine) as link:
            _one(link, study)
            return tuple(
                Kept(r.number, r.base, _aware(r.at), _split(r.places), bytes(r.data))
                for r in link.execute(query)
            )

    def set_removed(self, study: str, *, removed: bool) -> StudyRecord:
        """Put a study in the bin, or take it out again; nothing is erased."""
        with writing(self.engine) as link:
            _one(link, study, lock=True)
            link.execute(sa.update(studies).where(studies.c.id == study).values(removed=removed))
            return _one(link, study)

    def attach(self, study: str, name: str, data: bytes) -> None:
        """Keep a file beside a study, in place of one of the same name.

        Raises
        ------
        InputFileError
            If the name is no plain file name or the file is too large.
        """
        if not (_NAME.match(name) and is_file_name(name)):
            raise InputFileError(
                f"{name[:60]!r} is not a plain file name; use letters, digits, dots and dashes"
            )
        if len(data) > _MOST_ATTACHED:
            raise InputFileError(f"{name}: got {len(data)} bytes; at most {_MOST_ATTACHED}")
        key = (attachments.c.study == study) & (attachments.c.name == name)
        with writing(self.engine) as link:
            _one(link, study, lock=True)
            link.execute(sa.delete(attachments).where(key))
            row = {"study": study, "name": name, "at": datetime.now(UTC), "data": data}
            link.execute(sa.insert(attachments).values(**row))

    def detach(self, study: str, name: str) -> None:
        """Take a file away from beside a study.

        Raises
        ------
        UnknownNameError
            If there is none of that name.
        """
        key = (attachments.c.study == study) & (attachments.c.name == name)
        with writing(self.engine) as link:
            _one(link, study, lock=True)
            there = bool(_NAME.match(name))
            if not there or link.execute(sa.delete(attachments).where(key)).rowcount == 0:
                raise UnknownNameError(f"no file {name[:60]!r} beside this study")

    def attached(self, study: str) -> tuple[tuple[str, int], ...]:
        """Names and sizes of the files beside a study."""
        size = sa.func.length(attachments.c.data)
        query = sa.select(attachments.c.name, size).where(attachments.c.study == study)
        with reading(self.engine) as link:
            _one(link, study)
            return tuple((r[0], int(r[1])) for r in link.execute(query.order_by("name")))

    def attachment(self, study: str, name: str) -> bytes:
        """One file beside a study.

        Raises
        ------
        UnknownNameError
            If there is none of that name.
        """
        key = (attachments.c.study == study) & (attachments.c.name == name)
        data = None
        if _NAME.match(name) and _ID.match(study):
            with reading(self.engine) as link:
                data = link.execute(sa.select(attachments.c.data).where(key)).scalar()
        if data is None:
            raise UnknownNameError(f"no file {name[:60]!r} beside this study")
        return bytes(data)


def _records() -> sa.Select[Any]:
    here = (revisions.c.study == studies.c.id) & (revisions.c.version == studies.c.version)
    return sa.select(studies, revisions.c.back, revisions.c.forward).join(revisions, here)


def _one(link: sa.Connection, study: str, *, lock: bool = False) -> StudyRecord:
    if lock:
        # By itself: a join that waited for the lock would look for the head of before the wait.
        link.execute(sa.select(studies.c.id).where(studies.c.id == study).with_for_update())
    query = _records().where(studies.c.id == study)
    row = link.execute(query).first() if _ID.match(study) else None
    if row is None:
        raise UnknownNameError(f"no study {study[:40]!r}; it may be in another store")
    return _record(row)


def _record(row: sa.Row[Any]) -> StudyRecord:
    return StudyRecord(
        id=row.id,
        title=row.title,
        site=row.site,
        version=row.version,
        created=_aware(row.created),
        changed=_aware(row.changed),
        can_undo=row.back is not None,
        can_redo=row.forward is not None,
        removed=bool(row.removed),
    )


def _aware(moment: datetime) -> datetime:
    """SQLite gives times back without their zone; they were written in UTC."""
    return moment if moment.tzinfo else moment.replace(tzinfo=UTC)


def _split(places: str) -> tuple[str, ...]:
    return tuple(place for place in places.split("\n") if place)


def _revision(link: sa.Connection, study: str, version: int) -> sa.Row[Any]:
    key = (revisions.c.study == study) & (revisions.c.version == version)
    row = link.execute(sa.select(revisions).where(key)).first()
    if row is None:
        raise UnknownNameError(f"the study has no version {version}")
    return row


def _revision_data(link: sa.Connection, study: str, version: int) -> bytes:
    if not 0 < version < 2**31:
        raise UnknownNameError(f"the study has no version {version}")
    return bytes(_revision(link, study, version).data)


def _add_revision(
    link: sa.Connection,
    study: str,
    version: int,
    data: bytes,
    kind: str,
    places: Iterable[str],
    author: str,
    back: int | None,
    forward: int | None,
) -> None:
    row = {"study": study, "version": version, "at": datetime.now(UTC), "kind": kind}
    row |= {"places": "\n".join(places), "author": author[:64], "back": back, "forward": forward}
    link.execute(sa.insert(revisions).values(**row, data=data))


def _advance(
    link: sa.Connection,
    record: StudyRecord,
    head: bytes,
    data: bytes,
    places: tuple[str, ...],
    author: str,
    merged: bool,
) -> Saved:
    if data == head:
        return Saved(record.version, data, (), merged, record)
    number, kind = record.version + 1, "merge" if merged else "edit"
    _add_revision(link, record.id, number, data, kind, places, author, record.version, None)
    _move_head(link, record.id, number, data)
    return Saved(number, data, places, merged, _one(link, record.id))


def _move_head(link: sa.Connection, study: str, version: int, data: bytes) -> None:
    values = {"version": version, "changed": datetime.now(UTC), **_titles(data.decode("utf-8"))}
    link.execute(sa.update(studies).where(studies.c.id == study).values(**values))


def _keep(link: sa.Connection, study: str, base: int, places: Iterable[str], data: bytes) -> int:
    row = {"study": study, "base": base, "at": datetime.now(UTC), "data": data}
    done = link.execute(sa.insert(kept).values(**row, places="\n".join(places)))
    return int(done.inserted_primary_key[0]) if done.inserted_primary_key else 0
