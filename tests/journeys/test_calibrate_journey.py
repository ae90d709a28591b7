"""From outside: runs in, parameters out, and the next study starts from them."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

PILOT = Path(__file__).parents[2] / "examples" / "pilot"


def run(*arguments: object) -> subprocess.CompletedProcess[str]:
    """The command, as a user calls it."""
    command = [sys.executable, "-m", "cakewright", *(str(a) for a in arguments)]
    return subprocess.run(command, capture_output=True, text=True, check=False)


@pytest.mark.slow
def test_trial_to_next_study(tmp_path: Path) -> None:
    """Calibrate on two runs, name the file in the study, and the press rests on trial runs."""
    for name in ("study.toml", "sludge-law.toml"):
        shutil.copy(PILOT / name, tmp_path / name)
    rows = (PILOT / "runs.csv").read_text(encoding="utf-8").splitlines()
    (tmp_path / "runs.csv").write_text("\n".join(rows[:4]) + "\n", encoding="utf-8")
    out = tmp_path / "out"
    done = run("calibrate", tmp_path / "study.toml", tmp_path / "runs.csv", "--out", out)
    assert done.returncode == 0, done.stderr
    assert "Run next" in done.stdout
    assert "The runs are invented." in done.stdout
    data = json.loads((out / "calibration.json").read_text(encoding="utf-8"))
    assert data["runs"] == 2
    (tmp_path / "more.csv").write_text("\n".join([*rows[:2], *rows[4:6]]) + "\n", encoding="utf-8")
    earlier = ("--prior", out / "press-parameters.toml")
    done = run(
        "calibrate", tmp_path / "study.toml", tmp_path / "more.csv", *earlier, "--out", out / "more"
    )
    assert done.returncode == 0, done.stderr
    assert "2 runs after 2 earlier ones" in done.stdout
    shutil.copy(out / "more" / "press-parameters.toml", tmp_path / "press-parameters.toml")
    study = tmp_path / "study.toml"
    named = study.read_text(encoding="utf-8") + '\n[press]\nparameters = "press-parameters.toml"\n'
    study.write_text(named + "\n[sampling]\nsamples = 64\n", encoding="utf-8")
    done = run("evaluate", study, "--out", tmp_path / "e", "--json")
    assert done.returncode == 0, done.stderr
    press = json.loads(done.stdout)["press"]
    assert press["parameters"].startswith("4 trial runs on frame disc 200 x 1")
    assert press["parameters"].endswith("invented")


def test_bad_sheet_exits_with_every_fault(tmp_path: Path) -> None:
    """Faults of the sheet end with exit code 1 and one line each."""
    for name in ("study.toml", "sludge-law.toml"):
        shutil.copy(PILOT / name, tmp_path / name)
    sheet = tmp_path / "runs.csv"
    sheet.write_text("run,speed [kg],dose [kg/t]\nA,3,11\n", encoding="utf-8")
    done = run("calibrate", tmp_path / "study.toml", sheet, "--out", tmp_path / "out")
    assert done.returncode == 1
    assert "unit 'kg'" in done.stderr
    assert "'feed TS'" in done.stderr
    assert "evaluating" not in done.stderr  # Not after seconds of work, where a law is given.
    assert not (tmp_path / "out").exists()


def test_a_prior_of_another_kind_is_refused(tmp_path: Path) -> None:
    """What cannot be the prior says why, before anything is worked out or written."""
    study, sheet = PILOT / "study.toml", PILOT / "runs.csv"
    done = run("calibrate", study, sheet, "--prior", study, "--out", tmp_path / "out")
    assert done.returncode == 1
    assert "name a file that calibrate wrote" in done.stderr
    assert "looking for" not in done.stderr
    assert not (tmp_path / "out").exists()


def test_template_prints_a_sheet() -> None:
    """--template prints a head row with units."""
    done = run("calibrate", "--template")
    assert done.returncode == 0
    assert "back pressure [kPa]" in done.stdout
