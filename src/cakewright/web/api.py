"""The JSON API: studies, edits, findings; described by /api/openapi.json."""

from __future__ import annotations

import json
from typing import Annotated, Any

from fastapi import APIRouter, Path, Query, Request, Response

from cakewright.errors import FaultsError, InfeasibleError, InputFileError, StudyError
from cakewright.reports.findings_json import findings_json
from cakewright.storage.store import Saved
from cakewright.storage.studies import demo_text
from cakewright.study import fields, parse_study, questions, render_template
from cakewright.web.desk import Desk, DeskHere
from cakewright.web.guard import CSRF_HEADER, csrf_token
from cakewright.web.models import (
    BaseIn,
    CheckIn,
    CheckOut,
    EditsIn,
    FieldOut,
    NewIn,
    QuestionOut,
    RevisionOut,
    SavedOut,
    SessionOut,
    StudyOut,
    TextIn,
    edit_of,
    revision_out,
    saved_out,
    study_out,
)
from cakewright.web.problems import FaultOut, Problem, fault_out

__all__ = ["StudyId", "router"]

_PROBLEMS: dict[int | str, dict[str, Any]] = {
    status: {"model": Problem, "description": words}
    for status, words in (
        (400, "The request cannot be read."),
        (403, "The request does not carry this session's token."),
        (404, "There is no such study or version."),
        (409, "Somebody else changed the same values; both versions are kept."),
        (413, "More was sent than is taken."),
        (422, "The input is at fault; says where and what to try."),
        (503, "The store cannot be reached."),
        (507, "The disk is full."),
    )
}
router = APIRouter(prefix="/api", responses=_PROBLEMS)

StudyId = Annotated[str, Path(pattern=r"^[a-z0-9]{8,32}$", description="Id of a study.")]


@router.get("/session")
def session(request: Request, desk: DeskHere) -> SessionOut:
    """The token that changes must carry; no other site can read this answer."""
    token = csrf_token(desk.settings.secret, request.state.visitor)
    return SessionOut(header=CSRF_HEADER, token=token)


@router.get("/fields")
def all_fields() -> list[FieldOut]:
    """Every key a study may hold."""
    return [
        FieldOut(
            place=field.place,
            kind=field.kind,
            help=field.help,
            required=field.required,
            low=field.low,
            high=field.high,
            default=field.default,
            choices=list(field.choices),
        )
        for keys in fields().values()
        for field in keys.values()
    ]


@router.post("/check")
def check(body: CheckIn) -> CheckOut:
    """Every fault of a text at once; the text is not kept."""
    try:
        study = parse_study(body.text.removeprefix("\ufeff"))
    except StudyError as error:
        return CheckOut(faults=[fault_out(fault) for fault in error.faults], defaults=[])
    asked = [QuestionOut(where=q.where, words=q.words, likely=q.likely) for q in questions(study)]
    return CheckOut(
        faults=[], questions=asked, defaults=[g.where for g in study.values.values() if g.default]
    )


@router.get("/studies")
def studies(desk: DeskHere) -> list[StudyOut]:
    """Studies, the last changed first."""
    return [study_out(record) for record in desk.store.list()]


@router.post("/studies", status_code=201)
def create(body: NewIn, request: Request, desk: DeskHere) -> StudyOut:
    """A new study; a text is kept byte for byte, faults and all."""
    if body.text is not None:
        text, kind = body.text, "import"
    else:
        text, kind = (demo_text(body.demo), "demo") if body.demo else (render_template(), "new")
    return study_out(desk.store.create(_bytes(text), _author(request), kind))


@router.get("/studies/{study}")
def one(study: StudyId, desk: DeskHere) -> StudyOut:
    """One study."""
    return study_out(desk.store.get(study))


@router.delete("/studies/{study}")
def remove(study: StudyId, desk: DeskHere) -> StudyOut:
    """Put a study in the bin."""
    return study_out(desk.store.set_removed(study, removed=True))


@router.post("/studies/{study}/restore")
def restore(study: StudyId, desk: DeskHere) -> StudyOut:
    """Take a study out of the bin."""
    return study_out(desk.store.set_removed(study, removed=False))


@router.post("/studies/{study}/duplicate", status_code=201)
def duplicate(study: StudyId, request: Request, desk: DeskHere) -> StudyOut:
    """A copy to change."""
    return study_out(desk.store.duplicate(study, _author(request)))


@router.get(
    "/studies/{study}/text",
    response_class=Response,
    responses={200: {"content": {"application/toml": {}}, "description": "The study file."}},
)
def text(
    study: StudyId,
    desk: DeskHere,
    version: Annotated[int | None, Query(ge=1, le=2_000_000_000)] = None,
) -> Response:
    """The study file, byte for byte as it was kept."""
    return Response(desk.store.data(study, version), media_type="application/toml")


@router.put("/studies/{study}/text")
def replace(study: StudyId, body: TextIn, request: Request, desk: DeskHere) -> SavedOut:
    """A whole text in place of a version; merged with other edits where they do not meet."""
    return _saved(desk.store.replace(study, body.base, _bytes(body.text), _author(request)))


@router.patch("/studies/{study}")
def edit(study: StudyId, body: EditsIn, request: Request, desk: DeskHere) -> SavedOut:
    """Changes of single entries; comments and order of the text stay."""
    edits = [edit_of(each) for each in body.edits]
    return _saved(desk.store.edit(study, body.base, edits, _author(request)))


@router.post("/studies/{study}/undo")
def undo(study: StudyId, body: BaseIn, request: Request, desk: DeskHere) -> SavedOut:
    """Bring back the text before the last change."""
    return _saved(desk.store.undo(study, body.base, _author(request)))


@router.post("/studies/{study}/redo")
def redo(study: StudyId, body: BaseIn, request: Request, desk: DeskHere) -> SavedOut:
    """Bring back what was undone last."""
    return _saved(desk.store.redo(study, body.base, _author(request)))


@router.get("/studies/{study}/history")
def history(study: StudyId, desk: DeskHere) -> list[RevisionOut]:
    """Confirmed changes, newest first."""
    return [revision_out(revision) for revision in desk.store.history(study)]


@router.get("/studies/{study}/findings")
def findings(
    study: StudyId,
    desk: DeskHere,
    bands: Annotated[bool, Query(description="With bands, which takes longer.")] = False,
) -> dict[str, Any]:
    """What the evaluation found, the same as the file `findings.json`."""
    found = _found(desk, study, bands=bands)
    return dict(json.loads(found))


def _found(desk: Desk, study: str, *, bands: bool) -> str:
    outcome = desk.full(study) if bands else desk.runs.point(desk.text(study), desk.files(study))
    if outcome.faults:
        raise FaultsError("the study", outcome.faults)
    if outcome.findings is None:
        raise InfeasibleError(outcome.problem)
    return findings_json(outcome.findings)


def _saved(saved: Saved) -> SavedOut:
    return saved_out(saved, _faults(saved.data.decode("utf-8")))


def _faults(text: str) -> list[FaultOut]:
    try:
        parse_study(text.removeprefix("\ufeff"))
    except StudyError as error:
        return [fault_out(fault) for fault in error.faults]
    return []


def _bytes(text: str) -> bytes:
    try:
        return text.encode("utf-8")
    except UnicodeEncodeError:
        raise InputFileError("the text holds half characters; save it as UTF-8 text") from None


def _author(request: Request) -> str:
    return str(request.state.author)
