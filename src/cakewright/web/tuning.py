"""Tuning runs: planned within safe limits, filled in as they are made, judged in the background."""

from __future__ import annotations

import contextlib
import hashlib
import re
from typing import Annotated

from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse
from pydantic import Field
from starlette.exceptions import HTTPException

from cakewright.errors import CakewrightError, ConflictError, InfeasibleError, InputFileError
from cakewright.jobs.commission import RULES, plan_tuning
from cakewright.reports.numbers import Units
from cakewright.reports.running_commission import plan_sections
from cakewright.reports.running_pages import sections_page, sections_pdf
from cakewright.running.site import Site
from cakewright.storage.logs.kept_tuning import (
    KeptTuning,
    TriedSetting,
    TuningInput,
    least_kept,
    measured,
    sheet_rows,
    sheet_text,
    tuned_site,
)
from cakewright.storage.logs.site_file import parse_site
from cakewright.storage.logs.trial_files import plan_sheet
from cakewright.web.apart import judge_runs
from cakewright.web.api import StudyId
from cakewright.web.contexts import headline_of
from cakewright.web.desk import Desk, DeskHere, UnitsHere
from cakewright.web.models import TaskOut, task_out
from cakewright.web.rendering import render
from cakewright.web.running import In, Short, Text, as_file, compared_with, kept_of
from cakewright.web.running_view import Shown
from cakewright.web.tuning_view import TuningPage, grid_of, setting_rows, tuned_sections

__all__ = ["router"]

router = APIRouter(include_in_schema=False, prefix="/studies/{study}/running/tuning")
_FORMULA = re.compile(r"^[=+@\t\r]|^-(?![\d.,])")
_HTML, _PDF = "text/html; charset=utf-8", "application/pdf"


class SettingIn(In):
    """One setting as typed."""

    key: Short
    tried: bool = False
    low: Short = ""
    high: Short = ""
    today: Short = ""


class GivenIn(In):
    """What the runs are planned and judged by, as typed."""

    settings: Annotated[list[SettingIn], Field(max_length=30)]
    curved: bool = True
    centres: Annotated[int, Field(ge=3, le=10)] = 5
    order: Annotated[int, Field(ge=1, le=1_000_000)] = 1
    least_capture: Short = ""
    least_load: Short = ""


class SheetIn(In):
    """The runs as filled in, and the mark of the sheet that was filled in."""

    text: Text
    base: Short


@router.get("")
def page(study: StudyId, request: Request, desk: DeskHere, units: UnitsHere) -> HTMLResponse:
    """The page of the tuning runs."""
    kept, outcome = _kept(desk, study), desk.best(study)
    given, task = kept.given(_site(desk, study)), desk.tasks.get(_key(study))
    columns, rows = grid_of(kept)
    shown = TuningPage(
        shell=desk.shell(request, units),
        record=desk.store.get(study),
        headline=headline_of(outcome, units),
        stage="faults" if outcome.findings is None else outcome.stage.value,
        given=given,
        settings=setting_rows(given),
        columns=columns,
        rows=rows,
        mark=_sheet_mark(kept),
        away=kept.old_path.is_file(),
        task=task,
        old=task is not None and task.done and task.mark != _mark(desk, study, kept),
        rules=plan_sections(RULES),
    )
    return HTMLResponse(render("tuning.html", page=shown))


@router.put("/given")
def keep_given(study: StudyId, body: GivenIn, desk: DeskHere) -> dict[str, bool]:
    """Keep what was typed, as typed."""
    _kept(desk, study).keep_given(_given(body))
    return {"kept": True}


@router.post("/plan")
def plan(study: StudyId, body: GivenIn, desk: DeskHere) -> dict[str, int]:
    """Plan the runs; every fault at once, each at its place."""
    kept, given = _kept(desk, study), _given(body)
    kept.keep_given(given)
    planned = plan_tuning(
        tuned_site(_site(desk, study), given),
        second_order=given.curved, centres=given.centres, seed=given.order,
    )  # fmt: skip
    sheet = plan_sheet(planned)
    if kept.sheet and measured(kept.sheet, [one.key for one in given.settings]):
        raise InfeasibleError(
            "the runs below hold what was measured; put them away first, then plan others"
        )
    kept.keep_sheet(sheet)
    return {"runs": len(planned.plan.trials)}


@router.put("/sheet")
def keep_sheet(study: StudyId, body: SheetIn, desk: DeskHere) -> dict[str, str]:
    """Keep the runs as filled in, unless another window filled in others since."""
    kept = _kept(desk, study)
    new = sheet_text(sheet_rows(body.text))
    if body.base != _sheet_mark(kept) and new != kept.sheet:
        raise ConflictError(
            "these runs were changed in another window; what you typed stays here: take a copy, "
            "then reload the page to see theirs"
        )
    kept.keep_sheet(new)
    return {"mark": _sheet_mark(kept)}


