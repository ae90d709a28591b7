"""The tuning runs' answers, without a browser."""

from __future__ import annotations

from typing import Any

import pytest
from starlette.testclient import TestClient

from cakewright.storage.logs.kept_tuning import sheet_rows

GIVEN = {
    "settings": [
        {"key": "screw_speed", "tried": True, "low": "0.7 1/min", "high": "2 1/min"},
        {"key": "polymer_dose", "tried": False},
    ],
    "centres": 3,
}


@pytest.fixture
def base(soy: dict[str, Any]) -> str:
    """Address of the tuning runs of a fresh study."""
    return f"/studies/{soy['id']}/running/tuning"


def _mark(client: TestClient, base: str) -> str:
    page = str(client.get(base).text)
    return page.partition('data-mark="')[2].partition('"')[0]


def test_runs_of_two_windows_are_not_mixed(client: TestClient, base: str) -> None:
    """A sheet filled in on an older one is refused with words and the newer one stays; the same
    cells sent twice, their confirmation lost, are no conflict."""
    assert client.post(f"{base}/plan", json=GIVEN).json() == {"runs": 4 + 3}
    old = _mark(client, base)
    sheet = client.get(f"{base}/runs.csv").text
    first = {"text": sheet.replace("centre;", "centre;first", 1), "base": old}
    assert client.put(f"{base}/sheet", json=first).status_code == 200
    again = client.put(f"{base}/sheet", json=first)
    assert again.status_code == 200
    second = {"text": sheet.replace("centre;", "centre;second", 1), "base": old}
    refused = client.put(f"{base}/sheet", json=second)
    assert refused.status_code == 409
    assert "another window" in refused.json()["error"]
    assert "first" in client.get(f"{base}/runs.csv").text


def test_no_cell_becomes_a_formula(client: TestClient, base: str) -> None:
    """A note that a spreadsheet would run is handed out as text; numbers stay numbers; on the page
    nothing typed becomes part of it."""
    client.post(f"{base}/plan", json=GIVEN)
    rows = sheet_rows(client.get(f"{base}/runs.csv").text)
    rows[1][-1], rows[2][-1], rows[3][-1] = "=1+1", "-0.5", "<script>alert(1)</script>"
    text = "\n".join(";".join(row) for row in rows)
    body = {"text": text, "base": _mark(client, base)}
    assert client.put(f"{base}/sheet", json=body).status_code == 200
    handed = sheet_rows(client.get(f"{base}/runs.csv").text)
    assert [row[-1] for row in handed[1:3]] == ["'=1+1", "-0.5"]
    assert "<script>alert" not in client.get(base).text


def test_a_study_with_faults_still_plans(
    client: TestClient, soy: dict[str, Any], base: str
) -> None:
    """Runs can be planned while the study has faults; judging them says what is missing."""
    edit = {"place": "sludge.0.flow", "typed": "14 kg"}
    client.post(f"/studies/{soy['id']}/running/edit", json={"base": 1, "edits": [edit]})
    assert client.post(f"{base}/plan", json=GIVEN).status_code == 200
    assert client.get(base).status_code == 200
    answer = client.post(f"{base}/shown")
    assert answer.status_code == 422
    assert "mend its faults" in answer.json()["error"]


def test_nothing_is_judged_before_it_is_planned(client: TestClient, base: str) -> None:
    """Judging, the sheet and the report without runs: each says what to do first."""
    for answer in (
        client.post(f"{base}/shown"),
        client.get(f"{base}/runs.csv"),
        client.get(f"{base}/files/tuning.pdf"),
    ):
        assert answer.status_code == 422
        assert "first" in answer.json()["error"]
    assert client.get(f"{base}/files/other.pdf").status_code == 404
