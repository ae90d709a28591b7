"""A named figure has one value per case, whatever document prints it."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from tests.journeys.documents import Read, disagreements, headline, sheet, stream_masses

CASES = [("soy", "si"), ("soy", "us"), ("valley", "si"), ("reservoir", "si")]


@pytest.fixture(scope="module", params=CASES, ids=lambda case: "-".join(case))
def evaluated(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> tuple[Path, str, str]:
    """Folder, terminal text and units of one evaluation made by the command."""
    demo, units = request.param
    folder = tmp_path_factory.mktemp(f"{demo}-{units}")
    command = ["evaluate", "--demo", demo, "--units", units, "--samples", "32", "--out", folder]
    done = subprocess.run(
        [sys.executable, "-m", "cakewright", *map(str, command)],
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=True,
        timeout=120,
    )
    return folder, done.stdout, units


def test_headline_is_one(evaluated: tuple[Path, str, str]) -> None:
    """Terminal, page, PDF and workbook give the same headline, to the digits each prints."""
    folder, terminal, _ = evaluated
    reads = list(headline(folder, terminal))
    documents = {read.document for read in reads}
    assert documents == {"terminal", "report.html", "report.pdf", "workbook.xlsx"}
    for document in documents:
        assert sum(r.document == document for r in reads) >= 8
    assert disagreements(iter(reads)) == []


def test_streams_are_one(evaluated: tuple[Path, str, str]) -> None:
    """Every stream has one number and one mass flow in data, pages, workbook and drawing."""
    folder, _, units = evaluated
    if units == "us":
        pytest.skip("masses are compared in the units they are stored in")
    documents = stream_masses(folder)
    exact = documents["findings.json line"]
    assert len(exact) > 8
    wrong = [
        f"stream {n}: {document} {value}, stored {exact[n][0]}"
        for document, masses in documents.items()
        for n, (value, half) in masses.items()
        if abs(value - exact[n][0]) > 1.02 * half + 1e-9 * exact[n][0]
    ]
    assert wrong == []
    assert all(len(masses) >= 0.8 * len(exact) for masses in documents.values())


def test_installed_power_is_one(evaluated: tuple[Path, str, str]) -> None:
    """The motor list adds up to the installed power that the utilities name."""
    folder, _, units = evaluated
    if units == "us":
        pytest.skip("powers are compared in kW")
    rows = [row for row in sheet(folder, "Motors") if row[0] and "-" in str(row[0])]
    installed = sum(float(row[8]) for row in rows)
    note = next(
        str(row[-1] or row[6]) for row in sheet(folder, "Utilities") if row[0] == "electricity"
    )
    assert f"installed {installed:.1f} kW" in note


def test_a_second_value_is_found() -> None:
    """The reader tells two values of one name; it would see a second truth."""
    one = Read("terminal", "cake solids", "%", 17.0, 0.05)
    other = Read("workbook.xlsx", "cake solids", "%", 17.2, 1e-9)
    assert len(disagreements(iter([one, other]))) == 1
    assert disagreements(iter([one, Read("report.html", "cake solids", "%", 17.02, 1e-9)])) == []
