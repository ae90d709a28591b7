"""Writing a set of results: all or none, and never over what was there."""

from __future__ import annotations

import itertools
import multiprocessing
import os
import signal
import time
from pathlib import Path

import pytest

from cakewright.errors import OutputError
from cakewright.storage.outputs import SET_FILE, faults_of_set, write_outputs

OLD: dict[str, str | bytes] = {"report.html": "old page", "findings.json": "old data"}
NEW: dict[str, str | bytes] = {
    "report.html": "new page",
    "report.pdf": b"%PDF new",
    "findings.json": "new data",
}


def contents(folder: Path) -> dict[str, str]:
    """Name and text of everything in a folder."""
    files = (path for path in sorted(folder.iterdir()) if path.is_file())
    return {path.name: path.read_text() for path in files if path.name != SET_FILE}


def test_writes_into_a_new_folder(tmp_path: Path) -> None:
    """Folders are made, texts are UTF-8, bytes stay bytes, the paths come back in order."""
    place = tmp_path / "a" / "b"
    paths = write_outputs(place, {"x.txt": "η ≥ 90 %", "y.bin": b"\x00\xff"})
    assert paths == [place / "x.txt", place / "y.bin"]
    assert (place / "x.txt").read_bytes() == "η ≥ 90 %".encode()
    assert (place / "y.bin").read_bytes() == b"\x00\xff"


def test_replaces_results_and_leaves_other_files(tmp_path: Path) -> None:
    """New results take the place of old ones; a stranger's file stays; nothing else is left."""
    write_outputs(tmp_path, OLD)
    (tmp_path / "notes.txt").write_text("mine")
    write_outputs(tmp_path, NEW)
    assert contents(tmp_path) == {
        "findings.json": "new data",
        "notes.txt": "mine",
        "report.html": "new page",
        "report.pdf": "%PDF new",
    }


def test_failure_while_writing_changes_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A disk that fills up leaves the old results and no half-written file."""
    write_outputs(tmp_path, OLD)
    calls = itertools.count()

    def full(_: int) -> None:
        if next(calls) == 1:
            raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OutputError, match=r"No space left on device.*nothing there was changed"):
        write_outputs(tmp_path, NEW)
    assert contents(tmp_path) == dict(sorted(OLD.items()))


def test_failure_while_putting_in_place_is_undone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where a link of others forbids an exchange and the last rename fails, all are taken back."""
    write_outputs(tmp_path, OLD)
    (tmp_path / "mine").symlink_to("elsewhere")
    real = Path.replace

    def stuck(self: Path, target: Path) -> Path:
        if self.name.endswith(".partial") and Path(target).name == "findings.json":
            raise PermissionError(13, "open in another program", str(target))
        return real(self, target)

    monkeypatch.setattr(Path, "replace", stuck)
    with pytest.raises(OutputError, match="close the file if a program has it open"):
        write_outputs(tmp_path, NEW)
    assert contents(tmp_path) == dict(sorted(OLD.items()))


def test_a_folder_in_the_way_is_an_error(tmp_path: Path) -> None:
    """A folder called like a result is left alone, and so are the other results."""
    write_outputs(tmp_path, OLD)
    (tmp_path / "report.pdf").mkdir()
    with pytest.raises(OutputError, match="a folder has this name"):
        write_outputs(tmp_path, NEW)
    assert contents(tmp_path) == dict(sorted(OLD.items()))
    assert (tmp_path / "report.pdf").is_dir()


def test_a_file_instead_of_the_folder_is_an_error(tmp_path: Path) -> None:
    """The folder's name taken by a file is said, and the file stays."""
    place = tmp_path / "out"
    place.write_text("a file")
    with pytest.raises(OutputError, match="cannot write results to"):
        write_outputs(place, NEW)
    assert place.read_text() == "a file"


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="root writes anywhere")
def test_unwritable_folder_is_an_error(tmp_path: Path) -> None:
    """A folder one may not write into is said with its path."""
    tmp_path.chmod(0o500)
    try:
        with pytest.raises(OutputError, match="Permission denied"):
            write_outputs(tmp_path, NEW)
    finally:
        tmp_path.chmod(0o700)


