"""Filled-in bid forms -> offers; a form with changed cells, formulas or macros is refused."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Sequence
from pathlib import Path

from cakewright.errors import Fault, StudyError, foreign
from cakewright.jobs.offer_text import FORM_MARK, Offer, bid_rows, offers_of_rows
from cakewright.jobs.offers import OffersFindings, compare_offers
from cakewright.storage.evaluation import frames_of, law_of
from cakewright.storage.studies import read_study
from cakewright.storage.workbooks import check_workbook, workbook_sheets

__all__ = ["bids_compared", "read_bid"]

_FIRST = 3  # rows above the first to fill in
_FORMULA = re.compile(rb"<(?:\w+:)?f[\s>]")


def bids_compared(study: Path, forms: Sequence[Path]) -> OffersFindings:
    """The bids of some forms on the study they were sent out for.

    Raises
    ------
    StudyError
        With every fault of the first form that cannot be taken.
    """
    read = read_study(study)
    folder = study.resolve().parent
    offers: list[Offer] = []
    for path in forms:
        offers += read_bid(path.read_bytes(), path.name, read.word("currency"))
    return compare_offers(read, offers, frames_of(read, folder), law_of(read, folder))


@foreign("a bid form")
def read_bid(data: bytes, name: str, currency: str) -> tuple[Offer, ...]:
    """The offer of one form; what is left empty is left out of it.

    Raises
    ------
    StudyError
        If keys or order were changed, a cell holds a formula, the file carries macros, or a value
        cannot be read.
    InputFileError
        If it is no workbook, or one of an unreasonable size.
    """
    check_workbook(data, name)
    _no_code(data, name)
    sheet = workbook_sheets(data, name, 1)[0]
    rows = [[*row, *[""] * 5][:5] for row in sheet.rows]
    if not rows or rows[0][4] != FORM_MARK:
        got = repr(rows[0][4])[:40] if rows else "an empty sheet"
        fault = Fault("cell E1", got, FORM_MARK, "fill in the form as it was sent")
        raise StudyError(name, [fault])
    expected = bid_rows(currency)
    keys = [str(row[4]) for row in rows[_FIRST : _FIRST + len(expected)]]
    faults = [
        Fault(f"cell E{_FIRST + at + 1}", repr(got)[:40], row.key, "undo the change of the form")
        for at, (row, got) in enumerate(zip(expected, [*keys, *[""] * len(expected)], strict=False))
        if got != row.key
    ]
    if faults:
        raise StudyError(name, faults)
    offer: dict[str, object] = {"name": name.rpartition(".")[0] or name}
    test: dict[str, object] = {}
    for row, cells in zip(expected, rows[_FIRST:], strict=False):
        value = cells[2]
        if value in ("", None):
            continue
        section, _, key = row.key.rpartition(".")
        (test if section else offer)[key] = _said(value, row.unit)
    if test:
        offer["test"] = test
    return offers_of_rows([offer], name, currency)


def _said(value: object, unit: str) -> object:
    """A cell as an offer would say it: a bare number gets the unit of its row."""
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return str(value)
    return f"{float(value)!r} {unit}".strip() if unit else int(value)


def _no_code(data: bytes, name: str) -> None:
    with zipfile.ZipFile(io.BytesIO(data)) as parts:
        names = parts.namelist()
        macros = [each for each in names if each.lower().endswith("vbaproject.bin")]
        if macros:
            fault = Fault(macros[0], "macros", "a form without macros", "save it as .xlsx")
            raise StudyError(name, [fault])
        for each in names:
            if each.startswith("xl/worksheets/") and _FORMULA.search(parts.read(each)):
                fault = Fault(each, "a formula", "values only", "paste the values in its place")
                raise StudyError(name, [fault])
