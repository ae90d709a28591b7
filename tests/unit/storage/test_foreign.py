"""What a person brings is read, or refused in words: never an error of the interpreter."""

from __future__ import annotations

import io
import random
import time
import zipfile
from pathlib import Path

import pytest
import xlsxwriter
from tests.foreign_files import kinds, spoiled

from cakewright.errors import CakewrightError, DataError, InputFileError
from cakewright.storage.bounded import read_apart
from cakewright.storage.pilot_runs import read_pilot_runs
from cakewright.storage.workbooks import workbook_sheets


@pytest.mark.parametrize("kind", kinds(), ids=lambda kind: kind.name)
def test_spoiled_files_are_refused_in_words(kind: object) -> None:
    """Sixty spoiled copies of a good file: each is read or refused, none ends in a traceback."""
    dice = random.Random(7)
    for _ in range(60):
        text = spoiled(kind, dice)  # type: ignore[arg-type]
        try:
            kind.read(text)  # type: ignore[attr-defined]
        except CakewrightError:
            continue


def test_a_missing_column_is_named(tmp_path: Path) -> None:
    """A pilot sheet without its dose says so."""
    path = tmp_path / "runs.csv"
    head = "run,speed [1/min],back pressure [kPa],feed flow [m3/h],feed TS [%],cake TS [%]"
    path.write_text(f"{head}\nA,3,40,1.0,1.2,12\n", encoding="utf-8")
    with pytest.raises(DataError, match=r"column 'dose'.*nothing"):
        read_pilot_runs(path)


def workbook(cell: str = "B2") -> bytes:
    """A workbook with one cell, as far out as wanted."""
    data = io.BytesIO()
    book = xlsxwriter.Workbook(data, {"in_memory": True})
    sheet = book.add_worksheet("a")
    sheet.write("A1", 1)
    sheet.write(cell, 2)
    book.close()
    return data.getvalue()


def test_a_cell_far_out_is_refused() -> None:
    """A workbook of 5 KB with a cell at the far corner would take 512 GB; it is refused."""
    with pytest.raises(InputFileError, match="row 1048576 and column 16384"):
        workbook_sheets(workbook("XFD1048576"), "far.xlsx")


def _takes_all() -> int:
    return len(bytearray(40 * 1024**3))


def _aborts() -> None:
    import os

    os.abort()


@pytest.mark.parametrize("work", [_takes_all, _aborts], ids=["memory", "abort"])
def test_a_reader_that_ends_takes_nothing_with_it(work: object) -> None:
    """Whatever a native reader does to its process, this one goes on and says so in words."""
    with pytest.raises(InputFileError, match="its reader ended"):
        read_apart("a.xlsx", work)  # type: ignore[arg-type]


def test_a_reader_that_hangs_is_ended() -> None:
    """A reader gets its time and no more."""
    with pytest.raises(InputFileError, match="not read after"):
        read_apart("a.xlsx", time.sleep, 60, seconds=0.5)


def test_damaged_workbooks_are_refused() -> None:
    """Flipped bytes inside the parts: read or refused."""
    dice, good = random.Random(3), workbook()
    for _ in range(3):
        spoilt = io.BytesIO()
        with zipfile.ZipFile(io.BytesIO(good)) as old, zipfile.ZipFile(spoilt, "w") as new:
            for part in old.namelist():
                content = bytearray(old.read(part))
                for _ in range(3):
                    content[dice.randrange(len(content))] = dice.randrange(256)
                new.writestr(part, bytes(content))
        try:
            workbook_sheets(spoilt.getvalue(), "damaged.xlsx")
        except CakewrightError:
            continue
