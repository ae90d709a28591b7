"""The running chapter: logs uploaded and mapped, watched in the background, and the test judged."""

from __future__ import annotations

import asyncio
import contextlib
import errno
import hashlib
import re
from dataclasses import replace
from pathlib import Path
from typing import Annotated, Literal

from fastapi import APIRouter, Query, Request, Response
from pydantic import BaseModel, ConfigDict, Field, StringConstraints
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException

from cakewright.errors import (
    CakewrightError,
    DataError,
    Fault,
    InfeasibleError,
    InputFileError,
    StoreError,
)
from cakewright.jobs.acceptance import protocol_from
from cakewright.reports.numbers import Units
from cakewright.reports.running_pages import sections_page, sections_pdf, watch_outputs
from cakewright.running.acceptance import Protocol
from cakewright.storage.logs import Column, ColumnMap, Grain
from cakewright.storage.logs.kept import KeptLogs
from cakewright.storage.logs.site_draft import draft_site
from cakewright.storage.logs.site_file import parse_site
from cakewright.storage.logs.trial_files import parse_protocol, sample_sheet
from cakewright.web.apart import judge_samples, look_at_log, watch_kept
from cakewright.web.api import StudyId
from cakewright.web.bench_view import BenchView, bench_view
from cakewright.web.desk import Desk, DeskHere, UnitsHere
from cakewright.web.models import TaskOut, task_out
from cakewright.web.running_view import (
    RunningView,
    Shown,
    judged_sections,
    running_view,
    watch_sections,
)
from cakewright.web.tasks import Task, TaskState

__all__ = [
    "In",
    "Short",
    "Text",
    "as_file",
    "compared_with",
    "kept_of",
    "own_results",
    "router",
    "view_of",
]

router = APIRouter(include_in_schema=False)
Short = Annotated[str, StringConstraints(max_length=200)]
Text = Annotated[str, StringConstraints(max_length=400_000)]
_HTML, _PDF = "text/html; charset=utf-8", "application/pdf"
_WATCHED = ("operator.html", "operator.pdf", "engineer.html", "engineer.pdf", "watch.json")
_TESTED = ("acceptance.html", "acceptance.pdf")
_SAMPLES = "samples.csv"


class In(BaseModel):
    """What is sent in: nothing but what is known."""

    model_config = ConfigDict(extra="forbid")


class ColumnIn(In):
    """What one column of a log is."""

    title: Short
    signal: Short
    unit: Short = ""
    held: bool = False


class MapIn(In):
    """How a log is written."""

    time: Annotated[list[Short], Field(max_length=2)]
    format: Short = ""
    zone: Short = "UTC"
    grain: Literal["minute", "shift", "day"] = "minute"
    decimal: Literal[".", ","] = "."
    site: Short = ""
    site_column: Short = ""
    columns: Annotated[list[ColumnIn], Field(max_length=400)]


class TextIn(In):
    """A text as typed."""

    text: Text


class TestIn(In):
    """Samples of an acceptance test, and the protocol if it is not the study's own."""

    samples: Text
    protocol: Text = ""


def kept_of(desk: Desk, study: str) -> KeptLogs:
    """The logs of a study; the study must exist."""
    desk.store.get(study)
    return KeptLogs(desk.settings.log_folder / study)


def view_of(desk: Desk, study: str, units: Units) -> RunningView:
    """The chapter as it stands; what was watched before a restart is read again by itself."""
    kept = kept_of(desk, study)
    watch = desk.tasks.get(_watch_key(study))
    view = running_view(kept, watch, desk.tasks.get(_test_key(study)), _mark(desk, study, kept),
                        )  # fmt: skip
    if watch is None and view.ready and (kept.store / "mark.txt").is_file():
        # A study that has faults now shows its page all the same, without what it was compared to.
        with contextlib.suppress(CakewrightError):
            start_watch(study, desk, units)
        view = replace(view, watch=desk.tasks.get(_watch_key(study)))
    return view


def own_results(desk: Desk, study: str, key: str, units: Units) -> BenchView | None:
    """What the chapters show that stand on readings of their own; None for all others."""
    if key == "bench":
        return bench_view(desk.store, study, units)
    if key == "running":
        return BenchView((), view_of(desk, study, units).sections(units))
    return None


@router.post("/studies/{study}/running/logs")
async def upload(
    study: StudyId,
    request: Request,
    desk: DeskHere,
    name: Annotated[str, Query(min_length=1, max_length=200)],
) -> dict[str, int]:
    """Keep a log: written to disk as it comes, looked at in a process of its own."""
    kept = await run_in_threadpool(kept_of, desk, study)
    path = kept.place_for(name)
    key = f"{study} look {path.parent.name}"
    try:
        await _receive(request, path, name)
        task = desk.tasks.start(key, path.name, look_at_log, (path, study))
        await _seen(request, task)
        return {"log": await run_in_threadpool(kept.take_in, path, task.result)}
    except BaseException:
        desk.tasks.stop(key)
        kept.turn_away(path)
        raise


