"""What is written on a shift page comes back checked, each line once."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from cakewright.errors import DataError
from cakewright.running.logbook import EntryKind, answers_at, learnt_rates
from cakewright.storage.logs.logbook import entry_from, read_entries, read_logbook, write_entry


def test_entries_are_kept_and_a_cut_line_is_survived(tmp_path: Path) -> None:
    """Entries come back in order; a line cut by a power failure costs only itself."""
    write_entry(tmp_path, "a", entry_from("answer", "dip_level", "otherwise", 100))
    place = tmp_path / "logbook" / "site=a.jsonl"
    with place.open("a", encoding="utf-8") as file:
        file.write('{"time": 2')
    write_entry(tmp_path, "a", entry_from("reading", "cake_solids", "18,5 %", 200))
    first, second = read_logbook(tmp_path, "a")
    assert (first.kind, first.value) == (EntryKind.ANSWER, 1.0)
    assert second.value == pytest.approx(0.185)
    assert answers_at([first], 50) == {"dip_level": 1}
    assert answers_at([first], 100 + 30 * 86400) == {}


def test_what_was_found_counts_from_now_on() -> None:
    """Three nozzles cleaned in a year make blocked nozzles likelier here, and other causes less."""
    done = [entry_from("done", "wash_fault", "cleaned", t) for t in (1, 2, 3)]
    rates = learnt_rates(done, 1.0, {"wash_fault": 1.0, "ring_wear": 0.4, "nothing": 4.0})
    assert rates["wash_fault"] == pytest.approx(5 / 3)
    assert rates["ring_wear"] < 0.4
    assert rates["nothing"] == 4.0


def test_foreign_entries_are_told_all_at_once(tmp_path: Path) -> None:
    """A file of a phone with wrong lines names each of them and nothing is taken."""
    lines = [{"time": 1, "kind": "answer", "key": "dip_level", "text": "perhaps"},
             {"time": 1, "kind": "done", "key": "gremlins", "text": "x"}]  # fmt: skip
    path = tmp_path / "book.jsonl"
    path.write_text("\n".join(map(json.dumps, lines)) + "\nnonsense\n", encoding="utf-8")
    with pytest.raises(DataError) as caught:
        read_entries(path)
    assert len(caught.value.faults) == 3
