"""Fuzzers for every reader: spoiled files, made-up quantities, and bytes led by coverage."""

from __future__ import annotations

import io
import os
import random
import subprocess
import sys
import time
import zipfile
from pathlib import Path

import pytest
from tests.foreign_files import kinds, quickly_spoiled, spoiled
from tests.siege.conftest import Tally

from cakewright.errors import CakewrightError, QuantityError

pytestmark = pytest.mark.siege
LIMIT_SECONDS, MOST_GROWN_MB = 2.0, 400.0
_PIECES = (
    "1", "12", "0.8", "1.200", "1,5", "1e3", "-", " ", "..", "±", "+/-", "to", "bis", "about", "~",
    "<", ">", "%", "m3", "m³", "/d", "kg", "/t", "DS", "TS", "(", ")", "**", "^", "9", "EUR", "€",
    "k€", "°C", "F", "gpm", "h/d", "points", "rel.", "日", "ö", "\0", "'", "·", "per", "day", "t",
)  # fmt: skip


def _dice(number: int) -> random.Random:
    return random.Random(f"{os.environ.get('CAKEWRIGHT_SIEGE_SEED', '1')}-{number}")


def test_spoiled_files_of_every_kind(tally: Tally) -> None:
    """Study, side files, sheets, each kind as long: read or refused, in under two seconds each."""
    for kind in kinds():
        kind.read(kind.good) if kind.name in ("study", "site") else None  # loads what it needs
    for number in tally.until():
        for kind in kinds():
            dice, end = _dice(number), time.process_time() + 0.3
            while (start := time.process_time()) < end:
                # One in fifty by rebuilding the table, which reaches places that a cut does not.
                text = (spoiled if dice.random() < 0.02 else quickly_spoiled)(kind, dice)
                start = time.process_time()
                try:
                    kind.read(text)
                    tally.add(f"files: {kind.name}", "read")
                except CakewrightError:
                    tally.add(f"files: {kind.name}", "refused in words")
                took = time.process_time() - start
                tally.took(f"files: {kind.name}", took)
                assert took < LIMIT_SECONDS, text
    assert tally.grown() < MOST_GROWN_MB


def test_quantities_put_together_at_random(tally: Tally) -> None:
    """Pieces of quantities in any order: a value in order, or words."""
    from cakewright.study.quantity_text import Decimals, parse_quantity

    units = ("m3/s", "1", "K", "kg/kg", "currency/kg", "s")
    for number in tally.until():
        dice = _dice(number)
        for _ in range(500):
            text = "".join(dice.choice(_PIECES) for _ in range(dice.randrange(1, 12)))
            unit = dice.choice(units)
            start = time.process_time()
            try:
                spread = parse_quantity(
                    text, unit, bare="1", currency="EUR", decimals=dice.choice(list(Decimals)),
                    also=dice.choice(("", "per_day", "as_slurry")),
                )  # fmt: skip
            except QuantityError:
                tally.add("quantities", "refused in words")
            else:
                tally.add("quantities", "read")
                if spread.low is not None and spread.high is not None:
                    assert spread.low <= spread.value <= spread.high, text
            tally.took("quantities", time.process_time() - start)
    assert tally.slowest["quantities"] < LIMIT_SECONDS


def _workbook() -> bytes:
    import xlsxwriter

    data = io.BytesIO()
    book = xlsxwriter.Workbook(data, {"in_memory": True})
    sheet = book.add_worksheet("a")
    for row, cells in enumerate((("test", "F1"), ("kind", "filtration_pressure"), (1.5, True))):
        sheet.write_row(row, 0, cells)
    book.close()
    return data.getvalue()


