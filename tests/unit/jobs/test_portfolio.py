"""Many studies over an executor: all come back, and one that fails stops nothing."""

from __future__ import annotations

import importlib
from concurrent.futures import Executor, ProcessPoolExecutor, ThreadPoolExecutor
from multiprocessing import get_context
from pathlib import Path

import pytest

from cakewright.errors import OutOfRangeError
from cakewright.jobs.portfolio import Outcome, Task, run_tasks


def tasks(*names: str) -> list[Task]:
    """Tasks that differ by name."""
    return [Task(name, f"key-{name}", "") for name in names]


def work(task: Task) -> Outcome:
    """A stand-in for one evaluation: fails, dies or answers by its name."""
    if task.name == "out of range":
        raise OutOfRangeError("flow: got -1")
    if task.name == "bug":
        raise ZeroDivisionError("by zero")
    return Outcome(task.name, task.key, study={"machine": "belt_press"})


def threads() -> Executor:
    """An executor without processes."""
    return ThreadPoolExecutor(2)


def processes() -> Executor:
    """Real processes, started afresh."""
    return ProcessPoolExecutor(2, mp_context=get_context("spawn"))


def test_every_study_comes_back_with_its_answer_or_its_fault() -> None:
    """Errors of ours and errors nobody meant both become words; the rest is done."""
    found = {o.name: o for o in run_tasks(tasks("a", "out of range", "bug", "b"), work, threads)}
    assert set(found) == {"a", "out of range", "bug", "b"}
    assert found["out of range"].failed == "flow: got -1"
    assert found["bug"].failed == "ZeroDivisionError: by zero"
    assert not found["a"].failed
    assert not found["b"].failed


DYING = """
import os
from cakewright.jobs.portfolio import Outcome

def work(task):
    if task.name == "dies":
        os._exit(3)
    return Outcome(task.name, task.key)
"""


def test_a_worker_that_dies_loses_only_its_own_study(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A killed process breaks its pool; the others are evaluated all the same."""
    # Processes started afresh import the work by name: it must lie where they look.
    (tmp_path / "dying_work.py").write_text(DYING, encoding="utf-8")
    monkeypatch.syspath_prepend(str(tmp_path))
    dying = importlib.import_module("dying_work").work
    found = {o.name: o for o in run_tasks(tasks("a", "dies", "b", "c"), dying, processes)}
    assert set(found) == {"a", "dies", "b", "c"}
    assert "died" in found["dies"].failed
    assert [name for name, outcome in found.items() if outcome.failed] == ["dies"]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Two studies, one that is at fault, and a file that is no study."""
    from cakewright.storage.studies import demo_text

    for name in ("soy", "valley"):
        text = demo_text(name) + "\n[sampling]\nsamples = 0\n"
        (tmp_path / f"{name}.toml").write_text(text, encoding="utf-8")
    (tmp_path / "faulty.toml").write_text("cakewright = 1\ntitle = 'x'\n", encoding="utf-8")
    (tmp_path / "catalogue.toml").write_text("[[frame]]\n", encoding="utf-8")
    return tmp_path


def test_only_what_changed_is_done_again(folder: Path, tmp_path: Path) -> None:
    """A second run starts nothing for kept studies; a touched study, or a named file, does."""
    from cakewright.storage.portfolio import evaluate_tasks, find_tasks, kept_outcomes

    out = tmp_path / "out"
    told: list[str] = []
    first = evaluate_tasks(find_tasks(folder), out, threads, lambda o: told.append(o.name))
    assert sorted(told) == ["faulty", "soy", "valley"]
    assert [o.name for o in first if o.failed] == ["faulty"]
    assert len(kept_outcomes(out, find_tasks(folder))) == 2
    told.clear()
    again = evaluate_tasks(find_tasks(folder), out, threads, lambda o: told.append(o.name))
    assert told == ["faulty"]
    assert [(o.name, o.study) for o in again] == [(o.name, o.study) for o in first]
    study = folder / "soy.toml"
    study.write_text(study.read_text(encoding="utf-8") + "# changed\n", encoding="utf-8")
    told.clear()
    evaluate_tasks(find_tasks(folder), out, threads, lambda o: told.append(o.name))
    assert sorted(told) == ["faulty", "soy"]


def test_a_named_file_counts_as_part_of_the_study(folder: Path) -> None:
    """A changed catalogue gives the study that names it another key, and no other study."""
    from cakewright.storage.portfolio import find_tasks

    study = folder / "soy.toml"
    text = study.read_text(encoding="utf-8") + '[machines]\ncatalogue = "catalogue.toml"\n'
    study.write_text(text, encoding="utf-8")
    before = {task.name: task.key for task in find_tasks(folder)}
    (folder / "catalogue.toml").write_text("[[frame]]\n# other\n", encoding="utf-8")
    after = {task.name: task.key for task in find_tasks(folder)}
    assert before["soy"] != after["soy"]
    assert before["valley"] == after["valley"]


def test_tables_hold_every_study_and_every_option(folder: Path, tmp_path: Path) -> None:
    """Parquet read back: one row a study, failed ones too; figures keep basis and mark."""
    import io

    import pyarrow.parquet as pq

    from cakewright.storage.portfolio import evaluate_tasks, find_tasks, write_tables

    outcomes = evaluate_tasks(find_tasks(folder), tmp_path / "out", threads, lambda _: None)
    tables = {
        name: pq.read_table(io.BytesIO(data)).to_pylist()
        for name, data in write_tables(outcomes).items()
    }
    studies = {row["study"]: row for row in tables["studies.parquet"]}
    assert set(studies) == {"soy", "valley", "faulty"}
    assert "sludge" in studies["faulty"]["failed"]
    assert studies["soy"]["machine"] == "multi_disc_screw_press"
    cake = next(
        row
        for row in tables["figures.parquet"]
        if row["study"] == "soy" and row["name"] == "cake_solids"
    )
    assert cake["mark"] == "judgement"
    assert len([row for row in tables["options.parquet"] if row["study"] == "soy"]) == 6


@pytest.mark.parametrize(
    ("make", "text"), [(lambda p: p / "none", "not a folder"), (lambda p: p, "holds no study")]
)
def test_folders_without_studies_are_refused(make: object, text: str, tmp_path: Path) -> None:
    """Nothing is written for a folder that cannot hold a portfolio."""
    from cakewright.errors import InputFileError
    from cakewright.storage.portfolio import find_tasks

    assert callable(make)
    with pytest.raises(InputFileError, match=text):
        find_tasks(make(tmp_path))


def test_summary_names_what_was_chosen_and_what_failed(folder: Path, tmp_path: Path) -> None:
    """The page carries each study, its machine and the words of each fault."""
    from cakewright.reports.portfolio_summary import portfolio_page, portfolio_text
    from cakewright.storage.portfolio import evaluate_tasks, find_tasks

    outcomes = evaluate_tasks(find_tasks(folder), tmp_path / "out", threads, lambda _: None)
    page = portfolio_page(outcomes, "Portfolio")
    assert "multi-disc screw press: 2" in page
    assert "one or more [[sludge]] tables" in page
    assert "invented" in page
    assert portfolio_text(outcomes).startswith("2 of 3 studies have an answer")
