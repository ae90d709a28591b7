"""Catalogues of frames from files, good and bad."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Sequence
from pathlib import Path

import pytest

from cakewright.errors import DataError, InputFileError
from cakewright.machines import Frame
from cakewright.storage.catalogue import read_catalogue

TITLES = (
    "name machine belt_width_m solids_limit_kg_h hydraulic_limit_m3_h drive_power_kW "
    "auxiliary_power_kW wash_flow_L_min wash_pressure_bar mass_empty_kg mass_full_kg length_m "
    "width_m height_m sound_level_dBA budget_price currency price_year"
)
CELLS = "mine belt_press 1.5 165 15 1.9 6.1 120 6 4000 5000 4.3 2.5 2.1 76 100000 EUR 2026"
HEAD, ROW = TITLES.split(), CELLS.split()


def _toml(path: Path, rows: Sequence[Sequence[str]]) -> Path:
    words = {"name", "machine", "currency"}
    tables = [
        "[[frame]]\n"
        + "\n".join(
            f'{key} = "{cell}"' if key in words else f"{key} = {cell}"
            for key, cell in zip(HEAD, row, strict=True)
        )
        for row in rows
    ]
    path.write_text("\n".join(tables), encoding="utf-8")
    return path


def _csv(path: Path, rows: Sequence[Sequence[str]], separator: str = ",") -> Path:
    lines = [separator.join(row) for row in (HEAD, *rows)]
    path.write_text("# a remark\n" + "\n".join(lines) + "\n\n", encoding="utf-8-sig")
    return path


def _xlsx(path: Path, rows: Sequence[Sequence[str]]) -> Path:
    import xlsxwriter

    book = xlsxwriter.Workbook(str(path))
    sheet = book.add_worksheet()
    for number, row in enumerate((HEAD, *rows)):
        for column, cell in enumerate(row):
            try:
                sheet.write_number(number, column, float(cell))
            except ValueError:
                sheet.write_string(number, column, cell)
    book.close()
    return path


def test_three_kinds_of_file_give_one_catalogue(tmp_path: Path) -> None:
    """TOML, CSV and XLSX with the same rows give the same frames."""
    rows = [ROW, ["other", *ROW[1:]]]
    found: list[tuple[Frame, ...]] = [
        read_catalogue(_toml(tmp_path / "a.toml", rows)),
        read_catalogue(_csv(tmp_path / "a.csv", rows)),
        read_catalogue(_xlsx(tmp_path / "a.xlsx", rows)),
    ]
    assert [frame.name for frame in found[0]] == ["mine", "other"]
    assert found[0] == found[1] == found[2]


def test_semicolons_with_decimal_commas_are_read(tmp_path: Path) -> None:
    """What spreadsheets write where the comma is the decimal sign gives the same frame."""
    european = [cell.replace(".", ",") for cell in ROW]
    plain = read_catalogue(_csv(tmp_path / "a.csv", [ROW]))
    assert read_catalogue(_csv(tmp_path / "b.csv", [european], ";")) == plain


def test_faults_of_rows_are_told_at_once_with_the_file_name(tmp_path: Path) -> None:
    """A name used twice and a number out of range come together."""
    bad = list(ROW)
    bad[HEAD.index("belt_width_m")] = "50"
    with pytest.raises(DataError) as caught:
        read_catalogue(_csv(tmp_path / "bad.csv", [ROW, ROW, bad]))
    assert "bad.csv row 2: name" in str(caught.value)
    assert "bad.csv row 3: belt_width_m: got 50" in str(caught.value)


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("a.ods", b"x", "allowed: .toml, .csv, .xlsx"),
        ("a.toml", b"frame = [", "not valid TOML"),
        ("a.toml", b"title = 1", r"no \[\[frame\]\] tables"),
        ("a.toml", b"x = 1\n[[frame]]\nname='a'", r"x outside any \[\[frame\]\]"),
        ("a.toml", b"\xff\xfe\x00", "not UTF-8"),
        ("a.csv", b"a,b\x00", "binary file"),
        ("a.csv", b"\n# only a remark\n", "empty"),
        ("a.csv", b"name,name\n1,2", "column name occurs twice"),
        ("a.csv", b"name,machine\n1,2,3", "line 2 has more cells"),
        ("a.csv", b'name,machine\n"a,2', "not valid CSV"),
        ("a.xlsx", b"not a zip", "is not a workbook"),
        ("a.csv", b"#" * 5_000_001, "larger than 5 MB"),
    ],
)
def test_files_that_are_not_catalogues(
    tmp_path: Path, name: str, content: bytes, words: str
) -> None:
    """Wrong kind, encoding, size or shape is refused in words, with the file's name."""
    file = tmp_path / name
    file.write_bytes(content)
    with pytest.raises(InputFileError, match=words) as caught:
        read_catalogue(file)
    assert str(caught.value).startswith(name)


def test_a_missing_file_and_a_folder_are_refused(tmp_path: Path) -> None:
    """No file, or a folder of that name, is an input error without a path of the machine."""
    with pytest.raises(InputFileError, match=r"gone\.csv: no such file"):
        read_catalogue(tmp_path / "gone.csv")
    (tmp_path / "folder.csv").mkdir()
    with pytest.raises(InputFileError, match=r"folder\.csv") as caught:
        read_catalogue(tmp_path / "folder.csv")
    assert str(tmp_path) not in str(caught.value)


def test_a_zip_bomb_is_refused_before_it_is_unpacked(tmp_path: Path) -> None:
    """A small workbook that unpacks to a hundred times the limit is refused."""
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/worksheets/sheet1.xml", b"0" * 120_000_000)
    file = tmp_path / "bomb.xlsx"
    file.write_bytes(packed.getvalue())
    with pytest.raises(InputFileError, match="unpacks to"):
        read_catalogue(file)
