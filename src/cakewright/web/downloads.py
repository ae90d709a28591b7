"""The documents of a study, handed out under plain names."""

from __future__ import annotations

import re
from collections.abc import Callable

from fastapi import Response
from starlette.exceptions import HTTPException

from cakewright.errors import FaultsError, InfeasibleError
from cakewright.jobs.findings import Findings
from cakewright.reports.book import Book
from cakewright.reports.findings_json import findings_json
from cakewright.reports.guarantee_documents import guarantee_documents
from cakewright.reports.html import write_html
from cakewright.reports.line_drawings import drawing_files
from cakewright.reports.numbers import Units
from cakewright.reports.pdf import render_annexes, render_pdf
from cakewright.reports.workbook import write_workbook
from cakewright.storage.logs.trial_files import rule_file
from cakewright.web.desk import Desk
from cakewright.web.weeks import with_weeks

__all__ = ["DOCUMENTS", "DRAWINGS", "GUARANTEES", "download"]

_XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
# The report carries its own style inside; nothing else may run or load in it.
_REPORT_POLICY = "sandbox; default-src 'none'; style-src 'unsafe-inline'; img-src data:"

Maker = Callable[[Findings, Units], str | bytes]
DOCUMENTS: dict[str, tuple[str, Maker]] = {
    "report.html": ("text/html; charset=utf-8", write_html),
    "report.pdf": ("application/pdf", render_pdf),
    "annexes.pdf": ("application/pdf", render_annexes),
    "workbook.xlsx": (_XLSX, write_workbook),
    "findings.json": ("application/json", lambda findings, _: findings_json(findings)),
}
# The same documents that `cakewright guarantee` writes.
GUARANTEES = (
    ("guarantee.pdf", "Guarantee sheet", "PDF, to go with an offer"),
    ("guarantee.html", "Guarantee sheet", "one web page"),
    ("protocol.pdf", "Test protocol", "PDF, to fill in and sign"),
    ("protocol.html", "Test protocol", "one web page"),
    ("protocol.toml", "Rule of the test", "the file that judges its samples"),
)
_KINDS = {
    "pdf": "application/pdf",
    "html": "text/html; charset=utf-8",
    "toml": "application/toml",
}
DRAWINGS = (
    ("flow-diagram.svg", "Flow diagram"),
    ("flow-diagram.dxf", "Flow diagram"),
    ("instrument-diagram-1.svg", "Piping and instrument diagram, sheet 1"),
    ("instrument-diagram-1.dxf", "Piping and instrument diagram, sheet 1"),
    ("instrument-diagram-2.svg", "Piping and instrument diagram, sheet 2"),
    ("instrument-diagram-2.dxf", "Piping and instrument diagram, sheet 2"),
    ("plot-plan.svg", "Plot plan"),
    ("plot-plan.dxf", "Plot plan"),
    ("sections.svg", "Sections"),
    ("sections.dxf", "Sections"),
    ("levels.svg", "Levels"),
    ("levels.dxf", "Levels"),
)
_DRAWN = {"svg": "image/svg+xml", "dxf": "image/vnd.dxf"}


def download(desk: Desk, study: str, name: str, units: Units, *, view: bool) -> Response:
    """A document of a study as a file, or the report to look at.

    Raises
    ------
    FaultsError
        If the study has faults.
    InfeasibleError
        If there is no answer to report.
    """
    record = desk.store.get(study)
    stem = re.sub(r"[^A-Za-z0-9]+", "-", record.title).strip("-").lower()[:60] or "study"
    if name == "study.toml":
        return _file(desk.store.data(study), "application/toml", f"{stem}.toml")
    drawn, promised = name in dict(DRAWINGS), name in [each for each, *_ in GUARANTEES]
    if name not in DOCUMENTS and not drawn and not promised:
        raise HTTPException(404)
    outcome = desk.full(study, press=not promised)
    if outcome.faults:
        raise FaultsError("the study", outcome.faults)
    if outcome.findings is None:
        raise InfeasibleError(outcome.problem)
    if drawn:
        return _drawing(outcome.findings, units, name, stem)
    if promised:
        return _guarantee(outcome.findings, units, name, stem)
    whole = with_weeks(desk, study, desk.text(study), desk.files(study), outcome)
    kind, make = DOCUMENTS[name]
    made = make(whole.findings or outcome.findings, units)
    data = made.encode("utf-8") if isinstance(made, str) else made
    if view and name == "report.html":
        return Response(data, media_type=kind, headers={"content-security-policy": _REPORT_POLICY})
    return _file(data, kind, f"{stem}-{name}")


def _guarantee(findings: Findings, units: Units, name: str, stem: str) -> Response:
    rule = name == "protocol.toml"
    made = rule_file(findings) if rule else guarantee_documents(findings, units)[name]
    data = made.encode("utf-8") if isinstance(made, str) else made
    return _file(data, _KINDS[name.rpartition(".")[2]], f"{stem}-{name}")


def _drawing(findings: Findings, units: Units, name: str, stem: str) -> Response:
    files = drawing_files(Book(findings, units))
    if name not in files:
        raise InfeasibleError(f"{name}: no line was designed for this study, so none is drawn")
    return _file(files[name].encode("utf-8"), _DRAWN[name.rpartition(".")[2]], f"{stem}-{name}")


def _file(data: bytes, kind: str, name: str) -> Response:
    disposition = f'attachment; filename="{name}"'
    return Response(data, media_type=kind, headers={"content-disposition": disposition})
