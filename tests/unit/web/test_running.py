"""The running chapter's answers, without a browser."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from cakewright.storage.logs.kept import KeptLogs
from cakewright.storage.logs.looking import look_over

TEXT = "time,feed flow [m3/h],feed [%]\n2026-01-31 13:45,1.5,2\n2026-01-31 13:46,1.7,2\n"
FEED = {"title": "feed flow [m3/h]", "signal": "feed_flow", "unit": "m3/h"}


@pytest.fixture
def kept(client: TestClient, soy: dict[str, Any], tmp_path: Path) -> KeptLogs:
    """A log beside the soy study, looked at but without its map."""
    folder = client.app.state.desk.settings.log_folder  # type: ignore[attr-defined]
    found = KeptLogs(folder / soy["id"])
    path = found.place_for("press.csv")
    path.write_text(TEXT, encoding="utf-8")
    found.take_in(path, look_over(path, "site", tmp_path / "scratch"))
    return found


def _map(client: TestClient, study: str, **changed: object) -> Any:
    body = {"time": ["time"], "columns": [FEED], **changed}
    return client.put(f"/studies/{study}/running/logs/1/map", json=body)


@pytest.mark.parametrize(
    ("changed", "where"),
    [
        ({"columns": [FEED, {**FEED, "title": "feed [%]"}]}, "columns.feed_flow"),
        ({"columns": [{**FEED, "unit": "kPa"}]}, "columns.feed_flow.unit"),
        ({"columns": []}, "columns"),
        ({"time": []}, "time.title"),
        ({"zone": "Mars"}, "time_zone"),
        ({"columns": [{**FEED, "signal": "<script>"}]}, "columns.<script>"),
    ],
)
def test_map_faults_have_their_place(
    client: TestClient, soy: dict[str, Any], kept: KeptLogs, changed: dict[str, Any], where: str
) -> None:
    """A signal given twice, a wrong unit, no column, no time, no such zone, no such signal: each is
    told at its place and nothing is kept."""
    answer = _map(client, soy["id"], **changed)
    assert answer.status_code == 422
    assert where in [fault["where"] for fault in answer.json()["faults"]]
    assert kept.log(1).column_map is None


def test_study_with_faults_still_shows_its_logs(
    client: TestClient, soy: dict[str, Any], kept: KeptLogs
) -> None:
    """The page of a plant whose study has faults opens with its logs; the watch says in words why
    it cannot compare."""
    assert _map(client, soy["id"]).json() == {"ready": True}
    kept.store.mkdir()
    (kept.store / "mark.txt").write_text("old", encoding="utf-8")
    edit = {"place": "sludge.0.flow", "typed": "14 kg"}
    body = {"base": 1, "edits": [edit]}
    assert client.post(f"/studies/{soy['id']}/running/edit", json=body).status_code == 200
    page = client.get(f"/studies/{soy['id']}/running")
    assert page.status_code == 200
    assert "press.csv" in page.text
    answer = client.post(f"/studies/{soy['id']}/running/watch")
    assert answer.status_code == 422
    assert "mend its faults" in answer.json()["error"]


def test_site_text_is_checked_and_goes_back_to_the_study(
    client: TestClient, soy: dict[str, Any], kept: KeptLogs
) -> None:
    """A faulty site text is told with its faults and not kept; a good one is; an empty one brings
    back what the study promises."""
    address = f"/studies/{soy['id']}/running/site"
    drafted = client.get(address).json()
    assert "[promise]" in drafted["text"]
    assert drafted["own"] is False
    bad = client.put(address, json={"text": '[site]\nkey = "a"\n[promise]\ncapture = "9 kg"\n'})
    assert bad.status_code == 422
    assert bad.json()["faults"][0]["where"] == "promise.capture"
    good = '[site]\nkey = "a"\n[promise]\ncapture = "93 %"\n'
    assert client.put(address, json={"text": good}).json() == {"text": good, "own": True}
    assert client.put(address, json={"text": ""}).json() == drafted


def test_nothing_is_handed_out_before_it_is_worked_out(
    client: TestClient, soy: dict[str, Any]
) -> None:
    """Documents of a watch that never ran are refused in words; other names are not there."""
    answer = client.get(f"/studies/{soy['id']}/running/files/operator.pdf")
    assert answer.status_code == 422
    assert "read the logs first" in answer.json()["error"]
    assert client.get(f"/studies/{soy['id']}/running/files/..%2Fsite.toml").status_code == 404
    assert client.get(f"/studies/{soy['id']}/running/files/secret.txt").status_code == 404


def test_only_logs_may_be_large(client: TestClient, soy: dict[str, Any]) -> None:
    """Ten megabytes are refused everywhere but where logs are brought."""
    data = b"x" * 10_000_000
    refused = client.post(f"/studies/{soy['id']}/bench/upload?name=a.csv", content=data)
    assert refused.status_code == 413
    answer = client.post(f"/studies/{soy['id']}/running/logs?name=notes.docx", content=data)
    assert answer.status_code == 422
    assert "logs are read from" in answer.json()["error"]
