"""Tests and trial runs held against what was believed before them, as they move the answer.

The chosen machine is asked three times: by the prior of the class, by the law of the tests, and by
the law with the trial runs. What a step moves beyond the 95 % band of the step before it is told
with what moved most.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from cakewright.jobs.finding_parts import Answered, Moved
from cakewright.jobs.fitted import FittedPress
from cakewright.jobs.learn_press import class_spread
from cakewright.jobs.options import Option
from cakewright.jobs.prediction import Physics, Site, answer_of
from cakewright.machines.press_priors import parameter_priors
from cakewright.quantities import Figure
from cakewright.sludge.law import SludgeLaw
from cakewright.sludge.law_prior import prior_of_class

__all__ = ["answered_of", "beyond", "moved_of"]

_JUDGED = ("cake_solids", "capture")
_BAND = (0.025, 0.975)
_FAR = 1.0  # standard deviations of the prior: what moved less is no reason
_MOST = 3
_FEWEST = 20  # draws: of fewer there is no band to leave


def answered_of(option: Option, physics: Physics) -> Answered | None:
    """Share of the draws for which the path of the chosen kind has a cake."""
    found = physics.screws.get(option.key) or physics.others.get(option.key)
    return None if found is None else Answered(found.answered, found.tested)


def moved_of(site: Site, option: Option, physics: Physics) -> tuple[Moved, ...]:
    """What tests and runs move beyond the 95 % band of what was believed before them."""
    plan, law = option.plan, site.law
    now = physics.screws.get(option.key) or physics.others.get(option.key)
    if plan is None or law is None or now is None:
        return ()
    prior = answer_of(replace(site, law=None, fitted=None), plan).figures
    by_runs = site.fitted is not None and site.fitted.machine is plan.frame.machine
    tested = answer_of(replace(site, fitted=None), plan).figures if by_runs else now.figures
    other_class = law.sludge_class not in site.feed.shares
    found = beyond("tests", prior, tested, _law_shifts(law), other_class=other_class)
    if site.fitted is not None and by_runs:
        found += beyond("runs", tested, now.figures, _machine_shifts(site.fitted))
    return found


def beyond(
    evidence: str,
    before: Mapping[str, Figure],
    after: Mapping[str, Figure],
    shifts: tuple[tuple[str, float], ...],
    *,
    other_class: bool = False,
) -> tuple[Moved, ...]:
    """Figures whose middle left the 95 % band they had before; a cake lost counts as moved."""
    found = []
    judged = _JUDGED if before and _drawn(before["cake_solids"]).size >= _FEWEST else ()
    for name in judged:
        low, high = (float(v) for v in np.quantile(_drawn(before[name]), _BAND))
        value = float(np.median(_drawn(after[name]))) if after else None
        if value is None or not low <= value <= high:
            found.append(Moved(evidence, name, value, low, high, shifts, other_class))
        if value is None:
            break
    return tuple(found)


def _drawn(figure: Figure) -> np.ndarray:
    return figure.samples[1:] if figure.samples.size > 1 else figure.samples


def _largest(shifts: Mapping[str, float]) -> tuple[tuple[str, float], ...]:
    ranked = sorted(shifts.items(), key=lambda one: -abs(one[1]))
    return tuple((name, z) for name, z in ranked[:_MOST] if abs(z) >= _FAR)


def _law_shifts(law: SludgeLaw) -> tuple[tuple[str, float], ...]:
    """Parameters of the law farthest from their class, in its standard deviations."""
    prior = prior_of_class(law.sludge_class)
    gaps = (law.centre - prior.centre) / np.sqrt(np.diag(prior.covariance))
    names = [parameter.name for parameter in law.parameters]
    return _largest(dict(zip(names, map(float, gaps), strict=True)))


def _machine_shifts(fitted: FittedPress) -> tuple[tuple[str, float], ...]:
    """Parameters of the machine farthest from their kind, in its standard deviations."""
    priors = parameter_priors(fitted.machine)
    shifts = {}
    for name, mean in zip(fitted.names, fitted.mean[: len(fitted.names)], strict=True):
        centre, spread = class_spread(priors[name])
        shifts[name] = float((mean - centre) / spread)
    return _largest(shifts)
