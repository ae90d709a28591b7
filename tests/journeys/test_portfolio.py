"""A folder of studies from outside: processes, a real Dask cluster, and taking up again."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pyarrow.parquet as pq
import pytest

from cakewright.storage.studies import demo_text


def run(*words: str, cwd: Path) -> subprocess.CompletedProcess[str]:
    """The command as a user runs it."""
    return subprocess.run(
        [sys.executable, "-m", "cakewright", *words],
        cwd=cwd,
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Three studies that can be answered and one that cannot be read."""
    place = tmp_path / "studies"
    place.mkdir()
    for name in ("soy", "valley", "reservoir"):
        text = demo_text(name) + "\n[sampling]\nsamples = 64\n"
        (place / f"{name}.toml").write_text(text, encoding="utf-8")
    (place / "broken.toml").write_text("cakewright = 1\n[[sludge]\n", encoding="utf-8")
    return place


@pytest.fixture
def address() -> Iterator[str]:
    """A real cluster of two processes on this machine alone."""
    distributed = pytest.importorskip("distributed")
    with distributed.LocalCluster(
        n_workers=2,
        threads_per_worker=1,
        processes=True,
        host="127.0.0.1",
        dashboard_address=None,
    ) as cluster:
        yield cluster.scheduler_address


def test_processes_resume_and_failures(folder: Path) -> None:
    """Results are written though one study is broken; a second run does only that one."""
    done = run("portfolio", "studies", "--out", "out", "--workers", "2", cwd=folder.parent)
    assert done.returncode == 1
    assert "3 of 4 studies have an answer" in done.stdout
    assert "failed: broken" in done.stdout
    names = {path.name for path in (folder.parent / "out").iterdir()}
    assert names >= {"studies.parquet", "figures.parquet", "options.parquet", "summary.html"}
    again = run("portfolio", "studies", "--out", "out", "--workers", "1", cwd=folder.parent)
    assert "3 of 4 kept from before" in again.stderr


def test_a_cluster_gives_what_this_machine_gives(folder: Path, address: str) -> None:
    """Two Dask workers and one process here write the same figures."""
    (folder / "broken.toml").unlink()
    there = run("portfolio", "studies", "--out", "there", "--scheduler", address, cwd=folder.parent)
    assert there.returncode == 0, there.stderr
    here = run("portfolio", "studies", "--out", "here", "--workers", "1", cwd=folder.parent)
    assert here.returncode == 0, here.stderr
    for table in ("studies", "figures", "options"):
        one, other = (
            pq.read_table(folder.parent / place / f"{table}.parquet").to_pylist()
            for place in ("there", "here")
        )
        assert one == other


@pytest.mark.parametrize(
    ("words", "code", "text"),
    [
        (("nowhere",), 1, "not a folder"),
        (("studies", "--workers", "2", "--scheduler", "tcp://127.0.0.1:1"), 2, "not both"),
        (("studies", "--scheduler", "tcp://127.0.0.1:1"), 1, "no answer"),
    ],
)
def test_wrong_use_is_explained(folder: Path, words: tuple[str, ...], code: int, text: str) -> None:
    """A missing folder, two engines at once and a dead scheduler are named; nothing is written."""
    done = run("portfolio", *words, "--out", "out", cwd=folder.parent)
    assert done.returncode == code
    assert text in done.stderr
    assert not (folder.parent / "out" / "summary.html").exists()
