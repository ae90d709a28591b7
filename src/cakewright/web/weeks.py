"""The line's weeks, played on demand and shown as in the report."""

from __future__ import annotations

import hashlib
from dataclasses import replace

from fastapi import APIRouter

from cakewright.errors import InfeasibleError
from cakewright.line.week_plan import week_plan
from cakewright.web.apart import play_weeks
from cakewright.web.api import StudyId
from cakewright.web.desk import Desk, DeskHere
from cakewright.web.models import TaskOut, task_out
from cakewright.web.runs import Files, Outcome
from cakewright.web.tasks import Task

__all__ = ["WEEKS", "router", "weeks_of", "with_weeks"]

router = APIRouter(include_in_schema=False)
WEEKS = 1000


@router.get("/studies/{study}/weeks")
def state(study: StudyId, desk: DeskHere) -> TaskOut:
    """How far the playing is, for the study as it stands."""
    return task_out(weeks_of(desk, study, desk.text(study), desk.files(study)))


@router.post("/studies/{study}/weeks")
def play(study: StudyId, desk: DeskHere) -> TaskOut:
    """Start playing, unless the weeks of this text are played or being played."""
    text, files = desk.text(study), desk.files(study)
    found = desk.runs.best(text, files).findings
    if found is None or found.line is None:
        why = (found and found.line_missing) or "no line is designed for this study yet"
        raise InfeasibleError(f"no week can be played: {why}")
    plan = week_plan(found.line)
    return task_out(desk.tasks.start(_key(study), _mark(text, files), play_weeks, (plan, WEEKS)))


@router.delete("/studies/{study}/weeks")
def stop(study: StudyId, desk: DeskHere) -> TaskOut:
    """Stop playing, or put the played weeks away."""
    desk.tasks.stop(_key(study))
    return task_out(None)


def weeks_of(desk: Desk, study: str, text: str, files: Files) -> Task | None:
    """The playing of just this text, if it was asked for."""
    task = desk.tasks.get(_key(study))
    return task if task is not None and task.mark == _mark(text, files) else None


def with_weeks(desk: Desk, study: str, text: str, files: Files, outcome: Outcome) -> Outcome:
    """An outcome with the weeks played for it, where they are."""
    task = weeks_of(desk, study, text, files)
    if task is None or not task.done or outcome.findings is None:
        return outcome
    return replace(outcome, findings=replace(outcome.findings, weeks=task.result))


def _key(study: str) -> str:
    return f"{study} weeks"


def _mark(text: str, files: Files) -> str:
    mixed = hashlib.sha256(text.encode("utf-8"))
    for name in sorted(files):
        mixed.update(name.encode("utf-8") + hashlib.sha256(files[name]).digest())
    return mixed.hexdigest()
