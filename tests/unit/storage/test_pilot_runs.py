"""Sheets of trial runs: units converted, every fault at once, capture from the filtrate."""

from __future__ import annotations

from pathlib import Path

import pytest

from cakewright.errors import DataError, InputFileError
from cakewright.storage.pilot_runs import pilot_template, read_pilot_runs

HEAD = "run,speed [1/min],back pressure [kPa],feed flow [m3/h],feed TS [%],dose [kg/t],cake TS [%]"


def sheet(tmp_path: Path, text: str, name: str = "runs.csv") -> Path:
    """A sheet on disk."""
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    return path


def test_units_reach_si(tmp_path: Path) -> None:
    """3 1/min is 0.05 1/s, 40 kPa 40 000 Pa, 11 kg/t 0.011; 1 m3/h at 1.2 % near 12 kg/h."""
    read = read_pilot_runs(
        sheet(tmp_path, f"# frame: disc 200 x 1. Invented runs.\n{HEAD}\nA,3,40,1.0,1.2,11,12.4\n")
    )
    (run,) = read.runs
    assert run.speed == pytest.approx(0.05)
    assert run.back_pressure == pytest.approx(4e4)
    assert run.dose == pytest.approx(0.011)
    assert run.dry_solids_flow * 3600 == pytest.approx(12.0, rel=0.01)
    assert run.readings["cake_solids"] == pytest.approx((0.124, 0.006))
    assert read.invented
    assert read.frame == "disc 200 x 1"


def test_capture_comes_from_the_filtrate(tmp_path: Path) -> None:
    """R = c_c (c_f - c_e) / (c_f (c_c - c_e)) by hand: 0.12*0.011/(0.012*0.119) = 0.9244."""
    text = f"{HEAD},filtrate TSS [mg/L]\nA,3,40,1.0,1.2,11,12,1000\n"
    (run,) = read_pilot_runs(sheet(tmp_path, text)).runs
    assert run.readings["capture"][0] == pytest.approx(0.9244, abs=1e-4)


def test_a_plate_setting_stands_in_for_the_pressure(tmp_path: Path) -> None:
    """Runs without a read back pressure keep the name of their plate setting."""
    text = HEAD.replace("back pressure [kPa]", "plate") + "\nA,3,hole 2,1.0,1.2,11,12\n"
    (run,) = read_pilot_runs(sheet(tmp_path, text)).runs
    assert (run.back_pressure, run.plate) == (None, "hole 2")


def test_every_fault_is_told_at_once(tmp_path: Path) -> None:
    """Missing column, wrong unit, unknown title: three faults, one message."""
    text = "run,speed [kg],colour,feed flow [m3/h],dose [kg/t],cake TS [%]\nA,3,red,1,11,12\n"
    with pytest.raises(DataError) as caught:
        read_pilot_runs(sheet(tmp_path, text))
    told = str(caught.value)
    for words in ("'feed TS'", "unit 'kg'", "'colour'", "'back pressure' or 'plate'"):
        assert words in told


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("A,3,40,1.0,1.2,11,1.0", "drier than the feed"),
        ("A,3,40,1.0,1.2,11,", "no reading"),
        ("A,abc,40,1.0,1.2,11,12", "text 'abc'"),
        ("A,3,40,1.0,120,11,12", "120 %"),
        ("A,3,40,,1.2,11,12", "no feed"),
        ("A,3,,1.0,1.2,11,12", "no plate"),
        ("A,-3,40,1.0,1.2,11,12", "-3 1/min"),
        ("A,3,40,1.0,1.2,11,12\nA,3,40,1.0,1.2,11,12", "the name twice"),
    ],
)
def test_bad_rows_are_placed(tmp_path: Path, row: str, words: str) -> None:
    """Each bad row names its run and what is wrong."""
    with pytest.raises(DataError, match=words):
        read_pilot_runs(sheet(tmp_path, f"{HEAD}\n{row}\n"))


def test_a_column_without_a_unit_is_refused(tmp_path: Path) -> None:
    """A quantity must carry its unit in the title."""
    with pytest.raises(DataError, match="no unit"):
        read_pilot_runs(sheet(tmp_path, HEAD.replace("[kPa]", "") + "\nA,3,40,1,1.2,11,12\n"))


def test_files_that_are_no_sheets(tmp_path: Path) -> None:
    """Another ending, an empty file, a broken workbook: each told as such."""
    with pytest.raises(InputFileError, match=r"allowed: \.csv, \.xlsx"):
        read_pilot_runs(sheet(tmp_path, HEAD, "runs.txt"))
    with pytest.raises(InputFileError, match="empty"):
        read_pilot_runs(sheet(tmp_path, "# nothing\n"))
    with pytest.raises(InputFileError, match="is not a workbook"):
        read_pilot_runs(sheet(tmp_path, "no zip", "runs.xlsx"))
    with pytest.raises(DataError, match="one row per run"):
        read_pilot_runs(sheet(tmp_path, HEAD + "\n"))


def test_a_workbook_reads_like_its_csv(tmp_path: Path) -> None:
    """The same rows as XLSX give the same runs."""
    import xlsxwriter

    rows: list[list[str | float]] = [[*HEAD.split(",")], ["A", 3, 40, 1.0, 1.2, 11, 12.4]]
    path = tmp_path / "runs.xlsx"
    book = xlsxwriter.Workbook(str(path))
    page = book.add_worksheet()
    for i, row in enumerate(rows):
        page.write_row(i, 0, row)
    book.close()
    text = "\n".join(",".join(str(cell) for cell in row) for row in rows)
    assert read_pilot_runs(path).runs == read_pilot_runs(sheet(tmp_path, text)).runs


def test_the_template_is_a_sheet(tmp_path: Path) -> None:
    """The empty sheet has known titles with units: only its rows are missing."""
    with pytest.raises(DataError, match="one row per run") as caught:
        read_pilot_runs(sheet(tmp_path, pilot_template()))
    assert len(caught.value.faults) == 1


def test_a_setting_that_could_not_be_held_is_kept(tmp_path: Path) -> None:
    """`ran` = no: the row stays as a limit met, without readings; other words are refused."""
    text = f"{HEAD},ran\nA,3,40,1,1.2,11,12,\nB,3,120,1,1.2,11,,no\n"
    first, second = read_pilot_runs(sheet(tmp_path, text)).runs
    assert first.ran
    assert not second.ran
    assert second.readings == {}
    with pytest.raises(DataError, match="yes, or no"):
        read_pilot_runs(sheet(tmp_path, text.replace(",no", ",perhaps")))


def test_columns_kept_for_the_record_are_passed_over(tmp_path: Path) -> None:
    """A title that begins with + is kept in the file and not read: words may stand in it."""
    text = f"{HEAD},+ gap at the plate [mm],+ weather\nA,3,40,1.0,1.2,11,12,8,rain\n"
    (run,) = read_pilot_runs(sheet(tmp_path, text)).runs
    assert run.readings["cake_solids"][0] == pytest.approx(0.12)


def test_the_protocol_example_is_read() -> None:
    """The example of the open trial protocol is a sheet the program takes as it is."""
    path = Path(__file__).parents[3] / "examples" / "pilot" / "protocol-runs.csv"
    read = read_pilot_runs(path)
    assert read.invented
    assert len(read.runs) == 8
