"""Make the invented trial runs of this folder: a hidden press, the soy law, readings with noise."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from cakewright.jobs.trial import PilotRun, Trial
from cakewright.machines import Kind, shipped_catalogue
from cakewright.machines.frames import frame_named
from cakewright.machines.screw.case import screw_geometry
from cakewright.quantities import Basis
from cakewright.sludge.law import LawParameter, SludgeLaw
from cakewright.sludge.law_prior import prior_of_class
from cakewright.sludge.law_text import law_to_toml

HERE = Path(__file__).parent
FRAME = "disc 200 x 1"
# turns a minute, kPa, kg/h, % feed, kg/t
SETTINGS = (
    (2.0, 40, 8.0, 1.2, 11),
    (3.0, 40, 8.0, 1.2, 11),
    (4.5, 40, 8.0, 1.2, 11),
    (3.0, 25, 8.0, 1.2, 11),
    (3.0, 70, 8.0, 1.2, 11),
    (3.0, 40, 5.5, 1.2, 11),
    (4.0, 40, 11.0, 1.2, 11),
    (3.0, 40, 8.0, 2.0, 11),
    (3.0, 40, 8.0, 1.2, 8.5),
    (3.0, 40, 8.0, 1.2, 13.5),
    (2.0, 60, 6.0, 1.5, 11),
    (4.5, 60, 10.0, 1.5, 11),
)
HIDDEN = {"grip": 0.4, "side_ratio": -0.6, "conveying": 0.5, "fines_factor": 0.5, "extrusion": 0.7}


def soy_law() -> SludgeLaw:
    """An invented law of the soy sludge as good bench tests would leave it."""
    prior = prior_of_class("industrial_biological")
    parameters = tuple(
        LawParameter(p.name, p.value, 0.25 * p.sd, Basis.BENCH, "OWN", note="invented", learnt=0.94)
        for p in prior.parameters
    )
    return SludgeLaw(
        "soy excess sludge", "industrial_biological", parameters, prior.covariance / 16.0,
        dose_low=0.005, dose_high=0.016, polymer="polymer B (invented)", invented=True,
    )  # fmt: skip


def main() -> None:
    """Write law and runs."""
    law = soy_law()
    runs = [
        PilotRun(f"R{i}", n / 60, m / 3600, ts / 100, dose / 1000,
                 {"cake_solids": (0.2, 0.006), "capture": (0.95, 0.012), "power": (200.0, 16.0)},
                 back_pressure=1000.0 * p)
        for i, (n, p, m, ts, dose) in enumerate(SETTINGS, start=1)
    ]  # fmt: skip
    geometry = screw_geometry(frame_named(FRAME, shipped_catalogue()))
    trial = Trial(Kind.MULTI_DISC_SCREW_PRESS, FRAME, geometry, law, runs, (2e4, 1.5e5))
    scores = np.array([HIDDEN.get(name, 0.0) for name in trial.names])
    rows, margins = trial.predicted_with_margin(scores[None, :])
    rng = np.random.default_rng(7)
    noise = dict.fromkeys(("cake_solids", "power"), 0.03) | {"capture": 0.01}
    lines = [
        f"# frame: {FRAME}. All runs are invented: a made-up press on a made-up sludge.",
        "run,speed [1/min],back pressure [kPa],dry solids [kg/h],feed TS [%],dose [kg/t],"
        "cake TS [%],capture [%],power [kW]",
    ]
    for i, (n, p, m, ts, dose) in enumerate(SETTINGS):
        if margins[0, i] < 0.0:
            continue
        at = [k for k, (run, _) in enumerate(trial.observed) if run == i]
        cake, capture, power = (rows[0, k] + noise[trial.observed[k][1]] * rng.normal() for k in at)
        lines.append(
            f"R{i + 1},{n},{p},{m},{ts},{dose},{100 * np.exp(cake):.1f},"
            f"{100 * min(capture, 0.999):.1f},{np.exp(power) / 1000:.3f}"
        )
    (HERE / "runs.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    (HERE / "sludge-law.toml").write_text(law_to_toml(law), encoding="utf-8")


if __name__ == "__main__":
    main()
