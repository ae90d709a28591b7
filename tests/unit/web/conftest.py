"""A workbench without a network: the application called directly."""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from cakewright.web import Settings, create_app

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    from starlette.testclient import TestClient


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """A visitor of the workbench with the token its pages carry."""
    store = tmp_path_factory.mktemp("web") / "studies.sqlite"
    app = create_app(
        Settings(store=f"sqlite:///{store}", most_samples=24, press=False, apart=False)
    )
    with TestClient(app, base_url="http://127.0.0.1:8765") as made:
        session = made.get("/api/session").json()
        made.headers[session["header"]] = session["token"]
        yield made


@pytest.fixture
def soy(client: TestClient) -> dict[str, Any]:
    """A fresh copy of the soy demonstration."""
    made = client.post("/api/studies", json={"demo": "soy"})
    assert made.status_code == 201
    return dict(made.json())


@pytest.fixture
def reservoir(client: TestClient) -> dict[str, Any]:
    """A fresh copy of the demonstration whose answer is no screw press (quick to evaluate)."""
    return dict(client.post("/api/studies", json={"demo": "reservoir"}).json())


@pytest.fixture
def strangers(tmp_path: Path) -> Iterator[TestClient]:
    """Somebody at a server that other machines can reach, without its token."""
    settings = Settings(
        store=f"sqlite:///{tmp_path / 'team.sqlite'}",
        host="0.0.0.0",
        token="let-me-in",
        apart=False,
    )
    with TestClient(create_app(settings), base_url="http://192.0.2.7:8765") as made:
        yield made