def test_damaged_workbooks(tally: Tally) -> None:
    """Bytes turned in a part or in the archive: read or refused, and this process lives."""
    from cakewright.storage.workbooks import workbook_sheets

    good = _workbook()
    for number in tally.until():
        dice = _dice(number)
        spoilt = bytearray(good)
        if dice.random() < 0.7:
            made = io.BytesIO()
            with zipfile.ZipFile(io.BytesIO(good)) as old, zipfile.ZipFile(made, "w") as new:
                for part in old.namelist():
                    content = bytearray(old.read(part))
                    for _ in range(dice.randrange(1, 6)):
                        content[dice.randrange(len(content))] = dice.randrange(256)
                    new.writestr(part, bytes(content))
            spoilt = bytearray(made.getvalue())
        else:
            for _ in range(dice.randrange(1, 8)):
                spoilt[dice.randrange(len(spoilt))] = dice.randrange(256)
        try:
            workbook_sheets(bytes(spoilt), "spoilt.xlsx")
            tally.add("workbooks", "read")
        except CakewrightError:
            tally.add("workbooks", "refused in words")


def test_damaged_logs(tally: Tally, tmp_path: Path) -> None:
    """Logs as CSV, lines of JSON and Parquet with bytes turned: looked over, or refused."""
    import pyarrow as pa
    import pyarrow.parquet as pq

    from cakewright.storage.logs.looking import look_over

    rows = [(f"2024-05-01T{h:02d}:{m:02d}:00", 5.0 + m / 60) for h in range(3) for m in range(60)]
    plain = "time,Feed flow [m3/h]\n" + "".join(f"{t},{q}\n" for t, q in rows)
    lines = "".join(f'{{"time": "{t}", "Feed flow [m3/h]": {q}}}\n' for t, q in rows)
    table = pa.table({"time": [t for t, _ in rows], "Feed flow [m3/h]": [q for _, q in rows]})
    pq.write_table(table, tmp_path / "good.parquet")
    good = {
        ".csv": plain.encode(),
        ".jsonl": lines.encode(),
        ".parquet": (tmp_path / "good.parquet").read_bytes(),
    }
    for number in tally.until():
        dice = _dice(number)
        kind = dice.choice(list(good))
        data = bytearray(good[kind])
        for _ in range(dice.randrange(1, 12)):
            data[dice.randrange(len(data))] = dice.randrange(256)
        if dice.random() < 0.3:
            data = data[: dice.randrange(len(data))]
        path = tmp_path / f"log{kind}"
        path.write_bytes(bytes(data))
        start = time.process_time()
        try:
            look_over(path, "a", tmp_path / "scratch")
            tally.add(f"logs: {kind}", "read")
        except CakewrightError:
            tally.add(f"logs: {kind}", "refused in words")
        tally.took(f"logs: {kind}", time.process_time() - start)


def test_bytes_led_by_coverage(tally: Tally, tmp_path: Path) -> None:
    """The fuzzer that follows what the code does with its bytes, on the readers of texts."""
    pytest.importorskip("atheris", reason="the `siege` extra is not installed")
    here = Path(__file__).parent
    done = subprocess.run(
        [sys.executable, str(here / "guided.py"), str(int(tally.seconds)), str(tmp_path),
         str(here / "corpus")],
        capture_output=True, text=True, cwd=here.parents[1], check=False,
        env={**os.environ, "PYTHONPATH": os.pathsep.join([*sys.path])},
    )  # fmt: skip
    told = done.stderr[-4000:]
    if done.returncode:
        # Judged by itself: a machine that stood still for seconds is not the input's fault.
        found = next(iter(tmp_path.glob("crash-*")), None)
        assert found is not None, told
        again = subprocess.run(
            [sys.executable, str(here / "guided.py"), "once", str(found)],
            capture_output=True, text=True, cwd=here.parents[1], check=False, timeout=120,
            env={**os.environ, "PYTHONPATH": os.pathsep.join([*sys.path])},
        )  # fmt: skip
        assert again.returncode == 0, told + again.stderr[-4000:]
        tally.add("led by coverage", "slow once, quick by itself")
    runs = [line for line in done.stderr.splitlines() if line.startswith("stat::number_of_exec")]
    tally.add("led by coverage", "inputs", int(runs[-1].split()[-1]) if runs else 0)
