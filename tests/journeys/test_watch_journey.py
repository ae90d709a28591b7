"""From invented logs to reports through the commands, as a user would."""

from __future__ import annotations

import json
import runpy
import sys
from collections.abc import Sequence
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from cakewright.cli.commission import command as commission
from cakewright.cli.learn import command as learn
from cakewright.cli.watch import command as watch

EXAMPLE = Path(__file__).parents[2] / "examples" / "running"


def _call(command: object, arguments: Sequence[object]) -> Result:
    return CliRunner().invoke(command, [str(a) for a in arguments], catch_exceptions=False)  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def logs(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The example's logs, made once."""
    folder = tmp_path_factory.mktemp("logs")
    old, sys.argv = sys.argv, ["make_logs.py", str(folder)]
    try:
        runpy.run_path(str(EXAMPLE / "make_logs.py"), run_name="__main__")
    finally:
        sys.argv = old
    return folder


@pytest.fixture(scope="module")
def watched(logs: Path) -> tuple[Path, Result]:
    """The watch of those logs, run once."""
    out = logs / "out"
    result = _call(watch, [
        logs / "minutes.csv", logs / "laboratory.xlsx", "--map", EXAMPLE / "minutes.toml",
        "--map", EXAMPLE / "laboratory.toml", "--site", EXAMPLE / "site.toml", "--out", out,
    ])  # fmt: skip
    return out, result


def test_watch_names_the_hidden_fault_and_its_day(watched: tuple[Path, Result]) -> None:
    """The example hides weak polymer from 22 March on; the watch says so in plain words."""
    _, result = watched
    assert result.exit_code == 0
    assert "polymer solution" in result.output
    assert "22 March 2024" in result.output
    assert "check:" in result.output or "decide:" in result.output


def test_watch_writes_both_reports(watched: tuple[Path, Result]) -> None:
    """Operator's page (one page) and engineer's report, as HTML and PDF, and JSON."""
    from pypdf import PdfReader

    out, _ = watched
    operator = PdfReader(out / "operator.pdf")
    engineer = PdfReader(out / "engineer.pdf")
    page = (out / "operator.html").read_text(encoding="utf-8")
    found = json.loads((out / "watch.json").read_text(encoding="utf-8"))
    assert len(operator.pages) == 1
    assert len(engineer.pages) >= 4
    assert "First move, safe for all of these" in page
    assert "Not to be trusted now" not in page
    assert "invented" in page
    assert "slippery" in page
    assert found["drifts"][-1]["causes"][0]["key"] == "polymer_aged"
    assert "http" not in page.replace("http://www.w3.org", "")


def test_watch_again_from_the_store(watched: tuple[Path, Result]) -> None:
    """A second report from the store needs no logs and says the same."""
    out, first = watched
    result = _call(watch, [
        "--site", EXAMPLE / "site.toml", "--store", out / "store", "--out", out / "again", "--json",
    ])  # fmt: skip
    assert result.exit_code == 0
    again = json.loads(result.stdout)
    before = json.loads((out / "watch.json").read_text(encoding="utf-8"))
    assert again == before
    assert first.exit_code == 0


def test_draft_map_of_a_foreign_log(logs: Path, tmp_path: Path) -> None:
    """A first map is written, says what it left out, and is never overwritten."""
    target = tmp_path / "map.toml"
    result = _call(watch, [logs / "laboratory.xlsx", "--draft-map", target])
    assert result.exit_code == 0
    assert target.exists()
    with pytest.raises(Exception, match="never overwritten"):
        _call(watch, [logs / "laboratory.xlsx", "--draft-map", target])


def test_watch_needs_a_site() -> None:
    """Without a site file the command says what is missing."""
    result = _call(watch, [])
    assert result.exit_code == 2
    assert "--site" in result.output


def test_tuning_from_plan_to_saving(watched: tuple[Path, Result], tmp_path: Path) -> None:
    """Plan, invented results, evaluation: the sheet is honoured and a saving is stated."""
    plan = _call(commission, ["plan", "--site", EXAMPLE / "site.toml", "--out", tmp_path / "plan"])
    sheet = tmp_path / "plan" / "runs.csv"
    old, sys.argv = sys.argv, ["make_trials.py", str(sheet), str(tmp_path)]
    try:
        runpy.run_path(str(EXAMPLE / "make_trials.py"), run_name="__main__")
    finally:
        sys.argv = old
    done = _call(commission, [
        "evaluate", tmp_path / "results.csv", "--site", EXAMPLE / "site.toml",
        "--least-capture", "92 %", "--least-throughput", "200 kg/h",
        "--store", watched[0] / "store", "--out", tmp_path / "out",
    ])  # fmt: skip
    accepted = _call(commission, [
        "accept", tmp_path / "samples.csv", "--protocol", EXAMPLE / "protocol.toml",
        "--invented", "--out", tmp_path / "out",
    ])  # fmt: skip
    assert plan.exit_code == done.exit_code == accepted.exit_code == 0
    assert "isolate" in plan.output
    assert "saving" in done.output
    assert "EUR a week" in done.output
    tuned = (tmp_path / "out" / "tuning.html").read_text(encoding="utf-8")
    assert "at least 200.0 kg/h" in tuned
    assert "wet cake to haul" in tuned
    assert "lack of fit: F" in tuned
    assert "corners less centre" in tuned
    assert "cake_solids" in accepted.output
    report = (tmp_path / "out" / "acceptance.html").read_text(encoding="utf-8")
    assert "Signatures" in report
    assert "risk if passed" in report
    assert (tmp_path / "out" / "tuning.pdf").stat().st_size > 10_000


def test_learning_without_names(watched: tuple[Path, Result], tmp_path: Path) -> None:
    """A contribution carries no name of its site; one site alone is not pooled."""
    out, _ = watched
    result = _call(learn, [
        "contribute", "--site", EXAMPLE / "site.toml", "--store", out / "store",
        "--out", tmp_path,
    ])  # fmt: skip
    assert result.exit_code == 0
    path = next(tmp_path.glob("contribution-*.json"))
    text = path.read_text(encoding="utf-8")
    assert "invented-1" not in text
    assert "works" not in text
    with pytest.raises(Exception, match="at least 3"):
        _call(learn, ["pool", path, "--out", tmp_path])


def test_pooling_three_sites(tmp_path: Path) -> None:
    """Three contributions pool into a fleet file that can be read back."""
    import numpy as np

    from cakewright.running.investigate import conditions_of, responses_of
    from cakewright.running.learning import contribution
    from cakewright.running.practice_plant import invented_shifts
    from cakewright.running.reconcile import reconcile_shifts
    from cakewright.storage.logs.trial_files import read_fleet, render_contribution

    files = []
    for seed in (1, 2, 3):
        table = invented_shifts(None, seed=seed, shifts=150).table
        balance = reconcile_shifts(table)
        one = contribution(
            "f", conditions_of(table, balance), responses_of(table, balance),
            np.ones(table.size, dtype=bool),
        )  # fmt: skip
        files.append(tmp_path / f"{seed}.json")
        files[-1].write_text(render_contribution(one), encoding="utf-8")
    result = _call(learn, ["pool", *files, "--out", tmp_path])
    assert result.exit_code == 0
    prior = read_fleet(tmp_path / "fleet.json")
    assert prior.sites == 3
    assert "cake_solids.dose" in prior.parameters


def test_watch_starts_from_the_press_model_of_a_study(
    watched: tuple[Path, Result], tmp_path: Path
) -> None:
    """The slopes of a study's press stand behind the watch, which says so and finds the same."""
    study = EXAMPLE.parent / "pilot" / "study.toml"
    result = _call(watch, [
        "--site", EXAMPLE / "site.toml", "--store", watched[0] / "store", "--study", study,
        "--out", tmp_path,
    ])  # fmt: skip
    assert result.exit_code == 0
    assert "polymer solution" in result.output
    page = (tmp_path / "engineer.html").read_text(encoding="utf-8")
    assert "Slopes start from the press model of the study." in page
