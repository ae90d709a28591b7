"""Trials made up from hidden machines and sludges, exactly as calibration believes they come about.

Twelve settings are tried; whether each can be held is drawn with the chance calibration gives it,
and those that cannot be held stay in the trial as such.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from multiprocessing import get_context
from typing import TypeVar

import numpy as np

from cakewright.jobs.trial import PilotRun, Trial
from cakewright.machines import Kind, shipped_catalogue
from cakewright.machines.frames import frame_named
from cakewright.machines.screw.case import screw_geometry
from cakewright.quantities import Basis, FloatArray
from cakewright.sludge.law import LawParameter, SludgeLaw
from cakewright.sludge.law_prior import prior_of_class

__all__ = ["asked_of", "made_up", "side_by_side", "trial_of", "with_odd_run"]

One, Found = TypeVar("One"), TypeVar("Found")

FRAME = "disc 200 x 1"
LEAST_RAN = 8
CAKE_SPREAD, CAPTURE_SPREAD = 0.033, 0.012
# turns a minute, kPa, kg/h, feed %, kg/t
SETTINGS = (
    (2.0, 40, 8.0, 1.2, 11), (3.0, 40, 8.0, 1.2, 11), (4.5, 40, 8.0, 1.2, 11),
    (3.0, 25, 8.0, 1.2, 11), (3.0, 70, 8.0, 1.2, 11), (3.0, 40, 5.5, 1.2, 11),
    (4.0, 40, 11.0, 1.2, 11), (3.0, 40, 8.0, 2.0, 11), (3.0, 40, 8.0, 1.2, 8.5),
    (3.0, 40, 8.0, 1.2, 13.5), (2.0, 60, 6.0, 1.5, 11), (4.5, 60, 10.0, 1.5, 11),
)  # fmt: skip


def law() -> SludgeLaw:
    """The class prior with a quarter of its spread, as good tests would leave it. Invented."""
    prior = prior_of_class("industrial_biological")
    parameters = tuple(
        LawParameter(p.name, p.value, 0.25 * p.sd, Basis.BENCH, "OWN", learnt=0.94)
        for p in prior.parameters
    )
    return SludgeLaw("made up", "industrial_biological", parameters, prior.covariance / 16.0)


def trial_of(runs: list[PilotRun]) -> Trial:
    """Runs on the frame."""
    geometry = screw_geometry(frame_named(FRAME, shipped_catalogue()))
    return Trial(Kind.MULTI_DISC_SCREW_PRESS, FRAME, geometry, law(), tuple(runs), (2e4, 1.5e5))


def _asked() -> list[PilotRun]:
    readings = {"cake_solids": (0.12, 0.12 * CAKE_SPREAD), "capture": (0.93, CAPTURE_SPREAD)}
    return [
        PilotRun(
            f"R{i}", n / 60, m / 3600, ts / 100, dose / 1000, readings, back_pressure=1000.0 * p
        )
        for i, (n, p, m, ts, dose) in enumerate(SETTINGS, start=1)
    ]


def made_up(rng: np.random.Generator, *, all_ran: bool = False) -> tuple[Trial, FloatArray]:
    """A trial of which eight settings or more could be run, and the hidden machine's scores."""
    runs = _asked()
    trial = trial_of(runs)
    while True:
        scores = rng.standard_normal((1, trial.size))
        rows, margins = trial.predicted_with_margin(
            scores, rng.standard_normal((1, trial.law_size))
        )
        ran = rng.random(len(runs)) < trial.chance_of_running(margins[0])
        if np.sum(ran) >= (len(runs) if all_ran else LEAST_RAN):
            break
    noisy = rows[0] + trial.made_up_errors(rng)
    read: list[PilotRun] = []
    for i, run in enumerate(runs):
        if not ran[i]:
            read.append(replace(run, readings={}, ran=False))
            continue
        cake, capture = (noisy[k] for k, (at, _) in enumerate(trial.observed) if at == i)
        solids = float(np.exp(cake))
        readings = {
            "cake_solids": (solids, CAKE_SPREAD * solids),
            "capture": (float(capture), CAPTURE_SPREAD),
        }
        read.append(replace(run, readings=readings))
    return trial_of(read), scores[0]


def with_odd_run(trial: Trial, run: int, factor: float) -> Trial:
    """The same trial with the cake of one run read too high by a factor."""
    runs = list(trial.runs)
    cake, sd = runs[run].readings["cake_solids"]
    readings = {**runs[run].readings, "cake_solids": (factor * cake, factor * sd)}
    runs[run] = replace(runs[run], readings=readings)
    return trial_of(runs)


def side_by_side(work: Callable[[One], Found], items: Sequence[One], workers: int) -> list[Found]:
    """Results in order: in so many processes of one thread, or (0) in one batch for all."""
    if workers == 0:
        from trials_together import together

        return together(work, items)
    if workers == 1:
        return [work(item) for item in items]
    os.environ |= {"OMP_NUM_THREADS": "1", "XLA_FLAGS": "--xla_cpu_multi_thread_eigen=false"}
    with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
        return list(pool.map(work, items))


def asked_of(words: Sequence[str]) -> str:
    """What was asked of a benchmark, without where its record was put."""
    kept = list(words[1:])
    if "--out" in kept:
        at = kept.index("--out")
        del kept[at : at + 2]
    return " ".join(kept)
