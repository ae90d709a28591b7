"""A first look at the runs before any sampling: readings that no machine of the kind explains.

Each run is left out in turn and the rest fitted; a gross misreading lies so far from what the rest
foretells that it would bind the samplers, or bend all other runs. It is named by run and quantity.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from cakewright.jobs.calibration_density import Density, Mode, most_likely
from cakewright.jobs.contradictions import foretold_by_others
from cakewright.jobs.trial import Trial, calibration_table

__all__ = ["Doubt", "first_look", "hard_runs", "without_doubts"]

_FEWEST = 3  # runs: of two that disagree nobody can say which is wrong
_UNLIKELY = 0.1
_NEAR = 0.6  # readings of the run this near its oddest are doubted with it


@dataclass(frozen=True, slots=True)
class Doubt:
    """A reading that the other runs do not foretell: how many standard deviations it is off."""

    run: str
    output: str
    odd: float
    value: float

    @property
    def words(self) -> str:
        """The doubt in a sentence."""
        what, unit = self.output.replace("_", " "), ""
        value = self.value
        if self.output in ("cake_solids", "capture"):
            value, unit = 100.0 * value, " %"
        side = "above" if self.odd > 0 else "below"
        return (
            f"run {self.run}: {what} {value:.4g}{unit} lies {abs(self.odd):.0f} standard "
            f"deviations {side} what all other runs foretell: a misreading, a wrong unit, or "
            "another sludge"
        )


def first_look(density: Density, mode: Mode) -> tuple[Doubt, ...]:
    """Readings so far off that they are no scatter, worst first; a third of the runs at most."""
    gross = float(calibration_table()["contradiction"]["gross"])
    doubts: list[Doubt] = []
    judged = len({run for run, _ in density.trial.observed})
    most = judged // 3 if judged >= _FEWEST else 0
    while len({one.run for one in doubts}) < most:
        trial = density.trial
        odd, chances = foretold_by_others(density, mode, None)
        worst = int(np.argmin(chances))
        if chances[worst] * judged >= gross:
            break
        mine = [at for at, (run, _) in enumerate(trial.observed) if run == worst]
        peak = max(abs(odd[at]) for at in mine)
        run = trial.runs[worst]
        found = [
            Doubt(run.name, name, float(odd[at]), run.readings[name][0])
            for at, (_, name) in enumerate(trial.observed)
            if at in mine and abs(odd[at]) >= _NEAR * peak
        ]
        doubts += sorted(found, key=lambda one: -abs(one.odd))
        density = Density(without_doubts(trial, found))
        mode = most_likely(density)
    return tuple(doubts)


def without_doubts(trial: Trial, doubts: Sequence[Doubt]) -> Trial:
    """The trial without the doubted readings; a run left with none goes with them."""
    named = {(one.run, one.output) for one in doubts}
    runs = []
    for run in trial.runs:
        kept = {n: v for n, v in run.readings.items() if (run.name, n) not in named}
        if kept or not run.ran:
            runs.append(replace(run, readings=kept))
    return replace(trial, runs=tuple(runs))


def hard_runs(density: Density, mode: Mode) -> str:
    """Which runs make a posterior hard to draw: the least foretold by the others, in words."""
    chances = foretold_by_others(density, mode, None)[1]
    worst = [int(i) for i in np.argsort(chances)[:2] if chances[i] < _UNLIKELY]
    if not worst:
        return "no run stands out: runs repeat one another, or lie along a limit of the press"
    names = " and ".join(density.trial.runs[i].name for i in worst)
    return f"Hardest to bring together with the others: run{'s' if worst[1:] else ''} {names}"
