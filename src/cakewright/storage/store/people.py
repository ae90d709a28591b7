"""People of a team: named, each with a role and a token that ends; and the trail of what was done.

A token is 256 random bits of the system; only its hash is kept, so that neither the store nor a
backup lets anybody in. No passwords are kept: nothing that a person chose could be guessed.
"""

from __future__ import annotations

import hashlib
import re
import secrets
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from enum import StrEnum

import sqlalchemy as sa

from cakewright.errors import InputFileError, UnknownNameError
from cakewright.storage.store.engine import reading, writing
from cakewright.storage.store.tables import acts, people

__all__ = [
    "Act",
    "Person",
    "Role",
    "add_person",
    "end_person",
    "note_act",
    "person_of",
    "persons",
    "trail",
]

_NAME = re.compile(r"[^\W_][\w .@-]{0,59}$")
LONGEST_DAYS = 730


class Role(StrEnum):
    """What a person may do."""

    LOOK = "look"
    ENTER = "enter"
    ADMINISTER = "administer"


@dataclass(frozen=True, slots=True)
class Person:
    """One person: ``good`` until the token expires or is ended."""

    name: str
    role: Role
    expires: datetime
    ended: bool = False

    @property
    def good(self) -> bool:
        """Whether the token opens anything now."""
        return not self.ended and datetime.now(UTC) < self.expires


@dataclass(frozen=True, slots=True)
class Act:
    """Who did what, when, to which study."""

    at: datetime
    who: str
    study: str
    act: str
    what: str


def add_person(engine: sa.Engine, name: str, role: Role, days: int) -> str:
    """Let a person in, or give one a new token; the token, which is told only now.

    Raises
    ------
    InputFileError
        If the name or the time is not allowed.
    """
    if not _NAME.match(name):
        raise InputFileError(f"{name[:60]!r} is no name; letters, digits, blanks, at most 60")
    if not 1 <= days <= LONGEST_DAYS:
        raise InputFileError(f"{days} days: allowed: 1 to {LONGEST_DAYS}; give a new token then")
    token, now = secrets.token_urlsafe(32), datetime.now(UTC)
    row = {"role": role.value, "token": _hash(token), "created": now, "ended": False}
    row |= {"expires": now + timedelta(days=days)}
    with writing(engine) as link:
        link.execute(sa.delete(people).where(people.c.name == name))
        link.execute(sa.insert(people).values(name=name, **row))
        _note(link, "command line", "", "let in", f"{name}: {role.value}, {days} days")
    return token


def end_person(engine: sa.Engine, name: str) -> None:
    """Shut a person out from now on; their name stays on what they did.

    Raises
    ------
    UnknownNameError
        If there is nobody of that name.
    """
    with writing(engine) as link:
        done = link.execute(sa.update(people).where(people.c.name == name).values(ended=True))
        if done.rowcount == 0:
            raise UnknownNameError(f"nobody is called {name[:60]!r} here")
        _note(link, "command line", "", "shut out", name)


def persons(engine: sa.Engine) -> tuple[Person, ...]:
    """Everybody, by name."""
    with reading(engine) as link:
        rows = link.execute(sa.select(people).order_by(people.c.name)).all()
    return tuple(_person(row) for row in rows)


def person_of(engine: sa.Engine, token: str) -> Person | None:
    """Whose token this is, good or not; None for nobody's."""
    with reading(engine) as link:
        row = link.execute(sa.select(people).where(people.c.token == _hash(token))).first()
    return _person(row) if row is not None else None


def note_act(engine: sa.Engine, who: str, study: str, act: str, what: str = "") -> None:
    """Keep who did what; edits keep it themselves with each version."""
    with writing(engine) as link:
        _note(link, who, study, act, what)


def trail(engine: sa.Engine, limit: int = 500) -> tuple[Act, ...]:
    """The last acts, newest first."""
    query = sa.select(acts).order_by(acts.c.number.desc()).limit(limit)
    with reading(engine) as link:
        rows = link.execute(query).all()
    return tuple(Act(_aware(r.at), r.who, r.study, r.act, r.what) for r in rows)


def _note(link: sa.Connection, who: str, study: str, act: str, what: str) -> None:
    row = {"at": datetime.now(UTC), "who": who[:64], "study": study[:32], "act": act[:40]}
    link.execute(sa.insert(acts).values(**row, what=what[:2000].replace("\0", "")))


def _person(row: sa.Row[tuple[object, ...]]) -> Person:
    return Person(row.name, Role(row.role), _aware(row.expires), bool(row.ended))


def _aware(moment: datetime) -> datetime:
    return moment if moment.tzinfo else moment.replace(tzinfo=UTC)


def _hash(token: str) -> str:
    return hashlib.sha256(token.encode("utf-8", "replace")).hexdigest()