async def _receive(request: Request, path: Path, name: str) -> None:
    size = 0
    try:
        with path.open("wb") as file:
            async for chunk in request.stream():
                size += len(chunk)
                await run_in_threadpool(file.write, chunk)
    except OSError as error:
        if error.errno == errno.ENOSPC:
            raise StoreError(f"{name[:80]}: the disk is full; make room and try again") from None
        raise
    if not size:
        raise InputFileError(f"{name[:80]}: is empty; export the log again")


async def _seen(request: Request, task: Task) -> None:
    """Wait for the first look; stop when nobody waits for the answer any more."""
    while task.running:
        await asyncio.sleep(0.05)
        if await request.is_disconnected():
            raise InputFileError("the upload was cancelled")
    if task.faults:
        raise DataError(task.problem, task.faults)
    if not task.done:
        raise InputFileError(task.problem or "the upload was cancelled")


@router.delete("/studies/{study}/running/logs/{number}")
def take_out(study: StudyId, number: int, desk: DeskHere) -> dict[str, int]:
    """Take a log out again."""
    kept = kept_of(desk, study)
    kept.take_out(number)
    if not kept.logs():
        desk.tasks.stop(_watch_key(study))
        desk.tasks.stop(_watch_key(study))
    return {"log": number}


@router.put("/studies/{study}/running/logs/{number}/map")
def settle_map(study: StudyId, number: int, body: MapIn, desk: DeskHere) -> dict[str, bool]:
    """Keep what the columns of a log are; every fault at once, each at its place."""
    kept = kept_of(desk, study)
    if kept.log(number).look is None:
        raise InputFileError("this log was not looked at; take it out and choose it again")
    kept.keep_map(number, _column_map(body, study))
    return {"ready": all(log.column_map is not None for log in kept.logs())}


def _column_map(body: MapIn, study: str) -> ColumnMap:
    faults: list[Fault] = []
    columns: dict[str, Column] = {}
    for each in body.columns:
        if each.signal in columns:
            faults.append(
                Fault(
                    f"columns.{each.signal}",
                    f"two columns, {columns[each.signal].title!r} and {each.title!r}",
                    "one column for each signal",
                    "leave one of them out",
                )
            )
        columns[each.signal] = Column(each.title, each.unit.strip() or "1", each.held)
    if not body.time:
        faults.append(Fault("time.title", "none", "the column with the time", "choose it"))
    if not columns:
        faults.append(Fault("columns", "none", "at least one signal", "say what a column holds"))
    if faults:
        raise DataError("the column map", faults)
    return ColumnMap(
        site=body.site.strip() if body.site_column else study,
        time_titles=tuple(body.time),
        time_formats=(body.format.strip(),) if body.format.strip() else (),
        columns=columns,
        time_zone=body.zone.strip() or "UTC",
        grain=Grain(body.grain),
        decimal=body.decimal,
        site_column=body.site_column,
    )


@router.get("/studies/{study}/running/site")
def site_text(study: StudyId, desk: DeskHere) -> dict[str, str | bool]:
    """What the watch compares with: the site's own file, or what the study says."""
    kept = kept_of(desk, study)
    return {"text": compared_with(desk, study, kept), "own": bool(kept.site_text)}


@router.put("/studies/{study}/running/site")
def keep_site(study: StudyId, body: TextIn, desk: DeskHere) -> dict[str, str | bool]:
    """Keep a site file of its own; an empty text goes back to the study's."""
    kept = kept_of(desk, study)
    if body.text.strip():
        parse_site(body.text, "the site")
    kept.keep_site(body.text)
    return site_text(study, desk)


def compared_with(desk: Desk, study: str, kept: KeptLogs) -> str:
    """Site file of a study: its own, or one drafted from what the study says."""
    if kept.site_text:
        return kept.site_text
    outcome = desk.full(study, press=False)
    if outcome.findings is None:
        raise InfeasibleError(
            "the study has no answer that the plant could be compared with: mend its faults, or "
            "write down below what the plant promised and pays"
        )
    maps = [log.column_map for log in kept.logs() if log.column_map is not None]
    return draft_site(outcome.findings, maps[0].time_zone if maps else "UTC")


@router.get("/studies/{study}/running/watch")
def watch_state(study: StudyId, desk: DeskHere) -> TaskOut:
    """How far the watch is."""
    return task_out(desk.tasks.get(_watch_key(study)))


@router.post("/studies/{study}/running/watch")
def start_watch(study: StudyId, desk: DeskHere, units: UnitsHere) -> TaskOut:
    """Read the logs and say how the plant is doing."""
    kept = kept_of(desk, study)
    if not any(log.column_map is not None for log in kept.logs()):
        raise InputFileError("no log is ready: choose one and say what its columns are")
    text, mark = compared_with(desk, study, kept), _mark(desk, study, kept)
    parse_site(text, "the site")
    return task_out(
        desk.tasks.start(
            _watch_key(study), mark, watch_kept, (kept.folder, text, study, kept.mark("")),
            then=lambda found: _shown(Shown(found, watch_sections), units),
        )
    )  # fmt: skip


