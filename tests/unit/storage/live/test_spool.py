"""Readings reach the disk first and leave only when they were taken."""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path

import pytest

from cakewright.errors import DataError, InputFileError
from cakewright.storage.live import Quality, Reading, Spool, parse_tag_map
from cakewright.storage.live.listening import handed_on

DAY = 1_717_200_000.0


def _reading(value: float | None, quality: Quality = Quality.GOOD) -> Reading:
    return Reading("feed_flow", value, DAY, quality, "" if quality is Quality.GOOD else "reason")


def test_only_good_numbers_are_stored(tmp_path: Path) -> None:
    """An uncertain value keeps its reason and loses its number."""
    path = Spool(tmp_path).store([_reading(1.0, Quality.UNCERTAIN)], DAY)
    row = json.loads(path.read_text(encoding="utf-8"))
    assert row["feed_flow"] is None
    assert row["quality"] == {"feed_flow": "uncertain: reason"}


def test_half_a_line_is_cut(tmp_path: Path) -> None:
    """A line broken off by a crash does not spoil the next one."""
    spool = Spool(tmp_path)
    path = spool.store([_reading(1.0)], DAY)
    with path.open("a", encoding="utf-8") as file:
        file.write('{"time": "2024-')
    spool.store([_reading(2.0)], DAY + 60)
    rows = [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]
    assert [row["feed_flow"] for row in rows] == [1.0, 2.0]


def test_files_stay_until_they_are_taken(tmp_path: Path) -> None:
    """A failed hand-over keeps the files; a good one marks them; today's file is left alone."""
    spool = Spool(tmp_path)
    spool.store([_reading(1.0)], DAY)
    today = datetime.fromtimestamp(DAY + 86400, UTC)
    spool.store([_reading(1.0)], DAY + 86400)

    def refuse(files: object) -> None:
        raise OSError("no")

    with pytest.raises(OSError, match="no"):
        spool.drain(refuse, today)
    assert len(spool.waiting()) == 2
    taken: list[Path] = []
    assert spool.drain(taken.extend, today) == 1
    assert [path.stem for path in spool.waiting()] == [f"{today:%Y-%m-%d}"]


def test_a_clock_set_back_over_midnight_loses_nothing(tmp_path: Path) -> None:
    """A finished day that was handed on stays whole; what the clock repeats goes beside it."""
    spool, there = Spool(tmp_path / "live"), tmp_path / "there"
    for n in range(144):
        spool.store([_reading(float(n))], DAY + 600 * n)

    def hand_on(paths: Sequence[Path]) -> None:
        handed_on(paths, there, "works")

    midnight = DAY + 86400
    spool.drain(hand_on, datetime.fromtimestamp(midnight + 1, UTC))
    spool.store([_reading(999.0)], midnight - 7)  # the clock was set back by 8 s
    spool.drain(hand_on, datetime.fromtimestamp(midnight + 60, UTC))
    rows = {p.name: len(p.read_text("utf-8").splitlines()) for p in there.iterdir()}
    assert sorted(rows.values()) == [1, 144]
    kept = {p.name: len(p.read_text("utf-8").splitlines()) for p in spool.folder.glob("*.sent")}
    assert sorted(kept.values()) == [1, 144]


def test_two_listeners_of_one_site(tmp_path: Path) -> None:
    """Two that forward the same site to one folder do not overwrite one another; a day handed on
    twice is there once; two may not write into one folder at all."""
    there = tmp_path / "there"
    for name, value in (("a", 1.0), ("b", 2.0), ("a", 1.0)):
        spool = Spool(tmp_path / name)
        if not spool.waiting():
            spool.store([_reading(value)], DAY)
        handed_on(spool.waiting(), there, "works")
    assert len(list(there.iterdir())) == 2
    first = Spool(tmp_path / "a")
    held = first.claim()
    with pytest.raises(InputFileError, match="another listener"):
        Spool(tmp_path / "a").claim()
    held.close()
    first.claim().close()


def test_tag_map_faults_all_at_once() -> None:
    """Wrong scheme, too fast a pace, a password in the file and a wrong unit are all named."""
    text = """
address = "http://plant"
every_s = 0.1
password = "x"
[tags.feed_flow]
unit = "kg"
node = "ns=2;s=f"
"""
    with pytest.raises(DataError) as caught:
        parse_tag_map(text)
    assert {fault.where for fault in caught.value.faults} == {
        "address", "every_s", "password", "tags.feed_flow",
    }  # fmt: skip