@router.delete("/sheet")
def put_away(study: StudyId, desk: DeskHere) -> dict[str, bool]:
    """Make room for other runs; the old sheet can still be downloaded."""
    _kept(desk, study).put_away()
    desk.tasks.stop(_key(study))
    return {"away": True}


@router.get("/runs.csv")
def sheet(study: StudyId, desk: DeskHere, away: bool = False) -> Response:
    """The runs as a sheet to print, fill in and paste back."""
    kept = _kept(desk, study)
    path = kept.old_path if away else kept.sheet_path
    if not path.is_file():
        raise InfeasibleError("no runs are planned yet; plan them first")
    rows = sheet_rows(path.read_text(encoding="utf-8"))
    plain = [[f"'{cell}" if _FORMULA.match(cell) else cell for cell in row] for row in rows]
    return as_file(sheet_text(plain).encode(), "text/csv; charset=utf-8", "tuning-runs.csv")


@router.get("/shown")
def state(study: StudyId, desk: DeskHere) -> TaskOut:
    """How far the judging is."""
    return task_out(desk.tasks.get(_key(study)))


@router.post("/shown")
def judge(study: StudyId, desk: DeskHere, units: UnitsHere) -> TaskOut:
    """Fit the surfaces and look for the best setting."""
    kept = _kept(desk, study)
    if not kept.sheet:
        raise InputFileError("no runs are planned yet; plan them first")
    told = parse_site(compared_with(desk, study, kept_of(desk, study)), "the site")
    given = kept.given(told)
    site, least = tuned_site(told, given), least_kept(given)
    return task_out(
        desk.tasks.start(
            _key(study), _mark(desk, study, kept), judge_runs, (kept.folder, site, least, study),
            then=lambda found: _drawn(Shown(found, tuned_sections), units),
        )
    )  # fmt: skip


@router.delete("/shown")
def stop(study: StudyId, desk: DeskHere) -> TaskOut:
    """Stop judging, or put what was found away."""
    task = desk.tasks.stop(_key(study))
    return TaskOut(state="stopped") if task is not None and task.running else TaskOut()


@router.get("/files/{name}")
def document(study: StudyId, name: str, desk: DeskHere, units: UnitsHere) -> Response:
    """The report of the runs."""
    if name not in ("tuning.html", "tuning.pdf"):
        raise HTTPException(404)
    task = desk.tasks.get(_key(study))
    if task is None or not task.done:
        raise InfeasibleError(f"{name}: nothing was worked out yet; judge the runs first")
    found, record = task.result.findings, desk.store.get(study)
    sections = tuned_sections(found, units)
    title, invented = f"Tuning runs: {record.title}", found.site.invented
    if name.endswith(".html"):
        made = sections_page(title, record.site, sections, invented=invented)
        return as_file(made.encode(), _HTML, name)
    return as_file(sections_pdf(title, record.site, sections, units, invented=invented), _PDF, name)


def _kept(desk: Desk, study: str) -> KeptTuning:
    return KeptTuning(kept_of(desk, study).folder)


def _site(desk: Desk, study: str) -> Site:
    """The site as far as it can be told: a study with faults still plans its runs."""
    with contextlib.suppress(CakewrightError):
        return parse_site(compared_with(desk, study, kept_of(desk, study)), "the site")
    return Site(study, desk.store.get(study).site)


def _given(body: GivenIn) -> TuningInput:
    settings = tuple(TriedSetting(**one.model_dump()) for one in body.settings)
    return TuningInput(settings, body.curved, body.centres, body.order,
                       body.least_capture, body.least_load)  # fmt: skip


def _sheet_mark(kept: KeptTuning) -> str:
    return hashlib.sha256(kept.sheet.encode()).hexdigest()[:16]


def _mark(desk: Desk, study: str, kept: KeptTuning) -> str:
    """Changes with the runs, what was typed, and what the site pays."""
    mixed = hashlib.sha256(kept.sheet.encode() + b"\0" + repr(kept.given(Site(study, ""))).encode())
    logs = kept_of(desk, study)
    own = logs.site_text or desk.text(study)
    mixed.update(logs.mark(hashlib.sha256(own.encode()).hexdigest()).encode())
    return mixed.hexdigest()


def _drawn(shown: Shown, units: Units) -> Shown:
    """Drawn now, so that the page that follows is quick."""
    shown.sections(units)
    return shown


def _key(study: str) -> str:
    return f"{study} tuning"
