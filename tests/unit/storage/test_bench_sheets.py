"""Bad bench sheets: each fault names file, sheet, row and column; good tests are still read."""

from __future__ import annotations

from pathlib import Path

import pytest
import xlsxwriter

from cakewright.bench import BenchTest, bench_kinds
from cakewright.errors import InputFileError
from cakewright.jobs.bench import BenchFindings, evaluate_bench
from cakewright.storage.bench_sheets import SheetsRead, read_bench_files
from cakewright.storage.bench_template import template_csv, template_files, template_xlsx

HEAD = """test,F1
kind,filtration_pressure
sludge,s
pressure,50,kPa
filter area,63.6,cm2
temperature,20,degC
feed solids,1.8,%
cake solids,12,%
readings
time [s],filtrate volume [mL]
"""
ROWS = ("10,20", "24,40", "42,60", "64,80", "90,100", "120,120")
SETTLED = (
    "test,V1\nkind,settled_volume\nsludge,s\nsuspended solids,2,g/L\n"
    "cylinder volume,1000,mL\nreadings\nsettled volume [mL]\n150\n160\n"
)


def _read(tmp_path: Path, text: str, name: str = "day.csv") -> SheetsRead:
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    return read_bench_files([path])


def _findings(tmp_path: Path, text: str) -> BenchFindings:
    """The sheet under test together with a good one, through the job."""
    read = _read(tmp_path, text + "\n" + SETTLED)
    return evaluate_bench(read.tests, read.bad)


def _fault_text(tmp_path: Path, text: str) -> str:
    found = _findings(tmp_path, text)
    assert [fit.id for fit in found.sludges[0].fits] == ["V1"], "the good test is still fitted"
    assert len(found.bad) >= 1
    return "\n".join(str(fault) for bad in found.bad for fault in bad.faults)


def _with(row: int, text: str) -> str:
    rows = list(ROWS)
    rows[row] = text
    return HEAD + "\n".join(rows) + "\n"


def test_good_sheet_is_read_in_si(tmp_path: Path) -> None:
    """Units are turned into SI and every reading is there."""
    read = _read(tmp_path, HEAD + "\n".join(ROWS) + "\n")
    assert not read.bad
    test = read.tests[0]
    assert test.number("pressure") == pytest.approx(5e4)
    assert test.number("area") == pytest.approx(63.6e-4)
    assert test.number("temperature") == pytest.approx(293.15)
    assert test.columns["filtrate"][-1] == pytest.approx(120e-6)
    assert test.rows == 6


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        (_with(2, "20,60"), ["day.csv, row 13, column A (time)", "20 s after 24 s"]),
        (_with(3, "64,50"), ["row 14, column B (filtrate volume)", "50 mL after 60 mL"]),
        (_with(1, "24,forty"), ["row 12, column B (filtrate volume)", "text 'forty'"]),
        (_with(1, "24,40 mL"), ["row 12, column B (filtrate volume)", "keep the unit"]),
        (_with(1, "24,"), ["row 12, column B (filtrate volume)", "an empty cell"]),
        (_with(1, "24,4,5"), ["row 12, column C", "decimal comma"]),
        (_with(1, '24,"4,5"'), ["row 12, column B", "a decimal comma", "write 12.5 for 12,5"]),
        (HEAD + "10,20\n", ["a single reading", "at least 3"]),
        (
            HEAD.replace("[mL]", "[kPa]") + "\n".join(ROWS) + "\n",
            ["row 10, column B", "unit 'kPa'", "a unit like mL"],
        ),
        (
            HEAD.replace(" [mL]", "") + "\n".join(ROWS) + "\n",
            ["row 10, column B", "without a unit", "filtrate volume [mL]"],
        ),
        (
            HEAD.replace("50,kPa", "50,s") + "\n".join(ROWS) + "\n",
            ["row 4, column B ('pressure')", "unit 's'"],
        ),
        (
            HEAD.replace("50,kPa", "50") + "\n".join(ROWS) + "\n",
            ["row 4, column B ('pressure')", "50 without a unit", "kPa"],
        ),
        (
            HEAD.replace("50,kPa", "50,MPa").replace("63.6,cm2", "63.6,m2") + "\n".join(ROWS),
            ["row 5, 'filter area'", "check the number and its unit"],
        ),
        (
            HEAD.replace("pressure,50,kPa\n", "") + "\n".join(ROWS) + "\n",
            ["'pressure'", "nothing", "a number in kPa"],
        ),
        (
            HEAD.replace("\npressure", "\npresure") + "\n".join(ROWS) + "\n",
            ["row 4", "'presure'", "correct the spelling"],
        ),
        (
            HEAD.replace("filtration_pressure", "filtration_presure") + "\n".join(ROWS) + "\n",
            ["row 2, 'kind'", "did you mean 'filtration_pressure'"],
        ),
        (HEAD.split("readings")[0], ["no row 'readings'"]),
    ],
)
def test_faults_name_their_place(tmp_path: Path, text: str, parts: list[str]) -> None:
    """Time or volume going back, words, units, gaps, commas, one point: all with row and column."""
    told = _fault_text(tmp_path, text)
    for part in parts:
        assert part in told, told


