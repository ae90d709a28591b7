"""The API made up from its own contract while disk and evaluation are slow on purpose."""

from __future__ import annotations

import os
import random
import time
from pathlib import Path
from typing import Any

import pytest
import schemathesis
from hypothesis import HealthCheck, given, seed, settings
from hypothesis import strategies as st
from schemathesis.core.result import Ok
from starlette.testclient import TestClient
from tests.siege.conftest import Tally

from cakewright.web import Settings, create_app

pytestmark = pytest.mark.siege


def test_the_api_under_slowness(
    tally: Tally, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No call that the contract allows, and few that it does not, ends in a fault of the server."""
    app = create_app(
        Settings(store=f"sqlite:///{tmp_path / 's'}", most_samples=8, press=False, apart=False)
    )
    client, dice = TestClient(app, base_url="http://127.0.0.1"), random.Random(1)
    session = client.get("/api/session").json()
    headers = {session["header"]: session["token"], "host": "127.0.0.1"}
    study = client.post("/api/studies", json={"demo": "soy"}, headers=headers).json()["id"]
    headers["cookie"] = f"cakewright_visitor={client.cookies['cakewright_visitor']}"
    synced = os.fsync

    def slowly(file: Any) -> None:
        time.sleep(dice.choice((0.0, 0.0, 0.05, 0.3)))
        synced(file)

    monkeypatch.setattr(os, "fsync", slowly)
    described = schemathesis.openapi.from_asgi("/api/openapi.json", app, headers=headers)
    found = [each.ok() for each in described.get_all_operations() if isinstance(each, Ok)]
    for number in tally.until():
        _calls(found[number % len(found)], number, study, headers, tally)
    assert "faults of the server" not in tally.counts["API"]


def _calls(operation: Any, number: int, study: str, headers: dict[str, str], tally: Tally) -> None:
    @seed(number)
    @given(case=operation.as_strategy(), known=st.booleans())
    @settings(max_examples=5, deadline=None, suppress_health_check=list(HealthCheck), database=None)
    def run(case: Any, known: bool) -> None:
        if known and "study" in (case.path_parameters or {}):
            case.path_parameters["study"] = study
        status = case.call(headers=headers, timeout=300).status_code
        tally.add("API", f"{status // 100}00")
        if status >= 500:
            tally.add("API", "faults of the server")

    run()
