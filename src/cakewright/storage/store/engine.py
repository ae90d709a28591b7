"""The connection to the store: opened, brought up to date, its failures put into words."""

from __future__ import annotations

import os
import sqlite3
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from sqlalchemy import event, exc

from cakewright.errors import StoreError

__all__ = [
    "HEAD",
    "alone",
    "data_folder",
    "default_address",
    "logs_folder",
    "migrate",
    "open_engine",
    "reading",
    "writing",
]

HEAD = "0002"
"""The newest migration."""

_BUSY_SECONDS = 20.0


def default_address() -> str:
    """Address of the store: CAKEWRIGHT_STORE, or one file under the user's data folder."""
    chosen = os.environ.get("CAKEWRIGHT_STORE", "")
    if chosen:
        return chosen if "://" in chosen else f"sqlite:///{Path(chosen).expanduser()}"
    return f"sqlite:///{data_folder() / 'studies.sqlite'}"


def data_folder() -> Path:
    """Where this user's own data lies."""
    if sys.platform == "win32":
        base = Path(os.environ.get("LOCALAPPDATA") or Path.home() / "AppData" / "Local")
    elif sys.platform == "darwin":
        base = Path.home() / "Library" / "Application Support"
    else:
        base = Path(os.environ.get("XDG_DATA_HOME") or Path.home() / ".local" / "share")
    return base / "cakewright"


def logs_folder(address: str) -> Path:
    """Where operating logs lie: beside a store that is a file, else with the user's data."""
    if "://" in address and not address.startswith("sqlite:///"):
        return data_folder() / "logs"
    file = Path(address.removeprefix("sqlite:///"))
    return file.with_name(f"{file.stem}-logs")


def open_engine(address: str) -> sa.Engine:
    """Engine of the store at an address, its tables brought up to date.

    Raises
    ------
    StoreError
        If it cannot be opened, is not a store, or was written by a newer program.
    """
    try:
        url = sa.make_url(address)
        engine = _sqlite(url) if url.get_backend_name() == "sqlite" else _server(url)
        with _worded(url):
            migrate(engine)
    except (exc.ArgumentError, ImportError) as error:
        raise StoreError(
            f"got store address {address!r} ({error}); allowed: a path, sqlite:///path or "
            "postgresql+psycopg://user@host/name with the `team` extra installed"
        ) from None
    return engine


def _server(url: sa.URL) -> sa.Engine:
    """Engine of a database server: nobody waits for ever, neither for it nor for a lock."""
    words: dict[str, object] = {"connect_timeout": 10}
    if "options" not in url.query:
        words |= {"options": f"-c lock_timeout={1000 * _BUSY_SECONDS:.0f}"}
    return sa.create_engine(
        url, pool_pre_ping=True, pool_size=10, max_overflow=20, connect_args=words
    )


def _sqlite(url: sa.URL) -> sa.Engine:
    if url.database and url.database != ":memory:":
        folder = Path(url.database).expanduser().parent
        try:
            folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        except OSError as error:
            raise StoreError(
                f"{folder}: the folder of the store cannot be made ({error.strerror}); "
                "choose another with --store"
            ) from None
    engine = sa.create_engine(url, connect_args={"timeout": _BUSY_SECONDS}, **_pool(url))
    event.listen(engine, "connect", _on_connect)
    event.listen(engine, "begin", _on_begin)
    return engine


def _pool(url: sa.URL) -> dict[str, int]:
    """As many connections as a server has threads; a store in memory has one of its own kind."""
    kept_in_memory = url.database in (None, "", ":memory:")
    return {} if kept_in_memory else {"pool_size": 10, "max_overflow": 60}


def _on_connect(connection: Any, _record: Any) -> None:
    # Transactions are opened below, so that a writer takes the lock before it reads.
    connection.isolation_level = None
    # Each thread's connection keeps pages of its own: little, or many visitors take much memory.
    lines = ("journal_mode=WAL", "synchronous=FULL", "foreign_keys=ON", "cache_size=-500")
    for line in lines:
        _patiently(connection, f"PRAGMA {line}")


def _patiently(connection: Any, line: str) -> None:
    """Execute one line; while another program changes the file's journal, ask again.

    SQLite answers "locked" at once, without the wait it was told, to whoever asks for the
    write-ahead log at the moment another does or the last user of the file leaves.
    """
    end = time.monotonic() + _BUSY_SECONDS
    while True:
        try:
            connection.execute(line)
        except sqlite3.OperationalError as error:
            if "locked" not in str(error) or time.monotonic() > end:
                raise
            time.sleep(0.01)
        else:
            return


def _on_begin(connection: sa.Connection) -> None:
    writer = connection.get_execution_options().get("writer", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writer else "BEGIN")