def test_every_fault_of_a_sheet_comes_at_once(tmp_path: Path) -> None:
    """Two wrong cells and a missing head entry make three faults."""
    text = _with(1, "x,40").replace("pressure,50,kPa\n", "").replace("64,80", "64,y")
    found = _findings(tmp_path, text)
    assert len(found.bad[0].faults) == 2
    assert {"text 'x'", "text 'y'"} == {fault.got for fault in found.bad[0].faults}


def test_declared_decimal_commas_are_read(tmp_path: Path) -> None:
    """A sheet that says so may use decimal commas with another separator."""
    text = (HEAD + "\n".join(ROWS) + "\n").replace(",", ";").replace("1.8", "1,8")
    text = text.replace("63.6", "63,6").replace("test;F1", "test;F1\ndecimal;comma")
    read = _read(tmp_path, text)
    assert not read.bad
    assert read.tests[0].number("feed_solids") == pytest.approx(0.018)


SUCTION = """test,S1
kind,capillary_suction
sludge,s
temperature,20,degC
feed solids,1.8,%
readings
what,suction time [s]
sample,20
sample,21
sample,22
"""
JARS = """test,J1
kind,dose_response
sludge,s
polymer,A
feed solids,1.8,%
temperature,20,degC
water blank,7,s
readings
dose [kg/t],suction time [s]
"""


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        (SUCTION, ["no row marked blank", "measure a blank"]),
        (SUCTION.replace("sample,22", "sampel,22"), ["row 10, column A (what)", "'sampel'"]),
        (JARS + "2,30\n6,20\n4,25\n8,22\n10,24\n", ["row 12, column A (dose)", "4 kg/t after 6"]),
        (JARS + "2,30\n4,30\n6,30\n8,30\n10,30\n", ["column B (suction time)", "zero variance"]),
        (JARS + "4,30\n4,31\n4,29\n4,30\n4,28\n", ["column A (dose)", "zero variance"]),
        (JARS.replace("water blank,7,s\n", "") + "2,30\n4,29\n6,28\n8,29\n10,30\n",
         ["'water blank'", "measure a blank"]),
        (JARS.replace("suction time [s]", "remark") + "2,a\n4,b\n6,c\n8,d\n10,e\n",
         ["no response column", "one or more of"]),
    ],
)  # fmt: skip
def test_faults_of_other_tests(tmp_path: Path, text: str, parts: list[str]) -> None:
    """Missing blank, dose out of order, zero variance, no response."""
    told = _fault_text(tmp_path, text)
    for part in parts:
        assert part in told, told


