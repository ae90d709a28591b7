"""The API against whatever its own description allows, and much that it does not."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import schemathesis
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from schemathesis.core.result import Ok
from starlette.testclient import TestClient

from cakewright.web import Settings, create_app

# More cases by setting; the few here keep the tests quick.
CASES = int(os.environ.get("CAKEWRIGHT_FUZZ", "6"))


def test_no_call_fails_on_the_server(tmp_path: Path) -> None:
    """No call, made up from the server's own description, ends in a server error, on a study that
    is there as much as on one that is not."""
    store = f"sqlite:///{tmp_path / 'studies.sqlite'}"
    app = create_app(Settings(store=store, most_samples=8, press=False, apart=False))
    client = TestClient(app, base_url="http://127.0.0.1")
    session = client.get("/api/session").json()
    headers = {session["header"]: session["token"], "host": "127.0.0.1"}
    study = client.post("/api/studies", json={"demo": "soy"}, headers=headers).json()["id"]
    headers["cookie"] = f"cakewright_visitor={client.cookies['cakewright_visitor']}"
    described = schemathesis.openapi.from_asgi("/api/openapi.json", app, headers=headers)
    calls: list[tuple[str, int]] = []
    for operation in described.get_all_operations():
        assert isinstance(operation, Ok)
        _fuzz(operation.ok(), study, headers, calls)
    assert [call for call in calls if call[1] >= 500] == []
    assert {call[1] // 100 for call in calls} >= {2, 4}
    assert len({call[0] for call in calls}) >= 15


def _fuzz(
    operation: Any, study: str, headers: dict[str, str], calls: list[tuple[str, int]]
) -> None:
    @given(case=operation.as_strategy(), known=st.booleans())
    @settings(
        max_examples=CASES,
        deadline=None,
        suppress_health_check=list(HealthCheck),
        derandomize=True,
        database=None,
    )
    def run(case: Any, known: bool) -> None:
        if known and "study" in (case.path_parameters or {}):
            case.path_parameters["study"] = study
        calls.append((operation.label, case.call(headers=headers).status_code))

    run()
