"""Screw presses predicted by their physics, in the place of the published band or beside it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from cakewright.jobs.draws import StudyDraws
from cakewright.jobs.options import Option
from cakewright.jobs.press import SCREW_KINDS, PressFindings, parameter_scores, press_of
from cakewright.jobs.pressed import LAW_SCORES, Pressed, pressed_of
from cakewright.machines import Duty
from cakewright.quantities import Figure
from cakewright.sludge import Feed, RunLoad
from cakewright.sludge.law import SludgeLaw
from cakewright.study import Study

__all__ = ["Site", "law_scores", "predicted", "shown"]


def law_scores() -> tuple[str, ...]:
    """Names of the normal scores the law and the machine parameters need."""
    machine = [name for kind in SCREW_KINDS for name in parameter_scores(kind)]
    return (*(f"~law.{i}" for i in range(LAW_SCORES)), *dict.fromkeys(machine))


@dataclass(frozen=True)
class Site:
    """What the prediction needs of a study, over samples."""

    study: Study
    draws: StudyDraws
    feed: Feed
    duty: Duty
    load: RunLoad
    law: SludgeLaw | None

    @cached_property
    def pressed(self) -> Pressed:
        """The law at the dose used: the study's, else its optimum."""
        dosed = self.study.given("polymer.dose") is not None
        dose = self.draws["polymer.dose"] if dosed else None
        return pressed_of(self.draws, self.feed, self.law, dose)


def predicted(
    site: Site, options: Sequence[Option]
) -> tuple[tuple[Option, ...], dict[str, PressFindings]]:
    """Options with screw presses on the tested law; a press beyond its limits keeps its band."""
    presses: dict[str, PressFindings] = {}
    found: list[Option] = []
    for option in options:
        press = _press(site, option)
        if press is not None:
            presses[option.key] = press
        found.append(_with(site, option, press))
    return tuple(found), presses


def shown(site: Site, option: Option) -> dict[str, PressFindings]:
    """The chosen press by the prior of the class: profile, map and limits, beside the band."""
    press = _press(site, option)
    return {} if press is None else {option.key: press}


def _press(site: Site, option: Option) -> PressFindings | None:
    if option.kind.kind not in SCREW_KINDS or option.plan is None:
        return None
    if option.plan.frame.screw_diameter is None or option.plan.frame.drained_length is None:
        return None
    least = float(site.draws["target.capture"][0])
    return press_of(site.draws, site.feed, site.load, option.plan, site.pressed, least)


def _with(site: Site, option: Option, press: PressFindings | None) -> Option:
    if (
        press is None
        or not press.figures
        or press.figures["cake_solids"].samples.size != (site.draws.size)
    ):
        return option
    figures: list[Figure] = [press.figures["cake_solids"], press.figures["capture"]]
    if site.study.given("polymer.dose") is None:
        figures.append(site.pressed.figure("polymer_dose", site.pressed.dose, "at the optimum"))
    performance = option.performance.replaced(*figures)
    verdicts = option.kind.verdicts(site.feed, site.duty, performance)
    return replace(option, performance=performance, verdicts=verdicts)
