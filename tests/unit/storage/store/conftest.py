"""Stores to test on: a file always, and a PostgreSQL server of the tests' own where there is one.

The server runs in a folder of its own on a socket of its own: no port, no password, and nothing
of a server that may already run on this machine is touched. CAKEWRIGHT_TEST_POSTGRESQL names an
empty database of another server instead.
"""

from __future__ import annotations

import getpass
import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
import sqlalchemy as sa

from cakewright.storage.store import StudyStore, open_store

_WHY_NOT = (
    "no PostgreSQL server program on this machine (initdb and pg_ctl, package `postgresql`): "
    "the store is tested on a file only"
)


def _programs() -> Path | None:
    """Folder of the newest server's programs."""
    onpath = shutil.which("initdb")
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda p: p.parts[-3])
    return Path(onpath).parent if onpath else found[-1].parent if found else None


def _as_user(words: list[str]) -> list[str]:
    """The server refuses to run as root: there it runs as the user its package made."""
    root = hasattr(os, "geteuid") and os.geteuid() == 0
    return ["runuser", "-u", "postgres", "--", *words] if root else words


def _run(*words: object) -> None:
    done = subprocess.run(
        _as_user([str(word) for word in words]), capture_output=True, text=True, cwd="/"
    )
    if done.returncode:
        pytest.fail(f"{words[0]}: {done.stdout}{done.stderr}")


@pytest.fixture(scope="session")
def server() -> Iterator[str]:
    """Address of a database of a running server, without its name's last part filled in."""
    pytest.importorskip("psycopg", reason="the `team` extra is not installed")
    given = os.environ.get("CAKEWRIGHT_TEST_POSTGRESQL")
    if given:
        yield given
        return
    programs = _programs()
    if programs is None:
        pytest.skip(_WHY_NOT)
    # Short: a socket's path may not be longer than about a hundred characters.
    folder = Path(tempfile.mkdtemp(prefix="pg"))
    root = hasattr(os, "geteuid") and os.geteuid() == 0
    user = "postgres" if root else getpass.getuser()
    if root:
        try:
            shutil.chown(folder, user)
        except LookupError:
            folder.rmdir()
            pytest.skip("a PostgreSQL server does not run as root, and there is no user postgres")
    data = folder / "data"
    try:
        _run(programs / "initdb", "-D", data, "-U", user, "-A", "trust", "-E", "UTF8", "-N")
        options = f"-c listen_addresses='' -k {folder} -c fsync=off -c max_connections=60"
        # A test that stands in its own way fails; it never hangs.
        options += " -c statement_timeout=20s -c idle_in_transaction_session_timeout=20s"
        log = folder / "log"
        _run(programs / "pg_ctl", "-D", data, "-w", "-t", 60, "-l", log, "-o", options, "start")
        try:
            yield f"postgresql+psycopg://{user}@/postgres?host={folder}"
        finally:
            _run(programs / "pg_ctl", "-D", data, "-m", "immediate", "stop")
    finally:
        shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture
def team(server: str) -> str:
    """Address of an empty PostgreSQL database."""
    engine = sa.create_engine(server)
    others = "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE pid <> pg_backend_pid()"
    with engine.begin() as link:
        link.execute(sa.text(f"{others} AND datname = current_database()"))
        link.execute(sa.text("DROP SCHEMA public CASCADE"))
        link.execute(sa.text("CREATE SCHEMA public"))
    engine.dispose()
    return server


@pytest.fixture(params=["sqlite", "postgresql"])
def address(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """Address of an empty store, once of each kind."""
    if request.param == "postgresql":
        return str(request.getfixturevalue("team"))
    return f"sqlite:///{tmp_path / 'sub' / 'studies.sqlite'}"


@pytest.fixture
def store(address: str) -> Iterator[StudyStore]:
    """An empty store, once of each kind."""
    made = open_store(address)
    yield made
    made.close()


@pytest.fixture
def file_store(tmp_path: Path) -> Iterator[StudyStore]:
    """An empty store in a file."""
    made = open_store(str(tmp_path / "sub" / "studies.sqlite"))
    yield made
    made.close()
