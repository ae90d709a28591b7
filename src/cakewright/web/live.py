"""What a page asks while it is open: save this, what is new, what is behind this figure."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from fastapi import APIRouter, Query, Request, Response
from fastapi.responses import HTMLResponse
from starlette.exceptions import HTTPException

from cakewright.errors import InputFileError
from cakewright.reports.book import Book
from cakewright.reports.chapters.annex import annex
from cakewright.reports.content import Calculation, Calculations
from cakewright.reports.numbers import Units
from cakewright.sources import sources
from cakewright.storage.store import StudyRecord
from cakewright.web.api import StudyId
from cakewright.web.bench_view import BenchView
from cakewright.web.chapters import Chapter, chapter_of
from cakewright.web.contexts import headline_of, results_of
from cakewright.web.desk import Desk, DeskHere, UnitsHere
from cakewright.web.forms import FormSection, basis_choices, form_sections, loose_faults
from cakewright.web.models import BaseIn, EditsIn, Live, edit_of
from cakewright.web.rendering import fault_words, render
from cakewright.web.running import own_results
from cakewright.web.runs import Files, Outcome, Stage, before
from cakewright.web.weeks import with_weeks

__all__ = ["router"]

router = APIRouter()


@router.post("/studies/{study}/{chapter}/edit")
def edit(
    study: StudyId,
    chapter: str,
    body: EditsIn,
    request: Request,
    desk: DeskHere,
    units: UnitsHere,
) -> Live:
    """Save edits; answers with the headline, and the page asks at once for the chapter."""
    edits = [edit_of(each) for each in body.edits]
    desk.runs.give_up(study)
    saved = desk.store.edit(study, body.base, edits, str(request.state.author))
    # Other fields may have changed too when edits were merged or the shape of the form moved.
    whole = saved.merged or any(each.action != "set" or each.part != "value" for each in edits)
    whole = whole or any(_shapes_form(each.place) for each in edits)
    return _live(
        desk, saved.record, chapter, units, whole=whole, merged=saved.merged, head_first=True
    )


def _shapes_form(place: str) -> bool:
    return place.endswith((".kind", ".class", ".name", "currency"))


@router.post("/studies/{study}/{chapter}/{step}")
def walk(
    study: StudyId,
    chapter: str,
    step: str,
    body: BaseIn,
    request: Request,
    desk: DeskHere,
    units: UnitsHere,
) -> Live:
    """Undo or redo; answers with the headline and the inputs."""
    if step not in ("undo", "redo"):
        raise HTTPException(404)
    desk.runs.give_up(study)
    move = desk.store.undo if step == "undo" else desk.store.redo
    saved = move(study, body.base, str(request.state.author))
    return _live(desk, saved.record, chapter, units, whole=True, head_first=True)


@router.get("/studies/{study}/{chapter}/live")
def live(
    study: StudyId,
    chapter: str,
    desk: DeskHere,
    units: UnitsHere,
    version: Annotated[int, Query(ge=0)] = 0,
    stage: Literal["", "head", "point", "bands", "decided", "whole", "faults"] = "",
) -> Response:
    """What is new since a version and a stage; nothing when nothing is."""
    record = desk.store.get(study)
    newer = record.version != version
    text, files = desk.text(study, record.version), desk.files(study)
    if not newer and stage == "faults":
        return Response(status_code=204)
    if not newer and stage not in ("", "head"):
        upto = _upto(chapter_of(chapter))
        if not before(Stage(stage), upto):
            return Response(status_code=204)
        work = desk.runs.work(study, text, files, upto)
        if work.outcome is None or work.outcome.stage == stage:
            return _json(Live(**_state(record), stage=stage, step=work.step))
    return _json(_live(desk, record, chapter, units, whole=newer, text=text, files=files))


def _upto(chapter: Chapter | None) -> Stage:
    """How far the work goes for a page: no further than what it shows."""
    return chapter.comes_at if chapter else Stage.BANDS


def _json(live: Live) -> Response:
    return Response(live.model_dump_json(), media_type="application/json")


def _state(record: StudyRecord) -> dict[str, Any]:
    return {
        "version": record.version,
        "title": record.title,
        "can_undo": record.can_undo,
        "can_redo": record.can_redo,
    }


def _live(
    desk: Desk,
    record: StudyRecord,
    key: str,
    units: Units,
    *,
    whole: bool,
    merged: bool = False,
    head_first: bool = False,
    text: str | None = None,
    files: Files | None = None,
) -> Live:
    chapter = chapter_of(key)
    text = desk.text(record.id, record.version) if text is None else text
    files = desk.files(record.id) if files is None else files
    outcome = with_weeks(desk, record.id, text, files, desk.runs.best(text, files))
    stage = "faults" if outcome.findings is None else outcome.stage.value
    if outcome.findings is not None:
        desk.runs.work(record.id, text, files, _upto(chapter))
    parts: dict[str, Any] = {}
    if chapter:
        parts = _inputs(chapter, outcome, text, units, whole=whole)
        if head_first and outcome.findings is not None:
            stage = "head"
        else:
            bench = own_results(desk, record.id, key, units)
            parts["results"] = _shown(chapter, outcome, units, bench)
    head = render("headline.html", headline=headline_of(outcome, units))
    return Live(**_state(record), stage=stage, merged=merged, headline=head, **parts)


def _shown(chapter: Chapter, outcome: Outcome, units: Units, bench: BenchView | None) -> str:
    """The chapter's results; empty while the page had better keep the old ones, greyed."""
    early = outcome.findings is not None and bench is None
    if early and chapter.slow and outcome.stage is Stage.POINT:
        return ""
    results = results_of(chapter, outcome, units, bench)
    if early and results.empty and chapter.comes_at is Stage.DECIDED and results.coming:
        return ""
    return render("results.html", results=results)


def _inputs(
    chapter: Chapter, outcome: Outcome, text: str, units: Units, *, whole: bool
) -> dict[str, Any]:
    forms: tuple[FormSection, ...] = ()
    broken = ""
    try:
        forms = form_sections(text, chapter.sections, outcome.study, outcome.faults, units)
    except InputFileError as error:
        broken = str(error)
    loose = loose_faults(forms, outcome.faults)
    parts: dict[str, Any] = {
        "faults": {fault.where: fault_words(fault) for fault in outcome.faults},
        "loose": render("loose.html", loose=loose, broken=broken),
    }
    if whole:
        parts["inputs"] = render("inputs.html", forms=forms, bases=basis_choices())
    return parts


@router.get("/studies/{study}/lines/{anchor}")
def calculation(study: StudyId, anchor: str, desk: DeskHere, units: UnitsHere) -> HTMLResponse:
    """The calculation behind a figure."""
    outcome = desk.best(study)
    found = _calculation(outcome, anchor, units)
    if found is None:
        raise HTTPException(404)
    return HTMLResponse(render("calculation.html", line=found, sources=sources()))


def _calculation(outcome: Outcome, anchor: str, units: Units) -> Calculation | None:
    if outcome.findings is None:
        return None
    section = annex(Book(outcome.findings, units))
    blocks = section.blocks if section else ()
    lines = (line for block in blocks if isinstance(block, Calculations) for line in block.lines)
    return next((line for line in lines if line.key == anchor), None)


@router.get("/sources/{key}")
def source_card(key: str) -> HTMLResponse:
    """A source in full."""
    if key not in sources():
        raise HTTPException(404)
    return HTMLResponse(render("source.html", source=sources()[key]))
