"""Studies evaluated for what decides only: no press profile, some values replaced."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from cakewright.jobs.evaluate import evaluate
from cakewright.jobs.findings import Findings
from cakewright.jobs.pilot_worth import PilotWorth, pilot_worth_of
from cakewright.machines import shipped_catalogue
from cakewright.storage.evaluation import fitted_of, frames_of, house_of, law_of, with_sampling
from cakewright.storage.studies import demo_text, read_study
from cakewright.study import Study, parse_study

__all__ = ["decided_file", "pilot_worth_file", "study_of"]


def study_of(path: Path | None, demo: str = "soy") -> tuple[Study, Path]:
    """A study, or a demonstration when there is no file, and the folder it lies in."""
    if path is None:
        return parse_study(demo_text(demo), f"{demo}.toml"), Path()
    return read_study(path), path.resolve().parent


def decided_file(
    path: Path | None,
    demo: str = "soy",
    *,
    samples: int | None = None,
    seed: int | None = None,
    values: Mapping[str, float] | None = None,
) -> Findings:
    """Findings of a study file without press profile; ``values`` (SI) replace the study's."""
    study, folder = study_of(path, demo)
    study = _replaced(with_sampling(study, samples, seed), values or {})
    law = law_of(study, folder)
    fitted = fitted_of(study, folder)
    press = law is not None or fitted is not None
    found = evaluate(study, frames_of(study, folder), law=law, fitted=fitted, with_press=press)
    return replace(found, house=house_of(study, folder))


def pilot_worth_file(path: Path | None, demo: str, found: Findings) -> PilotWorth | None:
    """Pilot runs worth making for a study without parameters from trial runs, else None."""
    study, folder = study_of(path, demo)
    if fitted_of(study, folder) is not None:
        return None
    return pilot_worth_of(
        found, frames_of(study, folder) or shipped_catalogue(), law_of(study, folder)
    )


def _replaced(study: Study, values: Mapping[str, float]) -> Study:
    if not values:
        return study
    changed = {
        place: replace(study.values[place], value=value, low=None, high=None, default=False)
        for place, value in values.items()
    }
    return replace(study, values={**study.values, **changed})
