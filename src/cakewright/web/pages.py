"""The pages: a route parses, asks the store and the evaluations, fills one context, renders."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Request, Response
from fastapi.responses import HTMLResponse, RedirectResponse
from starlette.exceptions import HTTPException

from cakewright.bench.kinds import bench_kinds
from cakewright.errors import InputFileError
from cakewright.reports.numbers import Units
from cakewright.storage.store import StudyRecord, changed_places
from cakewright.storage.studies import DEMOS, demo_text
from cakewright.study import parse_study
from cakewright.version import __version__
from cakewright.web.api import StudyId
from cakewright.web.benching import router as bench_router
from cakewright.web.chapters import CHAPTERS, chapter_of
from cakewright.web.contexts import (
    ComparePage,
    HistoryPage,
    HomePage,
    InputRow,
    StudyPage,
    TextPage,
    compare_rows,
    headline_of,
    results_of,
    sludge_words,
)
from cakewright.web.desk import Desk, DeskHere, UnitsHere
from cakewright.web.downloads import DRAWINGS, GUARANTEES, download
from cakewright.web.forms import basis_choices, form_sections, loose_faults
from cakewright.web.guard import HEALTH
from cakewright.web.live import router as live_router
from cakewright.web.rendering import render, static_file, static_version
from cakewright.web.running import own_results, view_of
from cakewright.web.running import router as running_router
from cakewright.web.runs import Outcome
from cakewright.web.tuning import router as tuning_router
from cakewright.web.weeks import router as weeks_router
from cakewright.web.weeks import weeks_of, with_weeks

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
router.include_router(bench_router)
router.include_router(weeks_router)
router.include_router(running_router)
router.include_router(tuning_router)
router.include_router(live_router)


@router.get(HEALTH)
def health(desk: DeskHere) -> dict[str, str]:
    """Whether the store answers; for whoever watches over the server."""
    desk.store.secret()
    return {"status": "ok", "version": __version__}


@router.get("/")
def home(request: Request, desk: DeskHere, units: UnitsHere) -> HTMLResponse:
    """The studies, and where to start."""
    page = HomePage(
        shell=desk.shell(request, units),
        studies=desk.store.list(),
        removed=desk.store.list(removed=True),
        demos=tuple(_demo(name) for name in DEMOS),
    )
    return HTMLResponse(render("home.html", page=page))


def _demo(name: str) -> tuple[str, str, str]:
    study = parse_study(demo_text(name), name)
    return name, study.word("title"), study.word("note")


@router.get("/static/{name}")
def static(name: str, request: Request, v: str = "") -> Response:
    """Our own style and script; a browser asks again unless the address carries the content."""
    found, mark = static_file(name), static_version(name)
    if found is None:
        raise HTTPException(404)
    kept = "max-age=31536000, immutable" if v == mark else "no-cache"
    headers = {"cache-control": kept, "etag": f'"{mark}"'}
    if request.headers.get("if-none-match") == headers["etag"]:
        return Response(status_code=304, headers=headers)
    return Response(found[0], media_type=found[1], headers=headers)


@router.get("/favicon.ico")
def favicon(request: Request) -> Response:
    """The sign of the house."""
    return static("sign.svg", request)


@router.get("/compare")
def compare(
    request: Request,
    desk: DeskHere,
    units: UnitsHere,
    left: Annotated[str, Query(max_length=40)],
    right: Annotated[str, Query(max_length=40)],
) -> HTMLResponse:
    """Two studies side by side."""
    records = desk.store.get(left), desk.store.get(right)
    outcomes = desk.full(left, press=False), desk.full(right, press=False)
    heads = headline_of(outcomes[0], units), headline_of(outcomes[1], units)
    page = ComparePage(
        shell=desk.shell(request, units),
        left=records[0],
        right=records[1],
        left_head=heads[0],
        right_head=heads[1],
        rows=compare_rows(outcomes[0].findings, outcomes[1].findings, heads, units),
        inputs=_input_rows(desk.text(left), desk.text(right)),
        studies=desk.store.list(),
    )
    return HTMLResponse(render("compare.html", page=page))


def _input_rows(left: str, right: str) -> tuple[InputRow, ...]:
    try:
        places, back = changed_places(left, right), changed_places(right, left)
    except InputFileError:
        return ()
    return tuple(
        InputRow(sludge_words([place]), _said(back.get(place)), _said(places[place]))
        for place in places
        if place != "title"
    )


def _said(value: object) -> str:
    if value is None:
        return "not given"
    if isinstance(value, dict):
        written = value.get("value", " .. ".join(str(v) for v in value.values()))
        basis = f" ({value['basis']})" if "basis" in value else ""
        return f"{written}{basis}"
    return str(value)


@router.get("/studies/{study}")
def study_front(study: StudyId) -> RedirectResponse:
    """A study opens at its first chapter."""
    return RedirectResponse(f"/studies/{study}/{CHAPTERS[0].key}", 303)


@router.get("/studies/{study}/text")
def text_page(study: StudyId, request: Request, desk: DeskHere, units: UnitsHere) -> HTMLResponse:
    """The study as text."""
    record, outcome = desk.store.get(study), desk.best(study)
    page = TextPage(
        shell=desk.shell(request, units),
        record=record,
        headline=headline_of(outcome, units),
        text=desk.text(study, record.version),
        stage=stage_of(outcome),
        faults=outcome.faults,
        files=desk.store.attached(study),
    )
    return HTMLResponse(render("text.html", page=page))


@router.get("/studies/{study}/history")
def history(study: StudyId, request: Request, desk: DeskHere, units: UnitsHere) -> HTMLResponse:
    """Every confirmed change, and what was refused and kept."""
    kept = tuple(
        (k.number, k.base, k.at, sludge_words(k.places) + "\n" + k.data.decode("utf-8", "replace"))
        for k in desk.store.kept(study)
    )
    outcome = desk.best(study)
    page = HistoryPage(
        shell=desk.shell(request, units),
        record=desk.store.get(study),
        headline=headline_of(outcome, units),
        stage=stage_of(outcome),
        revisions=desk.store.history(study),
        kept=kept,
    )
    return HTMLResponse(render("history.html", page=page))


@router.get("/studies/{study}/files/{name}")
def file(
    study: StudyId, name: str, desk: DeskHere, units: UnitsHere, view: bool = False
) -> Response:
    """A document of this study."""
    return download(desk, study, name, units, view=view)


@router.get("/studies/{study}/{chapter}")
def chapter_page(
    study: StudyId, chapter: str, request: Request, desk: DeskHere, units: UnitsHere
) -> HTMLResponse:
    """One chapter: inputs on one side, results on the other."""
    record = desk.store.get(study)
    page = study_page(desk, request, record, chapter, units)
    return HTMLResponse(render("study.html", page=page, bases=basis_choices()))


def study_page(
    desk: Desk, request: Request, record: StudyRecord, key: str, units: Units
) -> StudyPage:
    """Context of a chapter as it stands."""
    chapter = chapter_of(key)
    if chapter is None:
        raise HTTPException(404)
    text, files = desk.text(record.id, record.version), desk.files(record.id)
    outcome = with_weeks(desk, record.id, text, files, desk.runs.best(text, files))
    broken = ""
    try:
        forms = form_sections(text, chapter.sections, outcome.study, outcome.faults, units)
    except InputFileError as error:
        forms, broken = (), str(error)
    own = own_results(desk, record.id, key, units)
    bench = own if key == "bench" else None
    return StudyPage(
        shell=desk.shell(request, units),
        record=record,
        chapter=chapter,
        headline=headline_of(outcome, units),
        results=results_of(chapter, outcome, units, own),
        forms=forms,
        loose=loose_faults(forms, outcome.faults),
        broken=broken,
        stage=stage_of(outcome),
        bench=bench,
        line_missing=outcome.findings.line_missing if outcome.findings else "",
        drawings=DRAWINGS if outcome.findings and outcome.findings.line else (),
        guarantees=GUARANTEES if key == "guarantee" and outcome.findings else (),
        running=view_of(desk, record.id, units) if key == "running" else None,
        weeks=weeks_of(desk, record.id, text, files),
        kinds=tuple((k.key, k.title) for k in bench_kinds().values()) if bench else (),
    )


def stage_of(outcome: Outcome) -> str:
    """Which state of knowledge a page shows."""
    if outcome.findings is None:
        return "faults"
    return outcome.stage.value
