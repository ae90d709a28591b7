"""What a fitted press is foretold to do at one setting: cake and capture over samples."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from cakewright.jobs.erring import Erring, moved_by
from cakewright.jobs.fitted import FittedPress, drawn_parameters, joint_normals
from cakewright.jobs.path_error import coordinates
from cakewright.jobs.trial import PilotRun, Trial, drained_wall
from cakewright.jobs.trial_prior import Believed
from cakewright.machines import Frame
from cakewright.machines.outcome import filled
from cakewright.machines.screw.case import screw_geometry
from cakewright.quantities import FloatArray
from cakewright.sludge.law import SludgeLaw

__all__ = ["Foretold", "foretold"]

_READ = {"cake_solids": (0.2, 0.01), "capture": (0.9, 0.01)}


@dataclass(frozen=True, slots=True, eq=False)
class Foretold:
    """Samples of figures at a setting, the point first, and the share that can run there."""

    samples: Mapping[str, FloatArray]
    answered: float


def foretold(
    fitted: FittedPress, law: SludgeLaw, frame: Frame, run: PilotRun, samples: int, seed: int = 1
) -> Foretold:
    """Cake and capture of a press at a setting with a back pressure, if it can be run there.

    Errors of the path are in them. A sample beyond a limit counts as in a study: as the low end of
    those that stand, none of which is left out for it.
    """

    def score(key: str) -> FloatArray:
        stream = np.random.default_rng([seed, *key.encode()])
        return np.concatenate(([0.0], stream.standard_normal(samples)))

    trial = Trial(
        frame.machine, frame.name, screw_geometry(frame), law,
        (replace(run, readings=_READ, ran=True),), (1e4, 2e5),
    )  # fmt: skip
    machine = drawn_parameters(frame.machine, score, fitted, law)
    if fitted.knows(law):
        normals = joint_normals(fitted, score)[1]
    else:
        normals = np.stack([score(f"~law.{i}") for i in range(trial.law_size)], axis=1)
    plates = np.full((samples + 1, 1), run.back_pressure or np.nan)
    rows, margin = trial.answers_of(Believed(machine, normals), plates)
    answered = margin[:, 0] >= 0.0
    error = Erring(frame.machine.value, frame.name, fitted, law, score, score)
    at = np.repeat(_place(run, drained_wall(trial.geometry)), samples + 1, axis=0)
    found = {}
    for column, name in enumerate(("cake_solids", "capture")):
        values = np.exp(rows[:, column]) if name == "cake_solids" else rows[:, column]
        if answered.any():
            values = filled(values, answered)
        found[name] = moved_by(name, values, error.of(name, at, samples + 1))
    return Foretold(found, float(answered[1:].mean()))


def _place(run: PilotRun, wall: float) -> FloatArray:
    return coordinates(
        speed=run.speed,
        back_pressure=run.back_pressure or np.nan,
        load=run.dry_solids_flow / wall,
        feed_solids=run.feed_solids,
        dose=run.dose,
    )
