"""What the JSON API takes and gives."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, StringConstraints

from cakewright.storage.store import Edit, Revision, Saved, StudyRecord
from cakewright.storage.store.editing import Part
from cakewright.web.problems import FaultOut, fault_out
from cakewright.web.tasks import Task

__all__ = [
    "BaseIn",
    "CheckIn",
    "CheckOut",
    "EditIn",
    "EditsIn",
    "FieldOut",
    "Live",
    "NewIn",
    "QuestionOut",
    "RevisionOut",
    "SavedOut",
    "SessionOut",
    "StudyOut",
    "TaskOut",
    "TextIn",
    "edit_of",
    "revision_out",
    "saved_out",
    "study_out",
    "task_out",
]

Short = Annotated[str, StringConstraints(max_length=200)]
Long = Annotated[str, StringConstraints(max_length=2_000_000)]
Version = Annotated[int, Field(ge=1, le=2_000_000_000)]


class _In(BaseModel):
    model_config = ConfigDict(extra="forbid")


class NewIn(_In):
    """A new study: from a text, a demonstration, or the empty template."""

    text: Long | None = None
    demo: Literal["soy", "valley", "reservoir"] | None = None


class BaseIn(_In):
    """The version a change was meant for."""

    base: Version


class EditIn(_In):
    """One change of one entry. Adding or taking out a sludge is an action of its own."""

    place: Short
    typed: str | list[str] = ""
    part: Part = Part.VALUE
    action: Literal["set", "add", "remove", "origin"] = "set"


class EditsIn(BaseIn):
    """Changes that belong together."""

    edits: Annotated[list[EditIn], Field(min_length=1, max_length=60)]


class TextIn(BaseIn):
    """A whole text in place of a version."""

    text: Long


class CheckIn(_In):
    """A text to look over; it is not kept."""

    text: Long


class QuestionOut(BaseModel):
    """A value that is possible but unusual, and what may be meant."""

    where: str
    words: str
    likely: str = ""


class CheckOut(BaseModel):
    """Faults of a text, what is unusual in it, and the places where a default stands in."""

    faults: list[FaultOut]
    questions: list[QuestionOut] = []
    defaults: list[str]


class StudyOut(BaseModel):
    """A study as it stands."""

    id: str
    title: str
    site: str
    version: int
    created: datetime
    changed: datetime
    can_undo: bool
    can_redo: bool
    removed: bool


class SavedOut(BaseModel):
    """A confirmed change."""

    study: StudyOut
    merged: bool
    faults: list[FaultOut]


class RevisionOut(BaseModel):
    """One confirmed change of the past."""

    version: int
    at: datetime
    kind: str
    places: list[str]
    author: str = ""


class FieldOut(BaseModel):
    """One key a study may hold."""

    place: str
    kind: str
    help: str
    required: bool
    low: str
    high: str
    default: str | None
    choices: list[str]


class SessionOut(BaseModel):
    """The token that changes must carry in the header named."""

    header: str
    token: str


class Live(BaseModel):
    """What a page needs to be up to date: parts of itself, and the state of the study."""

    version: int
    stage: Literal["faults", "head", "point", "bands", "decided", "whole"]
    title: str
    can_undo: bool
    can_redo: bool
    merged: bool = False
    headline: str = ""
    results: str = ""
    faults: dict[str, str] = {}
    loose: str = ""
    inputs: str = ""
    step: str = ""


class TaskOut(BaseModel):
    """Where long work stands: what it is at, the share done, or what stood in its way."""

    state: Literal["none", "running", "done", "failed", "stopped"] = "none"
    step: str = ""
    share: float | None = None
    problem: str = ""
    faults: list[FaultOut] = []


def task_out(task: Task | None) -> TaskOut:
    """Long work for an answer."""
    if task is None:
        return TaskOut()
    return TaskOut(
        state=task.state.value,
        step=task.step,
        share=task.share,
        problem=task.problem,
        faults=[fault_out(fault) for fault in task.faults],
    )


def edit_of(edit: EditIn) -> Edit:
    """An edit for the store."""
    typed = edit.typed if isinstance(edit.typed, str) else tuple(edit.typed)
    return Edit(edit.place, typed, edit.part, edit.action)


def study_out(record: StudyRecord) -> StudyOut:
    """A study for an answer."""
    return StudyOut(
        id=record.id,
        title=record.title,
        site=record.site,
        version=record.version,
        created=record.created,
        changed=record.changed,
        can_undo=record.can_undo,
        can_redo=record.can_redo,
        removed=record.removed,
    )


def saved_out(saved: Saved, faults: list[FaultOut]) -> SavedOut:
    """A confirmed change for an answer."""
    return SavedOut(study=study_out(saved.record), merged=saved.merged, faults=faults)


def revision_out(revision: Revision) -> RevisionOut:
    """A change of the past for an answer."""
    return RevisionOut(
        version=revision.version,
        at=revision.at,
        kind=revision.kind,
        places=list(revision.places),
        author=revision.author,
    )
