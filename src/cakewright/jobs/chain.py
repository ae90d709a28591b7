"""The chosen machine on other draws than the study's: what tornado and variance shares need."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np

from cakewright.jobs.bill import bill_of
from cakewright.jobs.choice import Priced
from cakewright.jobs.draws import StudyDraws
from cakewright.jobs.line import line_of
from cakewright.jobs.money import Yearly, money_of, yearly_of
from cakewright.jobs.options import Option, duty_of, load_of, options_of
from cakewright.jobs.streams import feed_of
from cakewright.line.design import LineDesign
from cakewright.machines import Plan
from cakewright.quantities import FloatArray
from cakewright.sludge import Feed
from cakewright.statistics import Design, Draws
from cakewright.study import Study

__all__ = ["OUTPUTS", "Made", "made_on", "other_draws", "results_on"]

OUTPUTS = ("cake_solids", "run_hours_per_day", "cost_specific")


def other_draws(draws: StudyDraws, values: Mapping[str, FloatArray], size: int) -> StudyDraws:
    """The study's draws with other values of some places; the rest stay at the point case."""
    whole = {
        place: values.get(place, np.full(size, drawn[0]))
        for place, drawn in draws.draws.values.items()
    }
    empty = np.empty((size - 1, 0))
    return StudyDraws(
        Draws(MappingProxyType(whole), (), empty, draws.draws.seed, 1, Design.SOBOL),
    )


def results_on(study: Study, draws: StudyDraws, priced: Priced) -> Mapping[str, FloatArray]:
    """The headline figures that a decision hangs on, of one priced option, over other draws."""
    made = made_on(study, draws, priced)
    money = money_of(study, bill_of(study, made.line, made.plan), made.yearly, draws)
    return {
        "cake_solids": made.option.performance.samples("cake_solids"),
        "capture": made.option.performance.samples("capture"),
        "run_hours_per_day": np.asarray(made.plan.figures["run_hours_per_day"].samples),
        "cost_specific": np.asarray(money.per_dry_solids),
    }


@dataclass(frozen=True, slots=True, eq=False)
class Made:
    """One priced option at work on other draws than the study's."""

    option: Option
    plan: Plan
    line: LineDesign
    yearly: Yearly
    feed: Feed


def made_on(study: Study, draws: StudyDraws, priced: Priced) -> Made:
    """What an option makes on other draws: frame and sizes of the line kept, published band."""
    plan = priced.plan
    kind = plan.frame.machine.value
    one = replace(study, words={**study.words, "machines.kinds": (kind,)})
    feed = feed_of(one, draws)
    duty, load = duty_of(one, draws), load_of(draws, feed)
    (option,) = options_of(one, draws, feed, load, duty, [plan.frame])
    found = option.plan or plan
    line = line_of(one, draws, feed, found, option.performance, sized=priced.line)
    return Made(option, found, line, yearly_of(option, line, feed, draws), feed)
