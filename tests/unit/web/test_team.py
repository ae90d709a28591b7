"""People of a team: what each role may do, and what is kept of it."""

from __future__ import annotations

from pathlib import Path

import pytest
from starlette.testclient import TestClient

from cakewright.storage.store import open_store
from cakewright.storage.store.people import Role, add_person, end_person, trail
from cakewright.web import Settings, create_app


@pytest.mark.parametrize(
    ("role", "looks", "edits", "removes"),
    [
        (Role.LOOK, 200, 403, 403),
        (Role.ENTER, 200, 200, 403),
        (Role.ADMINISTER, 200, 200, 200),
    ],
)
def test_each_role_may_do_its_part(
    tmp_path: Path, role: Role, looks: int, edits: int, removes: int
) -> None:
    """Look, enter, administer: refused in words beyond it; edits carry the person's name."""
    address = f"sqlite:///{tmp_path / 's.sqlite'}"
    store = open_store(address)
    study = store.create(b'cakewright = 1\ntitle = "t"\n').id
    token = add_person(store.engine, "Ada", role, 5)
    settings = Settings(store=address, host="0.0.0.0", token="server", press=False, apart=False)
    with TestClient(create_app(settings), base_url="http://192.0.2.7:8765") as client:
        assert client.get("/api/studies").status_code == 401
        assert client.get(f"/?token={token}", follow_redirects=False).status_code == 303
        session = client.get("/api/session").json()
        client.headers[session["header"]] = session["token"]
        assert client.get("/api/studies").status_code == looks
        body = {"base": 1, "edits": [{"place": "site", "typed": "works"}]}
        assert client.patch(f"/api/studies/{study}", json=body).status_code == edits
        assert client.delete(f"/api/studies/{study}").status_code == removes
        if edits == 200:
            assert client.get(f"/api/studies/{study}/history").json()[0]["author"] == "Ada"
        noted = [(act.who, act.act) for act in trail(store.engine) if act.study == study]
        assert noted == ([("Ada", "delete")] if removes == 200 else [])
        end_person(store.engine, "Ada")
    with TestClient(create_app(settings), base_url="http://192.0.2.7:8765") as client:
        client.headers["authorization"] = f"Bearer {token}"
        assert client.get("/api/studies").status_code == 401
    store.close()
