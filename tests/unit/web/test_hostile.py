"""Hostile and broken input over the wire: refused in words, nothing lost, nothing let out."""

from __future__ import annotations

import io
import zipfile
from typing import Any

import pytest
from starlette.testclient import TestClient

from cakewright.errors import StoreError
from cakewright.storage.store import StudyStore
from cakewright.storage.studies import demo_text


def test_more_rows_than_are_taken(client: TestClient, soy: dict[str, Any]) -> None:
    """A paste of too many rows is refused with the number that is taken."""
    body = {"text": "1\t2\n" * 25_000}
    answer = client.post(f"/studies/{soy['id']}/bench/paste", json=body)
    assert answer.status_code == 422
    assert "got 25000 rows; at most 20000" in answer.json()["error"]


def test_workbook_that_unpacks_to_far_too_much(client: TestClient, soy: dict[str, Any]) -> None:
    """A small upload that unpacks to a huge one is refused before it is unpacked."""
    data = io.BytesIO()
    with zipfile.ZipFile(data, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("[Content_Types].xml", "")
        archive.writestr("xl/worksheets/sheet1.xml", b"\0" * 70_000_000)
    path = f"/studies/{soy['id']}/bench/upload?name=bomb.xlsx"
    answer = client.post(path, content=data.getvalue())
    assert answer.status_code == 422
    assert "unpacks to 70 MB" in answer.json()["error"]


@pytest.mark.parametrize(
    "text",
    [
        "a,b\n1,2\n",
        "",
        "\n\n",
        "test",
        "\0",
        "=cmd()",
        "<b>",
        "\u202e\ufeff",
        "test,x\nreadings",
        ",",
    ],
)
def test_pasted_rubbish_is_no_server_error(
    client: TestClient, soy: dict[str, Any], text: str
) -> None:
    """Cells that are no bench readings are refused with what was got, and the study stands."""
    answer = client.post(f"/studies/{soy['id']}/bench/paste", json={"text": text})
    assert answer.status_code == 422
    assert answer.json()["error"]
    assert client.get(f"/api/studies/{soy['id']}").json()["version"] == 1


@pytest.mark.parametrize("name", ["../../evil.csv", "/etc/passwd", "a\\b.csv", "..", "x.exe"])
def test_upload_names_cannot_lead_elsewhere(
    client: TestClient, soy: dict[str, Any], name: str
) -> None:
    """Whatever an upload is called, what is kept has a plain name of our own or nothing is kept."""
    path = f"/studies/{soy['id']}/bench/upload"
    answer = client.post(path, params={"name": name}, content=b"a,b\n1,2\n")
    assert answer.status_code in (200, 422)
    text = client.get(f"/studies/{soy['id']}/text").text
    assert "evil.csv" not in text.replace("&#39;", "")


@pytest.mark.parametrize(
    ("table", "key"), [("machines", "catalogue"), ("bench", "law"), ("press", "parameters")]
)
@pytest.mark.parametrize("path", ["../../../../etc/passwd", "/etc/passwd"])
def test_files_a_study_names_lie_beside_it(
    client: TestClient, table: str, key: str, path: str
) -> None:
    """A study cannot make the server read a file elsewhere; it is told so and shows none of it."""
    text = demo_text("reservoir") + f'\n[{table}]\n{key} = "{path}"\n'
    made = client.post("/api/studies", json={"text": text})
    answer = client.get(f"/api/studies/{made.json()['id']}/findings")
    assert answer.status_code == 422
    assert "root:" not in answer.text
    assert "folder" in answer.json()["error"] or "plain" in answer.text


@pytest.mark.parametrize(
    "name", ["..%2f..%2fetc%2fpasswd", "study.toml%00.html", "law.toml", "%2e%2e"]
)
def test_documents_have_names_of_our_own(
    client: TestClient, reservoir: dict[str, Any], name: str
) -> None:
    """Only the documents there are can be had, whatever name is asked for."""
    assert client.get(f"/studies/{reservoir['id']}/files/{name}").status_code == 404


@pytest.mark.parametrize(
    ("words", "status", "again"),
    [
        ("store x: another program holds the store; try again", 503, "2"),
        ("store x: the disk is full; make room and try again", 507, None),
    ],
)
def test_store_that_fails_is_said_and_tried_again(
    client: TestClient,
    soy: dict[str, Any],
    monkeypatch: pytest.MonkeyPatch,
    words: str,
    status: int,
    again: str | None,
) -> None:
    """An edit the store cannot take is answered in words; for a busy store with when to ask
    again. The same edit is taken once the store is back."""

    def fails(*_: Any, **__: Any) -> Any:
        raise StoreError(words)

    body = {"base": 1, "edits": [{"place": "title", "typed": "kept"}]}
    with monkeypatch.context() as broken:
        broken.setattr(StudyStore, "edit", fails)
        answer = client.post(f"/studies/{soy['id']}/cost/edit", json=body)
    assert answer.status_code == status
    assert answer.json()["error"] == words
    assert answer.headers.get("retry-after") == again
    assert client.post(f"/studies/{soy['id']}/cost/edit", json=body).json()["title"] == "kept"


@pytest.mark.parametrize(
    "typed",
    [
        "8 m0", "8 h0", "8 ft0", "8 m⁰", "5 9**9**9 m3/d", "5 " + "*".join(["m"] * 1000), "1e-320",
        "1" * 3000, "8 m-0.0",
    ],
)  # fmt: skip
def test_what_is_typed_into_a_field_stops_no_page(
    client: TestClient, reservoir: dict[str, Any], typed: str
) -> None:
    """The edit is kept as typed; each page of the study answers at once with the fault in words."""
    import time

    study, start = reservoir["id"], time.monotonic()
    edits = [{"place": "outlet.skip_volume", "typed": typed}]
    answer = client.patch(f"/api/studies/{study}", json={"base": 1, "edits": edits})
    assert answer.status_code == 200
    assert [fault["where"] for fault in answer.json()["faults"]] == ["outlet.skip_volume"]
    for page in ("sludge", "line", "text", "history"):
        assert client.get(f"/studies/{study}/{page}").status_code == 200
    assert time.monotonic() - start < 10


@pytest.mark.parametrize("text", ["a=" + "[" * 3000, "a=" + "{a=" * 3000, "a=" + "9" * 5000])
def test_deep_texts_are_refused_in_words(client: TestClient, text: str) -> None:
    """Tables in tables in tables and endless numbers are faults of the text."""
    answer = client.post("/api/check", json={"text": text})
    assert answer.status_code == 200
    assert answer.json()["faults"][0]["where"] == "the file"


def test_what_nobody_foresaw_is_an_answer_with_an_id(
    client: TestClient, soy: dict[str, Any], monkeypatch: pytest.MonkeyPatch, tmp_path: Any
) -> None:
    """A bug becomes words with an id, and a report that quotes nothing of the study."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    monkeypatch.setenv("LOCALAPPDATA", str(tmp_path))

    def broken(*_: object) -> None:
        raise KeyError("secret recipe")

    monkeypatch.setattr(StudyStore, "get", broken)
    answer = client.get(f"/api/studies/{soy['id']}")
    assert answer.status_code == 500
    assert "bug " in answer.json()["error"]
    for report in tmp_path.rglob("*.txt"):
        assert "secret" not in report.read_text(encoding="utf-8")