def test_refused_folder_is_an_error(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What the system says when it refuses a new folder is passed on, with what to try."""

    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied", str(tmp_path / "x"))

    monkeypatch.setattr(Path, "mkdir", refuse)
    with pytest.raises(OutputError, match=r"Permission denied.*Try another folder"):
        write_outputs(tmp_path / "x", NEW)


def test_a_new_folder_does_not_outlive_a_failure(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A folder made for results that could not be written is removed again."""

    def refuse(*_: object) -> None:
        raise OSError(5, "Input/output error")

    monkeypatch.setattr(os, "fsync", refuse)
    with pytest.raises(OutputError, match="Input/output error"):
        write_outputs(tmp_path / "a" / "b", NEW)
    assert list(tmp_path.iterdir()) == []


def test_a_killed_run_is_tidied(tmp_path: Path) -> None:
    """What a killed run had moved away comes back; what it had half written goes."""
    (tmp_path / ".report.html.0123abcd.previous").write_text("old page")
    (tmp_path / ".report.html.0123abcd.partial").write_text("<half")
    (tmp_path / ".findings.json.0123abcd.previous").write_text("older data")
    (tmp_path / "findings.json").write_text("newer data")
    (tmp_path / ".profile.previous").write_text("a stranger's")
    write_outputs(tmp_path, {"workbook.xlsx": b"x"})
    assert contents(tmp_path) == {
        ".profile.previous": "a stranger's",
        "findings.json": "newer data",
        "report.html": "old page",
        "workbook.xlsx": "x",
    }


@pytest.mark.parametrize(
    "name", ["", "..", "a/b", "a\\b", "c:x", "x\n", "con", "NUL.txt", "com1.csv", "x. "]
)
def test_names_cannot_leave_the_folder(tmp_path: Path, name: str) -> None:
    """A name with a path in it is refused before anything is written."""
    with pytest.raises(OutputError, match="is not a file name"):
        write_outputs(tmp_path, {"ok.txt": "x", name: "y"})
    assert list(tmp_path.iterdir()) == []


def _keep_writing(place: Path) -> None:
    for run in itertools.count():
        write_outputs(place, {f"{i}.txt": f"{run}\n" * 2000 for i in range(12)})


@pytest.mark.skipif(os.name == "nt", reason="processes are ended otherwise there")
def test_a_kill_at_any_moment_leaves_one_set(tmp_path: Path) -> None:
    """Killed while it writes beside a store of logs, a run leaves one set, and the store whole."""
    place = tmp_path / "out"
    (place / "store" / "month").mkdir(parents=True)
    (place / "store" / "month" / "part").write_text("kept")
    for kill in range(8):
        writer = multiprocessing.get_context("fork").Process(target=_keep_writing, args=(place,))
        writer.start()
        while not (place / "0.txt").exists():
            time.sleep(0.01)
        time.sleep(0.02 + 0.007 * kill)
        os.kill(writer.pid or 0, signal.SIGKILL)
        writer.join()
        assert len({(place / f"{i}.txt").read_text() for i in range(12)}) == 1
        assert faults_of_set(place) == []
        assert (place / "store" / "month" / "part").read_text() == "kept"


@pytest.mark.skipif(os.name == "nt", reason="processes are started otherwise there")
def test_two_runs_into_one_folder_take_turns(tmp_path: Path) -> None:
    """Neither takes away what the other has half written; the last one's set stands."""
    place = tmp_path / "out"
    context = multiprocessing.get_context("fork")
    sets = [{f"{i}.txt": f"{run}\n" * 2000 for i in range(8)} for run in range(6)]
    runs = [context.Process(target=write_outputs, args=(place, one)) for one in sets]
    for run in runs:
        run.start()
    for run in runs:
        run.join()
    assert [run.exitcode for run in runs] == [0] * 6
    assert len({(place / f"{i}.txt").read_text() for i in range(8)}) == 1


def test_a_changed_result_is_told(tmp_path: Path) -> None:
    """The hashes kept beside a set tell what was changed or lost since."""
    write_outputs(tmp_path, NEW)
    (tmp_path / "report.html").write_text("other")
    (tmp_path / "report.pdf").unlink()
    assert sorted(faults_of_set(tmp_path)) == ["report.html", "report.pdf"]
