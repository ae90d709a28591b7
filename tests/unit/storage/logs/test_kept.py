"""Logs of one study kept in a folder."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from cakewright.errors import DataError, InputFileError, UnknownNameError
from cakewright.storage.logs import Column
from cakewright.storage.logs.kept import KeptLogs
from cakewright.storage.logs.looking import look_over

TEXT = "time,feed flow [m3/h]\n2026-01-31 13:45,1.5\n2026-01-31 13:46,1.7\n"


def _brought(kept: KeptLogs, name: str, scratch: Path) -> int:
    path = kept.place_for(name)
    path.write_text(TEXT, encoding="utf-8")
    return kept.take_in(path, look_over(path, "site", scratch))


def test_log_comes_back_as_it_was_seen(tmp_path: Path) -> None:
    """A log counts once it was looked at; its look and map come back equal, and it can be taken
    out again."""
    kept = KeptLogs(tmp_path / "logs")
    path = kept.place_for("../../press log.csv")
    assert path.is_relative_to(tmp_path / "logs")
    path.write_text(TEXT, encoding="utf-8")
    assert kept.logs() == ()
    look = look_over(path, "site", tmp_path / "scratch")
    number = kept.take_in(path, look)
    assert kept.log(number).look == look
    assert not path.exists()
    kept.keep_map(number, look.draft)
    assert kept.log(number).column_map == look.draft
    kept.take_out(number)
    assert kept.logs() == ()
    with pytest.raises(UnknownNameError, match="no log number 1"):
        kept.log(number)


def test_faulty_map_leaves_the_old_one(tmp_path: Path) -> None:
    """A map with a wrong unit is refused with its place; the one before stays."""
    kept = KeptLogs(tmp_path / "logs")
    number = _brought(kept, "press.csv", tmp_path / "scratch")
    good = kept.log(number).look
    assert good is not None
    kept.keep_map(number, good.draft)
    bad = replace(good.draft, columns={"feed_flow": Column("feed flow [m3/h]", "kPa")})
    with pytest.raises(DataError, match=r"columns\.feed_flow\.unit"):
        kept.keep_map(number, bad)
    assert kept.log(number).column_map == good.draft


def test_mark_changes_with_what_it_stands_for(tmp_path: Path) -> None:
    """Another log, another map and another site each give another mark."""
    kept = KeptLogs(tmp_path / "logs")
    number = _brought(kept, "press.csv", tmp_path / "scratch")
    marks = [kept.mark("")]
    look = kept.log(number).look
    assert look is not None
    kept.keep_map(number, look.draft)
    marks += [kept.mark(""), kept.mark("other")]
    _brought(kept, "more.csv", tmp_path / "scratch")
    marks.append(kept.mark(""))
    assert len(set(marks)) == 4


def test_store_is_rebuilt_only_when_something_changed(tmp_path: Path) -> None:
    """A store of the same mark is read again; of another it is built anew and put in its place
    whole, and a build that fails leaves the old one."""
    kept = KeptLogs(tmp_path / "logs")

    def load(store: Path) -> bool:
        fresh = store != kept.store
        store.mkdir(parents=True, exist_ok=True)
        (store / "part").write_text("x", encoding="utf-8")
        return fresh

    assert kept.rebuilt(load, "one") is True
    assert kept.rebuilt(load, "one") is False
    assert kept.rebuilt(load, "two") is True

    def fail(store: Path) -> bool:
        raise InputFileError("cut off")

    with pytest.raises(InputFileError, match="cut off"):
        kept.rebuilt(fail, "three")
    assert (kept.store / "mark.txt").read_text(encoding="utf-8") == "two"


def test_kinds_that_are_not_read_are_refused(tmp_path: Path) -> None:
    """A document is refused by its ending, with what is read."""
    with pytest.raises(InputFileError, match=r"notes\.docx: logs are read from \.csv"):
        KeptLogs(tmp_path).place_for("notes.docx")