@router.delete("/studies/{study}/running/watch")
def stop_watch(study: StudyId, desk: DeskHere) -> TaskOut:
    """Stop reading; the logs and what was read before stay."""
    return _stopped(desk, _watch_key(study))


@router.get("/studies/{study}/running/test")
def test_state(study: StudyId, desk: DeskHere) -> TaskOut:
    """How far the judging is."""
    return task_out(desk.tasks.get(_test_key(study)))


@router.post("/studies/{study}/running/test")
def judge(study: StudyId, body: TestIn, desk: DeskHere, units: UnitsHere) -> TaskOut:
    """Judge an acceptance test by its protocol; without one by what the study guarantees."""
    kept = kept_of(desk, study)
    agreed: Protocol | str = body.protocol
    if body.protocol.strip():
        parse_protocol(body.protocol, "the protocol")
    else:
        agreed = _own_protocol(desk, study)
    folder = kept.folder / "test"
    folder.mkdir(parents=True, exist_ok=True)
    text = _comma_separated(body.samples)
    (folder / _SAMPLES).write_text(text, encoding="utf-8")
    mark = hashlib.sha256(f"{text}\0{agreed!r}".encode()).hexdigest()
    return task_out(
        desk.tasks.start(
            _test_key(study), mark, judge_samples, (folder / _SAMPLES, agreed),
            then=lambda found: _shown(Shown(found, judged_sections), units),
        )
    )  # fmt: skip


@router.delete("/studies/{study}/running/test")
def stop_test(study: StudyId, desk: DeskHere) -> TaskOut:
    """Stop judging, or put the judged test away."""
    return _stopped(desk, _test_key(study))


def _own_protocol(desk: Desk, study: str) -> Protocol:
    findings = desk.full(study, press=False).findings
    if findings is None or findings.decide is None:
        raise InfeasibleError("the study guarantees nothing yet; give the protocol agreed on")
    return protocol_from(findings.decide.guarantee)


def _comma_separated(text: str) -> str:
    """Cells pasted from a spreadsheet stand between tabs."""
    return text.replace("\t", ";") if "\t" in text.partition("\n")[0] else text


@router.get("/studies/{study}/running/samples.csv")
def empty_samples(study: StudyId, desk: DeskHere) -> Response:
    """The empty sheet of an acceptance test."""
    desk.store.get(study)
    return as_file(sample_sheet().encode(), "text/csv; charset=utf-8", "acceptance-samples.csv")


@router.get("/studies/{study}/running/files/{name}")
def document(study: StudyId, name: str, desk: DeskHere, units: UnitsHere) -> Response:
    """The operator's page, the full report, the test's report."""
    if name not in (*_WATCHED, *_TESTED):
        raise HTTPException(404)
    key = _watch_key(study) if name in _WATCHED else _test_key(study)
    task = desk.tasks.get(key)
    if task is None or not task.done:
        raise InfeasibleError(f"{name}: nothing was worked out yet; read the logs first")
    record = desk.store.get(study)
    stem = re.sub(r"[^A-Za-z0-9]+", "-", record.title).strip("-").lower()[:60] or "study"
    kind = {"html": _HTML, "pdf": _PDF, "json": "application/json"}[name.rpartition(".")[2]]
    found: Shown = task.result
    if name in _WATCHED:
        made = watch_outputs(found.findings, units)[name]
    else:
        made = _test_report(found, record.title, record.site, name, units)
    return as_file(made.encode() if isinstance(made, str) else made, kind, f"{stem}-{name}")


def _test_report(found: Shown, title: str, site: str, name: str, units: Units) -> str | bytes:
    from cakewright.reports.running_commission import acceptance_sections

    sections, words = acceptance_sections(found.findings, units), f"Acceptance test: {title}"
    if name.endswith(".html"):
        return sections_page(words, site, sections, invented=False)
    return sections_pdf(words, site, sections, units, invented=False)


def _shown(shown: Shown, units: Units) -> Shown:
    """Drawn now, so that the page that follows is quick."""
    shown.sections(units)
    return shown


def _stopped(desk: Desk, key: str) -> TaskOut:
    task = desk.tasks.stop(key)
    if task is None or task.state is not TaskState.RUNNING:
        return TaskOut()
    return TaskOut(state="stopped")


def _mark(desk: Desk, study: str, kept: KeptLogs) -> str:
    """Changes with the logs, their maps, and what they are compared with."""
    return kept.mark(kept.site_text or hashlib.sha256(desk.text(study).encode()).hexdigest())


def _watch_key(study: str) -> str:
    return f"{study} watch"


def _test_key(study: str) -> str:
    return f"{study} test"


def as_file(data: bytes, kind: str, name: str) -> Response:
    """A file to be taken away."""
    disposition = f'attachment; filename="{name}"'
    return Response(data, media_type=kind, headers={"content-disposition": disposition})
