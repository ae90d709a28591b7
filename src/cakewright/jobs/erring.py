"""Predictions of a pressing path with what the path may be wrong by: the forecast's error terms.

They are the terms of the fit (``path_error``): the field, learnt near what was tried; the sludge
of a period against that of the year; and another size of the kind than the one on trial.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from cakewright.jobs.fitted import FittedPress, Score, chosen_draws
from cakewright.jobs.path_error import error_table
from cakewright.quantities import Figure, FloatArray
from cakewright.sludge.law import SludgeLaw

__all__ = ["UNTRIED", "Erring", "erring", "moved_by"]

UNTRIED = "not tried"  # begins what is said of a figure away from every run of the trial

_KEPT = 0.05  # share of the loss that an error of the capture leaves at least
_DRIEST = 0.95
_LIKE_A_RUN = 0.48  # what a field keeps at one length: a setting farther from every run is untried


@dataclass(frozen=True, slots=True)
class Erring:
    """Where the error of a prediction comes from: frame, trial if any, law, scores.

    ``shared`` gives the scores that chose the posterior's draws, ``own`` scores of its own.
    """

    machine: str
    frame: str
    fitted: FittedPress | None
    law: SludgeLaw | None
    shared: Score
    own: Score

    @property
    def on_trials_sludge(self) -> bool:
        """Whether the trial was made on this very law."""
        return self.fitted is not None and self.law is not None and self.fitted.knows(self.law)

    def of(self, name: str, at: FloatArray | None, size: int) -> FloatArray:
        """Error of a figure on its line, over samples; the point case gets its mean."""
        row = error_table()[name]
        mean, field = np.zeros(size), np.full(size, float(np.hypot(row["level"], row["field"])))
        fitted = self.fitted
        if fitted is not None and fitted.seen is not None and at is not None:
            pick = chosen_draws(fitted, self.shared, with_law=self.on_trials_sludge)[:size]
            alike = 1.0 if self.on_trials_sludge else error_table()["distance"]["other_sludge"]
            mean, field = fitted.seen.error_at(name, at, pick, alike)
        key = f"~path.{self.machine}.{name}"
        found = mean + field * self.own(key)[:size]
        # The sludge of a period is the same for every kind: it moves them together.
        found = found + row["batch"] * self.own(f"~batch.{name}")[:size]
        if fitted is not None and fitted.frame != self.frame:
            found = found + row["frame"] * self.own(f"{key}.frame")[:size]
        return np.asarray(found)

    def untried(self, at: FloatArray | None) -> str:
        """Words where no run of the trial was like the point case, with what was found there."""
        fitted = self.fitted
        if fitted is None or fitted.seen is None or at is None:
            return ""
        if fitted.frame != self.frame:
            where, what = "frame", f"frame {self.frame}, the trial was on {fitted.frame}"
        elif fitted.seen.nearest(at[:1])[0] < _LIKE_A_RUN:
            where, what = "beyond", "a setting far from every run of the trial"
        else:
            return ""
        found = error_table()["passed_of_90"]
        return (
            f"{UNTRIED}: {what}; on {found['sites']} simulated sites of another make a cake "
            f"promised there at 90 % passed {100 * found[where]:.0f} % of later tests "
            f"({100 * found['inside']:.0f} % inside what was tried)"
        )


def erring(
    figures: Mapping[str, Figure], error: Erring, at: FloatArray | None
) -> dict[str, Figure]:
    """Figures with the error of the path in them.

    ``at`` are the settings of the samples (``path_error.coordinates``), None for a kind that no
    trial can have taught.
    """
    found = dict(figures)
    untried = error.untried(at)
    for name in ("cake_solids", "capture", "power"):
        if name not in figures:
            continue
        samples = figures[name].samples
        away = error.of(name, at, samples.size)
        moved = moved_by(name, samples, away)
        found[name] = replace(
            figures[name], samples=moved, note=_note(figures[name], away, untried)
        )
    return found


def moved_by(name: str, samples: FloatArray, away: FloatArray) -> FloatArray:
    """A figure with an error on its line, kept within what is possible."""
    if name == "capture":
        return np.asarray(np.clip(samples + away, 0.0, 1.0 - _KEPT * (1.0 - samples)))
    moved = samples * np.exp(away)
    return np.asarray(np.minimum(moved, _DRIEST) if name == "cake_solids" else moved)


def _note(figure: Figure, away: FloatArray, untried: str) -> str:
    """What the runs of a trial have moved the point case by, and whether any was like it."""
    told = [figure.note, untried]
    if away[0]:
        by = f"{100 * away[0]:+.1f} {'points' if figure.name == 'capture' else '%'}"
        told.insert(1, f"moved by {by} from the path: what runs near this setting left")
    return "; ".join(text for text in told if text)
