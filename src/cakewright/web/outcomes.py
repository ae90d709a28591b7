"""What comes of a study's text at a stage of its evaluation; knows nothing of pages."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

from cakewright.errors import CakewrightError, Fault, FaultsError
from cakewright.jobs.evaluate import evaluate
from cakewright.jobs.findings import Findings
from cakewright.storage.bug_report import bug_words
from cakewright.storage.evaluation import fitted_of, frames_of, law_of, with_sampling
from cakewright.study import Study, parse_study

__all__ = ["Files", "GivenUpError", "Outcome", "Stage", "before", "outcome_of"]


class GivenUpError(Exception):
    """A newer edit made an evaluation useless."""


Files = Mapping[str, bytes]
_FILE_PLACES = ("machines.catalogue", "bench.law", "press.parameters")


class Stage(StrEnum):
    """How far an evaluation has come."""

    POINT = "point"
    BANDS = "bands"
    DECIDED = "decided"
    WHOLE = "whole"


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of a text: findings, or faults, or why there is no answer."""

    findings: Findings | None = None
    study: Study | None = None
    faults: tuple[Fault, ...] = ()
    problem: str = ""
    stage: Stage = Stage.POINT


def before(stage: Stage, other: Stage) -> bool:
    """Whether a stage comes before another one."""
    order = list(Stage)
    return order.index(stage) < order.index(other)


def outcome_of(
    text: str, files: Files, stage: Stage, most: int, tell: Callable[[str], None]
) -> Outcome:
    """Outcome of a text with at most so many samples; ``tell`` may raise to stop it."""
    study = None
    try:
        study = parse_study(text.removeprefix("\ufeff"))
        samples = min(study.count("sampling.samples"), most)
        found = _evaluated(study, files, samples, stage, tell)
    except FaultsError as error:
        return Outcome(study=study, faults=error.faults, stage=stage)
    except CakewrightError as error:
        return Outcome(study=study, problem=str(error), stage=stage)
    except (GivenUpError, MemoryError):
        raise
    except Exception as error:
        # What nobody foresaw: the pages of such a study work, and say that it is a bug.
        return Outcome(study=study, problem=bug_words(error), stage=stage)
    return Outcome(found, study, stage=stage)


def _evaluated(
    study: Study,
    files: Files,
    samples: int,
    stage: Stage,
    tell: Callable[[str], None],
) -> Findings:
    study = with_sampling(study, samples, None)
    press, decision = stage is Stage.WHOLE, stage in (Stage.DECIDED, Stage.WHOLE)
    if not any(study.word(place) for place in _FILE_PLACES):
        return evaluate(study, progress=tell, with_press=press, with_decision=decision)
    with tempfile.TemporaryDirectory(prefix="cakewright-") as name:
        folder = Path(name)
        for each, data in files.items():
            (folder / each).write_bytes(data)
        frames, law = frames_of(study, folder), law_of(study, folder)
        fitted = fitted_of(study, folder)
        return evaluate(
            study,
            frames,
            tell,
            law=law,
            fitted=fitted,
            with_press=press,
            with_decision=decision,
        )
