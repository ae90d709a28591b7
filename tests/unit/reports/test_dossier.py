"""The dossier of a line, and the bid form that goes out with it and comes back filled in."""

from __future__ import annotations

import io
import zipfile
from dataclasses import replace
from typing import Any

import openpyxl
import pytest

from cakewright.errors import InfeasibleError, StudyError
from cakewright.jobs.findings import Findings
from cakewright.jobs.offer_text import bid_rows
from cakewright.line.design import streams_of
from cakewright.reports.bid_form import bid_form
from cakewright.reports.book import Book
from cakewright.reports.dossier import dossier_documents, register_rows
from cakewright.reports.line_tables import cables, inputs_outputs
from cakewright.reports.numbers import Units
from cakewright.storage.bid_forms import read_bid
from cakewright.storage.deciding import decided_file


@pytest.fixture(scope="module")
def found() -> Findings:
    """The soy works with few samples and a document number."""
    return replace(decided_file(None, "soy", samples=16), document={"number": "DW-1"})


@pytest.fixture(scope="module")
def form(found: Findings) -> bytes:
    """Its empty bid form."""
    assert found.line is not None
    return bid_form(Book(found, Units.SI), found.line)


def _filled(form: bytes, **values: Any) -> bytes:
    book = openpyxl.load_workbook(io.BytesIO(form))
    for row in book["Bid"].iter_rows(min_row=4):
        if (key := str(row[4].value)) in values:
            row[2].value = values[key]
    kept = io.BytesIO()
    book.save(kept)
    return kept.getvalue()


BID = {
    "machine": "decanter", "means": "guaranteed", "cake_solids": 21, "polymer": "9 kg/t",
    "price": 210000, "test.kind": "pilot", "test.sludge": "this site's", "test.total_solids": 3.1,
}  # fmt: skip


def test_every_document_is_on_the_register(found: Findings) -> None:
    """Numbers run without a gap, every file is named once, the page names them all."""
    files = dossier_documents(found)
    rows = register_rows(found, tuple(files)[1:])
    assert [row[0] for row in rows] == [f"DW-1-{n:02d}" for n in range(1, len(rows) + 1)]
    assert {row[2] for row in rows} | {"register.html"} == set(files)
    page = str(files["register.html"])
    assert all(row[2] in page for row in rows)
    pages = [data for name, data in files.items() if name.endswith(".pdf")]
    assert all(isinstance(data, bytes) and data.startswith(b"%PDF") for data in pages)


def test_lists_hold_what_the_line_holds(found: Findings) -> None:
    """One cable to each motor and signal, one row for each signal; each case closes."""
    line = found.line
    assert line is not None
    assert len(cables(line).rows) == len(line.motors) + len(line.signals)
    assert len(inputs_outputs(line).rows) == len(line.signals)
    for case in line.cases:
        assert max(map(abs, streams_of(line, case.key).closures.values())) < 1e-9


def test_no_line_no_dossier(found: Findings) -> None:
    """Without a line it is refused, and nothing half-written comes out."""
    with pytest.raises(InfeasibleError, match="no dossier"):
        dossier_documents(replace(found, line=None))


def test_filled_form_is_read_back(form: bytes) -> None:
    """What the bidder wrote arrives in SI; what was left empty is left out."""
    (offer,) = read_bid(_filled(form, **BID), "bidder-a.xlsx", "EUR")
    assert (offer.name, offer.machine, offer.means) == ("bidder-a", "decanter", "guaranteed")
    assert offer.figures["cake_solids"] == pytest.approx(0.21)
    assert offer.figures["polymer"] == pytest.approx(0.009)
    assert "capture" not in offer.figures
    assert offer.test is not None
    assert offer.test.own_sludge
    assert offer.test.total_solids == pytest.approx(0.031)


def test_rows_of_the_form_are_those_asked_for(form: bytes) -> None:
    """The form asks for all that an offer can say, in the order it is read back."""
    sheet = openpyxl.load_workbook(io.BytesIO(form))["Bid"]
    keys = [row[4].value for row in sheet.iter_rows(min_row=4)]
    assert keys == [row.key for row in bid_rows("EUR")]
    assert sheet.protection.sheet


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"cake_solids": "21 kg"}, "cake_solids"),
        ({"cake_solids": "=20+1"}, "a formula"),
        ({"machine": "mangle"}, "multi_disc_screw_press"),
    ],
)
def test_what_cannot_be_taken_is_named(form: bytes, change: dict[str, Any], told: str) -> None:
    """A value of another kind, a formula, an unknown machine."""
    with pytest.raises(StudyError, match=told):
        read_bid(_filled(form, **{**BID, **change}), "b.xlsx", "EUR")


def test_changed_form_and_macros_are_refused(form: bytes) -> None:
    """A key that was moved is named with its cell; a file with macros is refused."""
    book = openpyxl.load_workbook(io.BytesIO(form))
    book["Bid"]["E6"] = "something else"
    kept = io.BytesIO()
    book.save(kept)
    with pytest.raises(StudyError, match="cell E6"):
        read_bid(kept.getvalue(), "b.xlsx", "EUR")
    with zipfile.ZipFile(added := io.BytesIO(form), "a") as parts:
        parts.writestr("xl/vbaProject.bin", b"x")
    with pytest.raises(StudyError, match="macros"):
        read_bid(added.getvalue(), "b.xlsx", "EUR")
