"""Many studies at once over any executor: progress as they finish, one failure stops nothing."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Executor, Future
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, field
from typing import Any

from cakewright.errors import CakewrightError
from cakewright.jobs.findings import Findings
from cakewright.quantities import Figure

__all__ = ["Outcome", "Task", "outcome_of", "run_tasks"]


@dataclass(frozen=True, slots=True)
class Task:
    """One study to evaluate: its name, its text and what it names, and a hash of all of it."""

    name: str
    key: str
    path: str
    samples: int | None = None


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of one study: flat rows for tables, or the fault in words.

    ``figures`` is one row per headline figure, ``options`` one per kind of machine, SI.
    """

    name: str
    key: str
    failed: str = ""
    study: Mapping[str, Any] = field(default_factory=dict)
    figures: tuple[Mapping[str, Any], ...] = ()
    options: tuple[Mapping[str, Any], ...] = ()


def outcome_of(task: Task, findings: Findings) -> Outcome:
    """Findings as flat rows."""
    decision = findings.decision
    study = {
        "title": findings.title,
        "site": findings.site,
        "invented": findings.invented,
        "meets": decision.meets,
        "machine": decision.machine,
        "conditioning": _conditioning(findings),
        "frame": decision.frame,
        "machines": decision.machines,
        "shafts": decision.shafts,
        "standby": decision.standby,
        "currency": findings.currency,
        "price_year": findings.price_year,
        "samples": findings.samples,
        "seed": findings.seed,
        "program_version": findings.program_version,
        **_load(findings),
        **_decided(findings),
    }
    return Outcome(
        name=task.name,
        key=task.key,
        study=study,
        figures=tuple(_row(figure) for figure in decision.headline),
        options=tuple(_option(findings, option.machine) for option in findings.options),
    )


def _conditioning(findings: Findings) -> str:
    chosen = findings.decision.machine
    return next(o.conditioning for o in findings.options if o.machine == chosen)


def _load(findings: Findings) -> dict[str, float]:
    dry = findings.feed.figures["dry_solids_flow"]
    return {"dry_solids_flow_kg_s": dry.point, "total_solids": _point(findings, "total_solids")}


def _point(findings: Findings, name: str) -> float:
    return findings.feed.figures[name].point


def _decided(findings: Findings) -> dict[str, Any]:
    if findings.decide is None:
        return {}
    money = next(o for o in findings.decide.money.options if o.chosen)
    carbon = findings.decide.carbon.options[0]
    first = findings.questions[0] if findings.questions else None
    return {
        "present_worth": money.present_worth.point,
        "installed": money.installed.point,
        "chance_cheapest": money.chance_cheapest,
        "carbon_specific": carbon.total.point,
        "ask_next": first.name if first else "",
        "ask_worth": first.worth.point if first and first.worth else 0.0,
    }


def _row(figure: Figure) -> dict[str, Any]:
    band = figure.band
    return {
        "name": figure.name,
        "point": figure.point,
        "p10": band.p10,
        "p50": band.p50,
        "p90": band.p90,
        "basis": figure.basis.value,
        "mark": figure.mark.value,
    }


def _option(findings: Findings, machine: str) -> dict[str, Any]:
    option = next(o for o in findings.options if o.machine == machine)
    frame = option.chosen_frame
    cost = option.figures.get("cost_specific")
    cake = option.figures["cake_solids"]
    return {
        "machine": machine,
        "answer": option.answer.value,
        "frame": frame.frame if frame else "",
        "machines": frame.machines if frame else 0,
        "cake_solids": cake.point,
        "cost_specific": cost.point if cost else None,
    }


Work = Callable[[Task], Outcome]
Start = Callable[[], Executor]


def run_tasks(tasks: Sequence[Task], work: Work, start: Start) -> Iterator[Outcome]:
    """Outcomes in the order in which they come in.

    ``work`` must be a plain function that processes can be sent; ``start`` makes an executor. If a
    worker dies it takes its pool with it: what was not done is then tried again, each study in a
    pool of its own, so that only the one that kills its worker is lost.
    """
    left = {task.key: task for task in tasks}
    executor = start()
    try:
        futures = {executor.submit(work, task): task for task in tasks}
        for outcome in _finished(futures):
            if outcome is not None:
                left.pop(outcome.key, None)
                yield outcome
    finally:
        executor.shutdown(wait=True, cancel_futures=True)
    for task in list(left.values()):
        yield _alone(task, work, start)


def _finished(futures: Mapping[Future[Outcome], Task]) -> Iterator[Outcome | None]:
    for future in _as_they_come(futures):
        task = futures[future]
        try:
            yield future.result()
        except BrokenProcessPool:
            yield None
        except CakewrightError as error:
            yield Outcome(task.name, task.key, failed=str(error))
        except Exception as error:  # one study must never stop the rest, whatever it raises
            yield Outcome(task.name, task.key, failed=f"{type(error).__name__}: {error}")


def _as_they_come(futures: Mapping[Future[Outcome], Task]) -> Iterator[Future[Outcome]]:
    from concurrent.futures import as_completed

    return as_completed(futures)


def _alone(task: Task, work: Work, start: Start) -> Outcome:
    executor = start()
    try:
        return executor.submit(work, task).result()
    except BrokenProcessPool:
        words = "the worker that evaluated this study died (out of memory, or ended from outside)"
        return Outcome(task.name, task.key, failed=words)
    except Exception as error:  # as above
        return Outcome(task.name, task.key, failed=f"{type(error).__name__}: {error}")
    finally:
        executor.shutdown(wait=True, cancel_futures=True)
