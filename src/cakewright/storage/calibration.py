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
from cakewright.jobs.next_trial import Target
from cakewright.jobs.screw_case import SCREW_KINDS, operating_windows, screw_geometry
from cakewright.jobs.trial import PilotRun, Trial
from cakewright.machines import Frame, shipped_catalogue
from cakewright.machines.frames import frame_named
from cakewright.quantities import Mark
from cakewright.sludge.law import SludgeLaw
from cakewright.sludge.law_prior import prior_of_class
from cakewright.storage.evaluation import frames_of, law_of, with_sampling
from cakewright.storage.pilot_runs import read_pilot_runs
from cakewright.storage.studies import read_study
from cakewright.study import Study

__all__ = ["calibrate_file", "duty_of"]


def calibrate_file(
    study_path: Path,
    pilot_path: Path,
    progress: Callable[[str], None] = lambda _: None,
    *,
    frame: str = "",
    without: Sequence[str] = (),
    date: str = "",
) -> CalibrationFindings:
    """Posterior from files.

    ``frame`` is the machine on trial: that of the sheet, else the study's choice. ``without``
    leaves runs out by name.

    Raises
    ------
    DataError
        If the sheet cannot be used, or the frame is no screw press.
    """
    study = read_study(study_path)
    folder = study_path.resolve().parent
    frames = frames_of(study, folder) or shipped_catalogue()
    tested = law_of(study, folder)
    progress("evaluating the duty")
    found = _evaluated(study, frames, tested)
    sludge = tested or prior_of_class(_class_of(found))
    sheet = read_pilot_runs(pilot_path, sludge.value("solids_density"))
    chosen = frame_named(frame or sheet.frame or found.decision.frame, frames)
    if chosen.machine not in SCREW_KINDS:
        allowed = ", ".join(kind.value for kind in SCREW_KINDS)
        fault = Fault(
            "frame", f"{chosen.name} ({chosen.machine.value})", allowed, "name a screw press"
        )
        raise DataError(pilot_path.name, [fault])
    window = operating_windows()[chosen.machine.value]
    trial = Trial(
        kind=chosen.machine,
        frame=chosen.name,
        geometry=screw_geometry(chosen),
        law=sludge,
        runs=_kept(sheet.runs, without, pilot_path.name),
        plate_window=(window["back_pressure_low"], window["back_pressure_high"]),
    )
    mark = Mark.INVENTED if sheet.invented else Mark.NONE
    today = date or calendar_date.today().isoformat()
    return calibrate(trial, today, target=duty_of(found, chosen), mark=mark, progress=progress)


def _kept(runs: Sequence[PilotRun], without: Sequence[str], where: str) -> tuple[PilotRun, ...]:
    unknown = sorted(set(without) - {run.name for run in runs})
    if unknown:
        names = ", ".join(run.name for run in runs)
        raise DataError(where, [Fault("--without", ", ".join(unknown), names, "name a run")])
    return tuple(run for run in runs if run.name not in set(without))


def _evaluated(study: Study, frames: Sequence[Frame], law: SludgeLaw | None) -> Findings:
    few = with_sampling(study, 0, None)
    words = dict(few.words)
    words["machines.kinds"] = tuple(kind.value for kind in SCREW_KINDS)
    try:
        return evaluate(few, frames, law=law, with_decision=False)
    except InfeasibleError:
        return evaluate(replace(few, words=words), frames, with_decision=False)


def _class_of(found: Findings) -> str:
    largest = max(found.sludges, key=lambda s: s.figures["dry_solids_flow"].point)
    return largest.sludge_class


def duty_of(found: Findings, frame: Frame) -> Target:
    """The study's duty on the frame on trial: its setting, the load per drained area kept."""
    press = found.press
    feed = found.feed.figures
    if press is None or not press.figures:
        speed = 0.5 * ((frame.speed_low or 1 / 60) + (frame.speed_high or 5 / 60))
        window = operating_windows()[frame.machine.value]
        plate = float((window["back_pressure_low"] * window["back_pressure_high"]) ** 0.5)
        load = 0.7 * frame.solids_limit
        dose = found.decision.headline[2].point if press is None else press.dose
        words = f"the middle of the window of frame {frame.name} at 70 % of its rated load"
    else:
        speed, plate, dose = press.speed, press.back_pressure, press.dose
        sizes = {f.frame: f for o in found.options for f in o.frames}
        rated = press.inputs["dry_solids_flow"]
        same = press.frame == frame.name or press.frame not in sizes
        load = rated if same else min(rated, 0.7 * frame.solids_limit)
        words = f"the study's operating point on frame {frame.name}"
    return Target(
        speed=speed,
        back_pressure=plate,
        dry_solids_flow=load,
        feed_solids=feed["total_solids"].point,
        dose=dose,
        temperature=feed["temperature"].point,
        words=words,
    )
