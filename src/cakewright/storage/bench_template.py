"""Empty bench sheets: what to measure, how often, in which units."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence

from cakewright.bench import BenchKind, bench_kinds

__all__ = ["template_csv", "template_files", "template_xlsx"]

_ID = {
    "solids_dish": "D1",
    "solids_filter": "T1",
    "filtration_pressure": "F1",
    "filtration_rate": "R1",
    "capillary_suction": "S1",
    "time_to_filter": "W1",
    "gravity_drainage": "G1",
    "dose_response": "J1",
    "two_products": "D1",
    "pressed_cake": "P1",
    "press_course": "C1",
    "settled_volume": "V1",
    "zone_settling": "Z1",
    "charge_titration": "Q1",
}


def _rows(kind: BenchKind) -> tuple[list[list[str]], int]:
    """Rows of a sheet and the number of the row of column heads."""
    rows = [
        [f"# {kind.title}"],
        [f"# Do: {kind.do}"],
        [f"# How often: {kind.often}"],
        [f"# Gives: {kind.gives}"],
        ["test", _ID[kind.key], "", "an id of its own for every test"],
        ["kind", kind.key, "", "leave as it is"],
        ["decimal", "point", "", "point or comma, as you type numbers"],
    ]
    for entry in kind.head:
        unit = "" if entry.text or entry.written == "1" else entry.written
        need = "" if entry.required else "(may stay empty) "
        example = f"; example: {entry.example} {unit}".rstrip() if entry.example else ""
        rows.append([entry.label, "", unit, f"{need}{entry.meaning}{example}"])
    rows.append(["readings"])
    rows.append(
        [
            c.label if c.text or c.written == "1" else f"{c.label} [{c.written}]"
            for c in kind.columns
        ]
    )
    return rows, len(rows)


def template_csv(kind: BenchKind) -> str:
    """Empty sheet of one test as CSV."""
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows(_rows(kind)[0])
    return text.getvalue()


def template_xlsx(kinds: Sequence[BenchKind] | None = None) -> bytes:
    """Workbook with one empty sheet per test."""
    import xlsxwriter

    target = io.BytesIO()
    book = xlsxwriter.Workbook(target, {"in_memory": True})
    quiet = book.add_format({"font_color": "#5a6468", "italic": True})
    strong = book.add_format({"bold": True, "bottom": 1})
    entry = book.add_format({"bg_color": "#f3efe9", "border": 1, "border_color": "#ccd2d4"})
    for kind in kinds or tuple(bench_kinds().values()):
        sheet = book.add_worksheet(kind.key)
        sheet.set_column(0, 0, 22)
        sheet.set_column(1, 5, 18)
        rows, header = _rows(kind)
        for number, row in enumerate(rows):
            if row[0].startswith("#"):
                sheet.write_string(number, 0, row[0], quiet)
                continue
            for column, text in enumerate(row):
                look = strong if number == header - 1 else None
                if column == 1 and number < header - 2:
                    look = entry
                if column == 3 and number < header - 2:
                    look = quiet
                sheet.write_string(number, column, text, look)
        for number in range(header, header + 20):
            for column in range(len(kind.columns)):
                sheet.write_blank(number, column, None, entry)
        sheet.freeze_panes(4, 0)
    book.close()
    return target.getvalue()


def template_files() -> dict[str, str | bytes]:
    """Every template by file name: one workbook with all tests, one CSV per test."""
    files: dict[str, str | bytes] = {"bench-sheets.xlsx": template_xlsx()}
    for kind in bench_kinds().values():
        files[f"{kind.key.replace('_', '-')}.csv"] = template_csv(kind)
    return files
