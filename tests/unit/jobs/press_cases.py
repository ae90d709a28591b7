"""Cases the press tests share: a narrow invented law, one frame, trials made from hidden scores."""

from __future__ import annotations

from functools import cache

import numpy as np

from cakewright.jobs.evaluate import evaluate
from cakewright.jobs.findings import Findings
from cakewright.jobs.trial import PilotRun, Trial
from cakewright.machines import Kind, shipped_catalogue
from cakewright.machines.frames import frame_named
from cakewright.machines.screw.case import screw_geometry
from cakewright.quantities import Basis
from cakewright.sludge.law import LawParameter, SludgeLaw
from cakewright.sludge.law_prior import prior_of_class
from cakewright.storage.studies import demo_text
from cakewright.study import parse_study

FRAME = "disc 200 x 1"
ALONE = '[machines]\nkinds = ["multi_disc_screw_press"]'
# turns a minute, kPa, kg/h, feed %, kg/t
SETTINGS = (
    (2.0, 40, 8.0, 1.2, 11),
    (3.0, 40, 8.0, 1.2, 11),
    (4.5, 40, 8.0, 1.2, 11),
    (3.0, 25, 8.0, 1.2, 11),
    (3.0, 70, 8.0, 1.2, 11),
    (4.0, 40, 11.0, 1.2, 11),
    (3.0, 40, 8.0, 1.2, 8.5),
)


@cache
def narrow_law() -> SludgeLaw:
    """The class prior with a quarter of its spread, as good tests would leave it. Invented."""
    prior = prior_of_class("industrial_biological")
    parameters = tuple(
        LawParameter(p.name, p.value, 0.25 * p.sd, Basis.BENCH, "OWN", learnt=0.94)
        for p in prior.parameters
    )
    return SludgeLaw(
        "made-up sludge", "industrial_biological", parameters, prior.covariance / 16.0,
        dose_low=0.008, dose_high=0.015, invented=True,
    )  # fmt: skip


@cache
def with_law(extra: str = "", samples: int = 64) -> Findings:
    """The soy demonstration on the narrow law, all kinds compared or the multi-disc press alone."""
    only = ALONE if extra else ""
    text = f"{demo_text('soy')}\n{extra}\n{only}\n[sampling]\nsamples = {samples}\n"
    return evaluate(parse_study(text), law=narrow_law(), with_decision=False)


def trial_of(runs: list[PilotRun]) -> Trial:
    """Runs on the frame with the narrow law."""
    geometry = screw_geometry(frame_named(FRAME, shipped_catalogue()))
    kind = Kind.MULTI_DISC_SCREW_PRESS
    return Trial(kind, FRAME, geometry, narrow_law(), tuple(runs), (2e4, 1.5e5))


def made_up(
    scores: dict[str, float], seed: int, settings: tuple[tuple[float, ...], ...] = SETTINGS
) -> Trial:
    """A trial read from a hidden machine with the noise the model allows."""
    runs = [
        PilotRun(
            f"R{i}", n / 60, m / 3600, ts / 100, dose / 1000,
            {"cake_solids": (0.12, 0.004), "capture": (0.93, 0.012)}, back_pressure=1000.0 * p,
        )
        for i, (n, p, m, ts, dose) in enumerate(settings, start=1)
    ]  # fmt: skip
    trial = trial_of(runs)
    hidden = np.array([scores.get(name, 0.0) for name in trial.names])
    rows, margins = trial.predicted_with_margin(hidden[None, :])
    noisy = rows[0] + trial.made_up_errors(np.random.default_rng(seed))
    kept: list[PilotRun] = []
    for i, run in enumerate(runs):
        if margins[0, i] < 0.0:
            continue
        at = {name: k for k, (r, name) in enumerate(trial.observed) if r == i}
        cake = float(np.exp(noisy[at["cake_solids"]]))
        capture = min(float(noisy[at["capture"]]), 0.999)
        readings = {"cake_solids": (cake, 0.004), "capture": (capture, 0.012)}
        kept.append(
            PilotRun(
                run.name, run.speed, run.dry_solids_flow, run.feed_solids, run.dose, readings,
                back_pressure=run.back_pressure,
            )
        )  # fmt: skip
    return trial_of(kept)
