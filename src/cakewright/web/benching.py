"""Bench readings of a study: pasted or uploaded, fitted, and their law put into the study."""

from __future__ import annotations

import csv
import io
import re
from typing import Annotated

from fastapi import APIRouter, Query, Request, Response
from pydantic import BaseModel, StringConstraints

from cakewright.bench import bench_kind
from cakewright.errors import DataError, Fault, InputFileError
from cakewright.reports.bench_outputs import law_file_name
from cakewright.reports.numbers import Units
from cakewright.sludge.law_text import law_to_toml
from cakewright.storage.bench_template import template_csv
from cakewright.storage.store import Edit
from cakewright.storage.workbooks import check_workbook
from cakewright.web.api import StudyId
from cakewright.web.bench_view import FITS, PREFIX, bench_files, bench_view, read_sheets
from cakewright.web.desk import Desk, DeskHere, UnitsHere
from cakewright.web.models import BaseIn, SavedOut, saved_out
from cakewright.web.problems import FaultOut, fault_out

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
_MOST_LINES = 20_000
_MOST_FILES = 40


class PasteIn(BaseModel):
    """Cells as a spreadsheet puts them on the clipboard."""

    text: Annotated[str, StringConstraints(max_length=2_000_000)]


class KeptOut(BaseModel):
    """What was kept: the file's name, the tests in it, and what is wrong with others."""

    file: str
    tests: list[str]
    faults: list[FaultOut]


@router.get("/bench-sheet/{kind}")
def empty_sheet(kind: str) -> Response:
    """The empty sheet of a test, with tabs, ready to be filled in here or in a spreadsheet."""
    lines = [
        x for x in template_csv(bench_kind(kind)).splitlines() if not x.lstrip('"').startswith("#")
    ]
    rows = [row[:3] for row in csv.reader(io.StringIO("\n".join(lines)))]
    return Response(
        "\n".join("\t".join(row).rstrip() for row in rows) + "\n", media_type="text/plain"
    )


@router.post("/studies/{study}/bench/paste")
def paste(study: StudyId, body: PasteIn, desk: DeskHere, units: UnitsHere) -> KeptOut:
    """Keep pasted readings, if at least one test in them can be read."""
    if body.text.count("\n") > _MOST_LINES:
        raise InputFileError(
            f"got {body.text.count(chr(10))} rows; at most {_MOST_LINES} are taken; paste one test"
        )
    lines = [line.rstrip() for line in body.text.splitlines()]
    data = ("\n".join(lines) + "\n").encode("utf-8", "replace")
    return _keep(desk, study, data, ".csv", units)


@router.post("/studies/{study}/bench/upload")
async def upload(
    study: StudyId,
    request: Request,
    desk: DeskHere,
    units: UnitsHere,
    name: Annotated[str, Query(max_length=200)],
) -> KeptOut:
    """Keep an uploaded sheet (.csv or .xlsx)."""
    from starlette.concurrency import run_in_threadpool

    data = await request.body()
    kind = "." + name.rpartition(".")[2].lower()
    if kind not in (".csv", ".xlsx"):
        raise InputFileError(f"{name[:60]}: allowed: .csv or .xlsx; save the sheet as one of these")
    if kind == ".xlsx":
        check_workbook(data, name[:60])
    return await run_in_threadpool(_keep, desk, study, data, kind, units)


def _keep(desk: Desk, study: str, data: bytes, kind: str, units: Units) -> KeptOut:
    taken = bench_files(desk.store, study)
    if len(taken) >= _MOST_FILES:
        raise InputFileError(f"got {len(taken)} sheets already; at most {_MOST_FILES}")
    name = next(n for i in range(1, 99) if (n := f"{PREFIX}{i}{kind}") not in taken)
    read = read_sheets({name: data})
    faults = [fault for bad in read.bad for fault in bad.faults]
    if not read.tests:
        raise DataError("the readings", faults or [_no_test()])
    desk.store.attach(study, name, data)
    bench_view(desk.store, study, units)  # Fitted now, so that the page that follows is quick.
    tests = [f"{test.id} ({bench_kind(test.kind).title})" for test in read.tests]
    return KeptOut(file=name, tests=tests, faults=[fault_out(fault) for fault in faults])


def _no_test() -> Fault:
    return Fault(
        "the readings",
        "no test",
        "a head with `test` and `kind`, then `readings`, then the columns",
        "choose a test and insert its empty sheet",
    )


@router.delete("/studies/{study}/bench/{name}")
def take_out(study: StudyId, name: str, desk: DeskHere) -> dict[str, str]:
    """Take a sheet out again."""
    if not re.fullmatch(r"bench-\d{1,3}\.(csv|xlsx)", name):
        raise InputFileError(f"{name[:40]}: is no sheet of readings")
    desk.store.detach(study, name)
    return {"file": name}


@router.post("/studies/{study}/bench/adopt")
def adopt(study: StudyId, body: BaseIn, request: Request, desk: DeskHere) -> SavedOut:
    """Let the study stand on the law of its bench tests."""
    found = FITS.of(bench_files(desk.store, study))
    sludge = next((s for s in found.sludges if s.joint is not None), None)
    if sludge is None or sludge.joint is None:
        raise InputFileError("no law came of these tests: name the sludge class in a sheet's head")
    name = law_file_name(found, sludge)
    desk.store.attach(study, name, law_to_toml(sludge.joint.law).encode("utf-8"))
    author = str(request.state.author)
    saved = desk.store.edit(study, body.base, [Edit("bench.law", name)], author)
    return saved_out(saved, [])
