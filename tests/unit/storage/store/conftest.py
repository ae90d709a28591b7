"""Stores to test on: a file always, and a PostgreSQL server of the tests' own if there is one."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from tests.team_server import TeamServer, server

from cakewright.storage.store import StudyStore, open_store

__all__ = ["address", "file_store", "server", "store", "team"]


@pytest.fixture
def team(server: TeamServer) -> str:
    """Address of an empty PostgreSQL database."""
    return server.empty()


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
