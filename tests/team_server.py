"""A PostgreSQL server of the tests' own where there is one, to be stopped and started again.

It runs in a folder of its own on a socket of its own: no port, no password, and nothing of a
server that may already run on this machine is touched. CAKEWRIGHT_TEST_POSTGRESQL names an empty
database of another server instead, which is never stopped.
"""

from __future__ import annotations

import getpass
import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
import sqlalchemy as sa

_WHY_NOT = (
    "no PostgreSQL server program on this machine (initdb and pg_ctl, package `postgresql`): "
    "studies are kept in a file only"
)


@dataclass(frozen=True)
class TeamServer:
    """A running server: the address of its database, and the way to its programs."""

    address: str
    programs: Path | None = None
    folder: Path = Path()

    def stop(self) -> None:
        """Stop it as a power cut would."""
        if self.programs is None:
            pytest.skip("the server given is not the tests' own, so it is not stopped")
        _run(self.programs / "pg_ctl", "-D", self.folder / "data", "-m", "immediate", "stop")

    def start(self) -> None:
        """Start it, and wait until it answers."""
        options = f"-c listen_addresses='' -k {self.folder} -c fsync=off -c max_connections=60"
        # A test that stands in its own way fails; it never hangs.
        options += " -c statement_timeout=20s -c idle_in_transaction_session_timeout=20s"
        where = ("-D", self.folder / "data", "-l", self.folder / "log", "-o", options)
        _run(Path(self.programs or "") / "pg_ctl", *where, "-w", "-t", 60, "start")

    def tell(self, *statements: str) -> None:
        """Run statements on its database, each by itself."""
        allowed = {"options": "-c default_transaction_read_only=off"}
        engine = sa.create_engine(self.address, isolation_level="AUTOCOMMIT", connect_args=allowed)
        with engine.connect() as link:
            for each in statements:
                link.execute(sa.text(each))
        engine.dispose()

    def empty(self) -> str:
        """Address of the database, emptied."""
        others = "SELECT pg_terminate_backend(pid) FROM pg_stat_activity "
        others += "WHERE pid <> pg_backend_pid() AND datname = current_database()"
        self.tell(others, "DROP SCHEMA public CASCADE", "CREATE SCHEMA public")
        return self.address


def _programs() -> Path | None:
    """Folder of the newest server's programs."""
    onpath = shutil.which("initdb")
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda p: p.parts[-3])
    return Path(onpath).parent if onpath else found[-1].parent if found else None


def _run(*words: object) -> None:
    # The server refuses to run as root: there it runs as the user its package made.
    root = hasattr(os, "geteuid") and os.geteuid() == 0
    user = "postgres" if root else None
    done = subprocess.run(
        [str(word) for word in words],
        capture_output=True,
        text=True,
        cwd="/",
        user=user,
        group=user,
        extra_groups=[] if root else None,
    )
    if done.returncode:
        pytest.fail(f"{words[0]}: {done.stdout}{done.stderr}")


@pytest.fixture(scope="session")
def server() -> Iterator[TeamServer]:
    """A running server."""
    pytest.importorskip("psycopg", reason="the `team` extra is not installed")
    given = os.environ.get("CAKEWRIGHT_TEST_POSTGRESQL")
    if given:
        yield TeamServer(given)
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
    made = TeamServer(f"postgresql+psycopg://{user}@/postgres?host={folder}", programs, folder)
    try:
        data = folder / "data"
        _run(programs / "initdb", "-D", data, "-U", user, "-A", "trust", "-E", "UTF8", "-N")
        made.start()
        try:
            yield made
        finally:
            made.stop()
    finally:
        shutil.rmtree(folder, ignore_errors=True)
