"""A study, its law and a sheet of trial runs -> posterior of the machine's parameters."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date as calendar_date
from pathlib import Path

from cakewright.errors import DataError, Fault, InfeasibleError
from cakewright.jobs.calibrate import CalibrationFindings, calibrate
from cakewright.jobs.evaluate import evaluate
from cakewright.jobs.findings import Findings
from cakewright.jobs.fitted import FittedPress
from cakewright.jobs.pilot_worth import main_class_of, target_of
from cakewright.jobs.trial import PilotRun, Trial
from cakewright.machines import Frame, machine, machine_types, shipped_catalogue
from cakewright.machines.frames import frame_named
from cakewright.machines.registry import data_of
from cakewright.machines.screw.case import screw_geometry
from cakewright.quantities import Mark
from cakewright.sludge.law import SludgeLaw
from cakewright.sludge.law_prior import prior_of_class
from cakewright.storage.evaluation import frames_of, law_of, with_sampling
from cakewright.storage.pilot_runs import PilotSheet, read_pilot_runs
from cakewright.storage.press_parameters import read_press_parameters
from cakewright.storage.studies import read_study
from cakewright.study import Study

__all__ = ["calibrate_file"]


def calibrate_file(
    study_path: Path,
    pilot_path: Path,
    progress: Callable[[str], None] = lambda _: None,
    *,
    frame: str = "",
    without: Sequence[str] = (),
    date: str = "",
    prior: Path | None = None,
    without_odd: bool = False,
) -> CalibrationFindings:
    """Posterior from files.

    ``frame`` is the machine on trial: that of the sheet, else the study's choice. ``without``
    leaves runs out by name, ``without_odd`` readings that a first look names. ``prior`` is a file
    of press parameters from earlier runs, or of a fleet, to start from instead of the class prior.

    Raises
    ------
    DataError
        If the sheet or the prior cannot be used, or the frame is no screw press.
    """
    study = read_study(study_path)
    folder = study_path.resolve().parent
    frames = frames_of(study, folder) or shipped_catalogue()
    tested = law_of(study, folder)
    before = None if prior is None else read_press_parameters(prior)
    # Faults of the sheet are said before seconds are spent, where its densities are known.
    sheet = None if tested is None else _runs_of(pilot_path, tested)
    progress("evaluating the duty")
    found = _evaluated(study, frames, tested)
    sludge = tested or prior_of_class(main_class_of(found))
    sheet = sheet or _runs_of(pilot_path, sludge)
    chosen = frame_named(frame or sheet.frame or found.decision.frame, frames)
    if not machine(chosen.machine).has_operating_map:
        allowed = ", ".join(_on_trial())
        fault = Fault(
            "frame", f"{chosen.name} ({chosen.machine.value})", allowed, "name a screw press"
        )
        raise DataError(pilot_path.name, [fault])
    if before is not None:
        _of_kind(before, chosen, str(prior))
    window = data_of(chosen.machine, "settings.toml")
    trial = Trial(
        kind=chosen.machine,
        frame=chosen.name,
        geometry=screw_geometry(chosen),
        law=sludge,
        runs=_kept(sheet.runs, without, pilot_path.name),
        plate_window=(window["back_pressure_low"], window["back_pressure_high"]),
        before=before,
    )
    mark = Mark.INVENTED if sheet.invented else Mark.NONE
    today = date or calendar_date.today().isoformat()
    return calibrate(
        trial,
        today,
        target=target_of(found, chosen),
        mark=mark,
        without_odd=without_odd,
        progress=progress,
    )


def _runs_of(path: Path, law: SludgeLaw) -> PilotSheet:
    return read_pilot_runs(path, law.value("solids_density"))


def _of_kind(before: FittedPress, frame: Frame, where: str) -> None:
    if before.machine is not frame.machine:
        got, tried = before.machine.value, "give parameters of this kind, or leave --prior out"
        raise DataError(where, [Fault("machine", got, frame.machine.value, tried)])


def _kept(runs: Sequence[PilotRun], without: Sequence[str], where: str) -> tuple[PilotRun, ...]:
    unknown = sorted(set(without) - {run.name for run in runs})
    if unknown:
        names = ", ".join(run.name for run in runs)
        raise DataError(where, [Fault("--without", ", ".join(unknown), names, "name a run")])
    return tuple(run for run in runs if run.name not in set(without))


def _on_trial() -> tuple[str, ...]:
    """Kinds whose parameters trial runs narrow."""
    return tuple(kind.value for kind, one in machine_types().items() if one.has_operating_map)


def _evaluated(study: Study, frames: Sequence[Frame], law: SludgeLaw | None) -> Findings:
    few = with_sampling(study, 0, None)
    words = dict(few.words)
    words["machines.kinds"] = _on_trial()
    try:
        return evaluate(few, frames, law=law, with_decision=False)
    except InfeasibleError:
        return evaluate(replace(few, words=words), frames, with_decision=False)
