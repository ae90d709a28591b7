"""The command from outside, as a user runs it."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

OUTPUTS = {"report.html", "report.pdf", "workbook.xlsx", "findings.json"}


def run(*words: str, cwd: Path) -> subprocess.CompletedProcess[str]:
    """`cakewright WORDS` in a folder."""
    command = [sys.executable, "-m", "cakewright", *words]
    return subprocess.run(command, cwd=cwd, capture_output=True, text=True, encoding="utf-8")


def test_main_job_from_nothing(tmp_path: Path) -> None:
    """With no study the soy demonstration is evaluated, written and told in full."""
    done = run("evaluate", "--samples", "128", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    folder = tmp_path / "cakewright-out"
    assert {path.name for path in folder.iterdir()} >= OUTPUTS
    for words in ("multi-disc screw press", "shafts", "cake solids", "capture", "polymer"):
        assert words in done.stdout
    for words in ("wash water", "Rejected", "Ask or test next", "  3. ", "invented", "report.html"):
        assert words in done.stdout


def test_new_check_evaluate(tmp_path: Path) -> None:
    """A new study is sound as written, and evaluates."""
    assert run("new", "site.toml", cwd=tmp_path).returncode == 0
    done = run("check", "site.toml", cwd=tmp_path)
    assert done.returncode == 0
    assert "no faults" in done.stdout
    done = run("evaluate", "site.toml", "--samples", "0", "--out", "out", cwd=tmp_path)
    assert done.returncode == 0, done.stderr


def test_reservoir_is_not_a_case_for_the_multi_disc_press(tmp_path: Path) -> None:
    """The program says when the answer is another kind of machine, and why."""
    done = run("evaluate", "--demo", "reservoir", "--samples", "0", "--json", cwd=tmp_path)
    findings = json.loads(done.stdout)
    assert findings["decision"]["machine"] != "multi_disc_screw_press"
    option = next(o for o in findings["options"] if o["machine"] == "multi_disc_screw_press")
    assert option["answer"] == "does not suit"
    assert any("inorganic" in text for text in findings["decision"]["rejected"])


def test_faulty_study_is_refused_whole_and_results_survive(tmp_path: Path) -> None:
    """Every fault is told at once; earlier results stay as they were; nothing new is left."""
    (tmp_path / "bad.toml").write_text('cakewright = 1\n[[sludge]]\nflow = "48 m3"\n')
    out = tmp_path / "out"
    out.mkdir()
    (out / "report.html").write_text("earlier")
    done = run("evaluate", "bad.toml", "--out", "out", cwd=tmp_path)
    assert done.returncode == 1
    for words in ("title", "line 3: sludge.0.flow", "sludge.0.class", "total_solids"):
        assert words in done.stderr
    assert "Traceback" not in done.stderr
    assert [path.name for path in out.iterdir()] == ["report.html"]
    assert (out / "report.html").read_text() == "earlier"


@pytest.mark.parametrize(
    ("words", "code", "told"),
    [
        (("evaluate", "none.toml"), 1, "no such file"),
        (("check", "none.toml"), 1, "no such file"),
        (("evaluate", "x.toml", "--demo", "soy"), 2, "not both"),
        (("frobnicate",), 2, "No such command"),
        (("new", "exists.toml"), 3, "exists"),
    ],
)
def test_exit_codes(tmp_path: Path, words: tuple[str, ...], code: int, told: str) -> None:
    """Scripts can trust the exit code; people can read the message."""
    (tmp_path / "exists.toml").write_text("")
    done = run(*words, cwd=tmp_path)
    assert done.returncode == code
    assert told in done.stderr
    assert "Traceback" not in done.stderr


def test_unwritable_output_is_code_3(tmp_path: Path) -> None:
    """A file where the folder should be is an error of its own, and stays."""
    (tmp_path / "out").write_text("a file")
    done = run("evaluate", "--samples", "0", "--out", "out", cwd=tmp_path)
    assert done.returncode in (2, 3)
    assert "Traceback" not in done.stderr
    assert (tmp_path / "out").read_text() == "a file"


def test_impossible_duty_is_code_4(tmp_path: Path) -> None:
    """When nothing can carry the load the nearest answer names the cause and the way out, soon."""
    text = (
        'cakewright = 1\ntitle = "t"\n[[sludge]]\nname = "a"\nclass = "was"\n'
        'flow = "90000 m3/d"\ntotal_solids = "0.9 %"\n[duty]\nhours_per_day = "1 h"\n'
        "days_per_week = 1\n"
    )
    (tmp_path / "big.toml").write_text(text)
    done = run("evaluate", "big.toml", "--samples", "0", cwd=tmp_path)
    assert done.returncode == 4
    assert "No kind meets everything" in done.stdout
    assert "run longer hours" in " ".join(done.stdout.split())


def test_check_as_json(tmp_path: Path) -> None:
    """Faults as JSON carry line, place and what to try."""
    (tmp_path / "bad.toml").write_text('cakewright = 1\ntitel = "x"\n')
    done = run("check", "bad.toml", "--json", cwd=tmp_path)
    faults = json.loads(done.stdout)["faults"]
    assert done.returncode == 1
    assert {"line": 2, "where": "titel"}.items() <= faults[0].items()