@contextmanager
def reading(engine: sa.Engine, *, still: bool = False) -> Iterator[sa.Connection]:
    """A connection to read on; ``still`` shows one moment however long it is read.

    Raises
    ------
    StoreError
        If the store fails; says how.
    """
    # A file shows one moment to each reader by itself; a server has to be told.
    told = {"isolation_level": "REPEATABLE READ"} if still and _is_server(engine) else {}
    with (
        _worded(engine.url),
        engine.connect().execution_options(**told) as connection,
        connection.begin(),
    ):
        yield connection


def _is_server(engine: sa.Engine) -> bool:
    return engine.dialect.name != "sqlite"


@contextmanager
def writing(engine: sa.Engine) -> Iterator[sa.Connection]:
    """A connection to write on; committed whole at the end or not at all.

    Raises
    ------
    StoreError
        If the store is locked, full, read-only or broken; nothing was written then.
    """
    with (
        _worded(engine.url),
        _turn(engine),
        engine.connect().execution_options(writer=True) as connection,
        connection.begin(),
    ):
        yield connection


@contextmanager
def _turn(engine: sa.Engine) -> Iterator[None]:
    """Writers of one program wait for each other in a queue.

    The file's own lock is asked for again and again by all who want it, so that under load one of
    them can come away empty-handed; it is left for other programs.
    """
    if engine.dialect.name != "sqlite":
        yield
        return
    turn = _turns.setdefault(str(engine.url.database), threading.Lock())
    if not turn.acquire(timeout=_BUSY_SECONDS):
        raise StoreError(_words("busy", engine.url))
    try:
        yield
    finally:
        turn.release()


_turns: dict[str, threading.Lock] = {}


@contextmanager
def _worded(url: sa.URL) -> Iterator[None]:
    try:
        yield
    except exc.DBAPIError as error:
        raise StoreError(_words(str(error.orig), url)) from None
    except exc.TimeoutError:
        raise StoreError(_words("busy", url)) from None


def _words(reason: str, url: sa.URL) -> str:
    place = url.database or url.render_as_string(hide_password=True)
    low = reason.lower()
    for sign, words in (
        ("locked", "another program holds the store; try again, or close that program"),
        ("lock timeout", "others hold the study for too long; try again in a moment"),
        ("busy", "too many changes at once; try again in a moment"),
        ("too many", "the database server takes no more connections; try again in a moment"),
        ("no space", "the disk is full; make room and try again: what was confirmed is safe"),
        ("permission", "the store may not be written; ask for the right to its tables"),
        ("full", "the disk is full; make room and try again: what was confirmed is safe"),
        ("readonly", "the store may not be written; check the rights of the file and its folder"),
        ("read-only", "the store may not be written: the database is open for reading only"),
        ("unable to open", "the store cannot be opened; check the path and its rights"),
        ("not a database", "the file is not a store of studies; choose another with --store"),
        ("malformed", "the store is damaged; restore a copy, and keep this one for rescue"),
        ("connect", "the database server cannot be reached; check its address and that it runs"),
    ):
        if sign in low:
            return f"store {place}: {words}"
    return f"store {place}: {reason.splitlines()[0] if reason else 'failed'}; nothing was written"


def migrate(engine: sa.Engine) -> None:
    """Bring the tables up to date.

    Raises
    ------
    StoreError
        If a newer program wrote the store.
    """
    if _revision(engine) == HEAD:
        return
    from alembic import command
    from alembic.config import Config
    from alembic.util.exc import CommandError

    config = Config()
    config.set_main_option("script_location", "cakewright.storage.store:migrations")
    # Two servers started at once: the second waits for the lock and then finds nothing to do.
    with engine.connect().execution_options(writer=True) as connection, connection.begin():
        alone(connection)
        config.attributes["connection"] = connection
        try:
            command.upgrade(config, "head")
        except CommandError:
            raise StoreError(
                f"store {engine.url.database}: written by a newer program; allowed: format {HEAD} "
                "or older; update this program or choose another store"
            ) from None


def alone(connection: sa.Connection) -> None:
    """Wait until no other program is at this point; let go of with the transaction's end.

    A file is locked whole by every writer already; a server is told here.
    """
    if connection.dialect.name == "postgresql":
        connection.execute(sa.text("SELECT pg_advisory_xact_lock(:key)"), {"key": _LOCK})


_LOCK = int.from_bytes(b"cakewrig", "big") >> 1


def _revision(engine: sa.Engine) -> str:
    with engine.connect() as connection:
        if not sa.inspect(connection).has_table("alembic_version"):
            return ""
        found = connection.execute(sa.text("SELECT version_num FROM alembic_version")).scalar()
    return str(found or "")
