"""A study file with everything it names (catalogue, law, parameters), evaluated."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

from cakewright.errors import InputFileError, StudyError
from cakewright.jobs.evaluate import evaluate
from cakewright.jobs.findings import Findings, HouseStyle
from cakewright.jobs.fitted import FittedPress
from cakewright.jobs.study_checks import study_faults
from cakewright.machines import Frame
from cakewright.sludge.law import SludgeLaw
from cakewright.sludge.law_text import parse_law
from cakewright.storage.catalogue import read_catalogue
from cakewright.storage.house_style import read_house_style
from cakewright.storage.press_parameters import read_press_parameters
from cakewright.storage.studies import demo_text, read_study
from cakewright.storage.texts import read_text
from cakewright.study import Study, parse_study

__all__ = [
    "checked",
    "evaluate_file",
    "evaluate_study",
    "fitted_of",
    "frames_of",
    "house_of",
    "law_of",
]


def evaluate_file(
    path: Path | None,
    demo: str,
    progress: Callable[[str], None],
    *,
    samples: int | None = None,
    seed: int | None = None,
    weeks: int = 0,
    with_press: bool | None = None,
) -> Findings:
    """Findings of a study file, or of a demonstration when there is no file.

    ``with_press`` None: the press physics runs when the study names a sludge law or machine
    parameters; by the class prior alone it only stands beside the published band.
    """
    study = read_study(path) if path else parse_study(demo_text(demo), f"{demo}.toml")
    folder = path.resolve().parent if path else Path()
    return evaluate_study(
        study, folder, progress, samples=samples, seed=seed, weeks=weeks, with_press=with_press
    )


def evaluate_study(
    study: Study,
    folder: Path,
    progress: Callable[[str], None],
    *,
    samples: int | None = None,
    seed: int | None = None,
    weeks: int = 0,
    with_press: bool | None = None,
) -> Findings:
    """Findings of a study in hand; the files that it names lie in ``folder``."""
    study = with_sampling(study, samples, seed)
    law = law_of(study, folder)
    fitted = fitted_of(study, folder)
    frames = frames_of(study, folder)
    checked(study, frames)
    press = bool(law or fitted) if with_press is None else with_press
    found = evaluate(study, frames, progress, law=law, fitted=fitted, weeks=weeks, with_press=press)
    return replace(found, house=house_of(study, folder))


def house_of(study: Study, folder: Path) -> HouseStyle:
    """Look of the sender's documents that the study names, beside it; ours when it names none."""
    name = study.word("document.house")
    return read_house_style(beside(folder, name, "document.house")) if name else HouseStyle()


def checked(study: Study, frames: Sequence[Frame] | None) -> None:
    """Refuse a study that cannot be evaluated with the catalogue in hand.

    Raises
    ------
    StudyError
        With every currency without a rate, and every case that contradicts another.
    """
    faults = study_faults(study, frames)
    if faults:
        raise StudyError(study.word("title") or "study", faults)


def with_sampling(study: Study, samples: int | None, seed: int | None) -> Study:
    """The study with other samples or another seed."""
    words = dict(study.words)
    if samples is not None:
        words["sampling.samples"] = samples
    if seed is not None:
        words["sampling.seed"] = seed
    return replace(study, words=words)


def frames_of(study: Study, folder: Path) -> tuple[Frame, ...] | None:
    """Frames of the catalogue the study names, beside it; None for the shipped one."""
    name = study.word("machines.catalogue")
    return read_catalogue(beside(folder, name, "machines.catalogue")) if name else None


def law_of(study: Study, folder: Path) -> SludgeLaw | None:
    """Sludge law the study names, beside it; None when it names none."""
    name = study.word("bench.law")
    if not name:
        return None
    return parse_law(read_text(beside(folder, name, "bench.law")), name)


def fitted_of(study: Study, folder: Path) -> FittedPress | None:
    """Machine parameters from trial runs the study names, beside it; None when it names none."""
    name = study.word("press.parameters")
    return read_press_parameters(beside(folder, name, "press.parameters")) if name else None


def beside(folder: Path, name: str, key: str) -> Path:
    """A file a study names, which must lie in its folder or below.

    Raises
    ------
    InputFileError
        If the name leads out of the folder, or nothing is there.
    """
    path = (folder / name).resolve()
    if not path.is_relative_to(folder.resolve()):
        raise InputFileError(f"{key} = {name!r} leads out of the study's folder; put it beside it")
    if not path.is_file():
        raise InputFileError(f"{key} = {name!r}: no such file beside the study")
    return path