def test_one_id_for_two_tests_excludes_both(tmp_path: Path) -> None:
    """Two sheets with the same id: both are listed, each naming the other's place."""
    (tmp_path / "other.csv").write_text(SETTLED.replace("150", "151"), encoding="utf-8")
    (tmp_path / "day.csv").write_text(SETTLED, encoding="utf-8")
    good = tmp_path / "good.csv"
    good.write_text(SETTLED.replace("V1", "V2"), encoding="utf-8")
    read = read_bench_files([tmp_path / "day.csv", tmp_path / "other.csv", good])
    found = evaluate_bench(read.tests, read.bad)
    assert [fit.id for fit in found.sludges[0].fits] == ["V2"]
    told = [str(bad.faults[0]) for bad in found.bad]
    assert len(told) == 2
    assert "day.csv, row 1" in told[0]
    assert "also used in other.csv" in told[0]
    assert "also used in day.csv" in told[1]


def _workbook(path: Path, *, merge: bool) -> None:
    book = xlsxwriter.Workbook(str(path))
    sheet = book.add_worksheet("Funnel")
    for number, line in enumerate((HEAD + "\n".join(ROWS)).splitlines()):
        for column, word in enumerate(line.split(",")):
            try:
                sheet.write_number(number, column, float(word))
            except ValueError:
                sheet.write_string(number, column, word)
    if merge:
        sheet.merge_range(11, 1, 12, 1, 40)
    other = book.add_worksheet("Cylinder")
    for number, line in enumerate(SETTLED.splitlines()):
        for column, word in enumerate(line.split(",")):
            other.write(number, column, float(word) if word.isdigit() else word)
    book.close()


def test_workbook_reads_like_csv(tmp_path: Path) -> None:
    """The same readings from a workbook give the same test."""
    _workbook(tmp_path / "day.xlsx", merge=False)
    read = read_bench_files([tmp_path / "day.xlsx"])
    assert [test.id for test in read.tests] == ["F1", "V1"]
    assert read.tests[0].places.sheet == "Funnel"
    csv = _read(tmp_path, HEAD + "\n".join(ROWS) + "\n").tests[0]
    assert list(csv.columns["filtrate"]) == pytest.approx(list(read.tests[0].columns["filtrate"]))


def test_merged_cells_are_named(tmp_path: Path) -> None:
    """Merged cells hide a reading: sheet, row, column told; the other sheet is still read."""
    _workbook(tmp_path / "day.xlsx", merge=True)
    read = read_bench_files([tmp_path / "day.xlsx"])
    assert [test.id for test in read.tests] == ["V1"]
    told = str(read.bad[0].faults[0])
    assert "day.xlsx, sheet 'Funnel', row 12, column B" in told
    assert "merged cells B12:B13" in told


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("readings.docx", b"x", "allowed: .csv, .xlsx or .toml"),
        ("broken.xlsx", b"not a workbook", "is not a workbook"),
        ("broken.toml", b"a = [", "not TOML"),
    ],
)
def test_files_that_are_no_sheets(tmp_path: Path, name: str, content: bytes, words: str) -> None:
    """A file of another kind, or a damaged one, is refused with what to do."""
    (tmp_path / name).write_bytes(content)
    with pytest.raises(InputFileError, match=words):
        read_bench_files([tmp_path / name])


def test_missing_file_is_named(tmp_path: Path) -> None:
    """A file that is not there."""
    with pytest.raises(InputFileError, match=r"gone\.csv: no such file"):
        read_bench_files([tmp_path / "gone.csv"])


def test_templates_hold_every_test(tmp_path: Path) -> None:
    """Every template opens again, names its kind, and only lacks the readings."""
    assert set(template_files()) >= {"bench-sheets.xlsx", "dose-response.csv"}
    for kind in bench_kinds().values():
        read = _read(tmp_path, template_csv(kind), f"{kind.key}.csv")
        assert read.tests or read.bad
        faults = [fault for bad in read.bad for fault in bad.faults]
        assert not faults, [str(fault) for fault in faults]
        test = read.tests[0]
        assert isinstance(test, BenchTest)
        assert test.kind == kind.key
        assert test.rows == 0
    (tmp_path / "all.xlsx").write_bytes(template_xlsx())
    assert len(read_bench_files([tmp_path / "all.xlsx"]).tests) == len(bench_kinds())
