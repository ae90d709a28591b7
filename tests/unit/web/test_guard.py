"""The door of the workbench."""

from __future__ import annotations

from typing import Any

import pytest
from starlette.testclient import TestClient

from cakewright.web.settings import is_loopback


def _edit(base: int = 1) -> dict[str, Any]:
    return {"base": base, "edits": [{"place": "title", "typed": "x"}]}


@pytest.mark.parametrize(
    "host",
    ["evil.example", "127.0.0.1.evil.example", "192.0.2.7", "", "localhost.evil:8765", "[", "[::1"],
)
def test_other_host_names_are_refused(client: TestClient, host: str) -> None:
    """A name bent to point at this machine gets no page: the browser of a visitor of another
    site cannot be made to read studies."""
    answer = client.get("/", headers={"host": host})
    assert answer.status_code == 400
    assert "does not answer to the name" in answer.text


@pytest.mark.parametrize("host", ["127.0.0.1:8765", "localhost:8765", "[::1]:8765"])
def test_own_names_are_answered(client: TestClient, host: str) -> None:
    """The loopback names are ours."""
    assert client.get("/", headers={"host": host}).status_code == 200


@pytest.mark.parametrize(
    "headers",
    [
        {"x-cakewright-token": ""},
        {"x-cakewright-token": "0" * 64},
        {"origin": "http://evil.example"},
        {"origin": "null"},
        {"origin": "http://["},
        {"origin": "http://127.0.0.1:9999"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
    ],
)
def test_changes_asked_for_by_other_pages_are_refused(
    client: TestClient, soy: dict[str, Any], headers: dict[str, str]
) -> None:
    """Without the token of a page of ours, or from another origin, nothing is changed."""
    answer = client.patch(f"/api/studies/{soy['id']}", json=_edit(), headers=headers)
    assert answer.status_code == 403
    assert answer.json()["error"]
    assert client.get(f"/api/studies/{soy['id']}").json()["version"] == 1


def test_another_visitors_token_does_not_serve(client: TestClient, soy: dict[str, Any]) -> None:
    """A token belongs to one visitor's cookie."""
    cookie = {"cookie": "cakewright_visitor=" + "a" * 32}
    answer = client.patch(f"/api/studies/{soy['id']}", json=_edit(), headers=cookie)
    assert answer.status_code == 403


def test_own_page_may_change(client: TestClient, soy: dict[str, Any]) -> None:
    """With token and our own origin the change is made."""
    headers = {"origin": "http://127.0.0.1:8765", "sec-fetch-site": "same-origin"}
    answer = client.patch(f"/api/studies/{soy['id']}", json=_edit(), headers=headers)
    assert answer.status_code == 200


def test_policy_lets_nothing_in_from_elsewhere(client: TestClient, soy: dict[str, Any]) -> None:
    """Every page forbids inline script and style, frames and all other addresses; no page
    carries any."""
    for path in ("/", f"/studies/{soy['id']}/line", f"/studies/{soy['id']}/text", "/nowhere"):
        answer = client.get(path, headers={"accept": "text/html"})
        policy = answer.headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "unsafe" not in policy
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert answer.headers["cache-control"] == "no-store"
        for inline in (" style=", "<style", "onclick=", "javascript:", "<script>"):
            assert inline not in answer.text
        assert "http://" not in answer.text.replace("http://www.w3.org", "")


def test_too_much_is_refused(client: TestClient) -> None:
    """A flood is refused by its announced size, and by what really comes when none is told."""

    def flood() -> Any:
        for _ in range(20):
            yield b"x" * 1_000_000

    assert client.post("/api/check", content=b"x" * 12_000_000).status_code == 413
    assert client.post("/api/check", content=flood()).status_code == 413


def test_ten_megabytes_in_a_field_are_refused_in_words(
    client: TestClient, soy: dict[str, Any]
) -> None:
    """A huge paste into one field is refused with what fits; the study stays as it was."""
    for size, status in ((9_000_000, 422), (10_000_000, 413)):
        edit = {"base": 1, "edits": [{"place": "note", "typed": "x" * size}]}
        answer = client.patch(f"/api/studies/{soy['id']}", json=edit)
        assert answer.status_code == status
        assert "at most" in answer.json()["error"] or "more than" in answer.json()["error"]
    assert client.get(f"/api/studies/{soy['id']}").json()["version"] == 1


def test_strangers_need_the_token(strangers: TestClient) -> None:
    """On an address others can reach every path asks for the token; the printed address or a
    bearer header gives it, and the cookie then carries it on."""
    for path in ("/", "/api/studies", "/static/book.css", "/api/openapi.json"):
        assert strangers.get(path).status_code == 401
    assert strangers.get("/?token=wrong").status_code == 401
    bearer = {"authorization": "Bearer let-me-in"}
    assert strangers.get("/api/studies", headers=bearer).status_code == 200
    entered = strangers.get("/?token=let-me-in", follow_redirects=False)
    assert entered.status_code == 303
    assert "let-me-in" not in entered.headers["set-cookie"] + entered.headers["location"]
    assert "HttpOnly; SameSite=Strict" in entered.headers["set-cookie"]
    assert strangers.get("/").status_code == 200


def test_token_redirect_stays_here(strangers: TestClient) -> None:
    """The redirect after the token never leads to another site."""
    answer = strangers.get("//evil.example/?token=let-me-in", follow_redirects=False)
    assert not answer.headers.get("location", "/").startswith("//")


@pytest.mark.parametrize(
    ("host", "expected"),
    [("127.0.0.1", True), ("localhost", True), ("::1", True), ("0.0.0.0", False),
     ("192.168.1.4", False), ("example.org", False)],
)  # fmt: skip
def test_what_only_this_machine_can_reach(host: str, expected: bool) -> None:
    """Loopback is told from all other addresses."""
    assert is_loopback(host) is expected


@pytest.mark.parametrize(
    "path",
    ["/static/../app.py", "/static/%2e%2e%2fapp.py", "/static/..%5capp.py", "/static/__init__.py"],
)
def test_no_path_leads_out_of_the_static_files(client: TestClient, path: str) -> None:
    """Only the style and script made for browsers are handed out."""
    assert client.get(path).status_code == 404


@pytest.mark.parametrize("path", ["/%5Cevil.example/", "/%2F%2Fevil.example/", "//evil.example/"])
def test_the_token_leads_to_no_other_host(strangers: TestClient, path: str) -> None:
    """Whatever the path, the redirect that takes the token away stays on this server."""
    answer = strangers.get(f"{path}?token=let-me-in", follow_redirects=False)
    assert answer.status_code in (303, 404)
    place = answer.headers.get("location", "/")
    assert place.startswith("/")
    assert not place.startswith(("//", "/\\"))
    assert "\\" not in place
