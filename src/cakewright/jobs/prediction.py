"""Machines predicted by their physics, in the place of the published band or beside it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TypeAlias

import numpy as np

from cakewright.jobs.draws import StudyDraws
from cakewright.jobs.erring import Erring, erring
from cakewright.jobs.fitted import FittedPress, drawn_parameters
from cakewright.jobs.options import Option, reframed
from cakewright.jobs.path_error import coordinates
from cakewright.jobs.pressed import pressed_of
from cakewright.jobs.trial import drained_wall
from cakewright.machines import Answer, Duty, Kind, Plan, Verdict, machine
from cakewright.machines.goal import Aim, Goal, Prices
from cakewright.machines.prediction import KindFindings
from cakewright.machines.press_priors import parameter_scores
from cakewright.machines.pressed import LAW_SCORES, Pressed
from cakewright.machines.screw.case import screw_geometry
from cakewright.machines.screw.prediction import PressFindings
from cakewright.machines.sizing import RULED_OUT
from cakewright.quantities import Figure, FloatArray
from cakewright.sludge import Feed, RunLoad
from cakewright.sludge.law import SludgeLaw
from cakewright.study import Study

__all__ = [
    "PATH_RULE",
    "Physics",
    "Site",
    "answer_of",
    "disagreements",
    "law_scores",
    "predicted",
    "shown",
]


def law_scores(kinds: Iterable[Kind]) -> tuple[str, ...]:
    """Names of the normal scores the law and the machine parameters of some kinds need."""
    own = [name for kind in kinds for name in parameter_scores(kind)]
    return (*(f"~law.{i}" for i in range(LAW_SCORES)), *dict.fromkeys(own))


@dataclass(frozen=True)
class Site:
    """What the prediction needs of a study, over samples."""

    study: Study
    draws: StudyDraws
    feed: Feed
    duty: Duty
    load: RunLoad
    law: SludgeLaw | None
    fitted: FittedPress | None = None

    @cached_property
    def pressed(self) -> Pressed:
        """The law at the dose used: the study's, else its optimum."""
        dose = self.draws["polymer.dose"] if self.dosed else None
        return pressed_of(self.draws, self.feed, self.law, dose, self.fitted)

    @property
    def dosed(self) -> bool:
        """Whether the study states the dose."""
        return self.study.given("polymer.dose") is not None

    def goal(self, plan: Plan) -> Goal:
        """What the settings of a machine are chosen for."""
        return Goal(
            Aim(self.study.word("press.aim") or Aim.DRIEST_CAKE.value),
            self.prices,
            float(self.draws["target.capture"][0]),
            self.parameter_words(plan),
            free_dose=self.law is not None and not self.dosed,
        )

    @cached_property
    def prices(self) -> Prices:
        """What a setting changes in money, point case."""
        at = {place: float(self.draws[place][0]) for place in _PRICES}
        away = at["prices.disposal"] + at["prices.haulage"] * at["outlet.distance"]
        away += at["prices.trip"] / at["outlet.payload"]
        active = at["prices.polymer"] / at["polymer.activity"]
        return Prices(active, away, at["prices.power"])

    def parameters(self, kind: Kind) -> dict[str, FloatArray]:
        """Machine parameters over samples."""
        return drawn_parameters(kind, self.draws.score, self.fitted, self.law)

    def errors_of(self, plan: Plan) -> Erring:
        """What the path of a kind may be wrong by on this study."""
        fitted = self.fitted if self.fitted and self.fitted.machine is plan.frame.machine else None
        kind, frame = plan.frame.machine.value, plan.frame.name
        return Erring(kind, frame, fitted, self.law, self.draws.score, self.draws.own_score)

    def parameter_words(self, plan: Plan) -> str:
        """What the parameters of a kind rest on."""
        fitted = self.fitted
        if fitted is None or fitted.machine is not plan.frame.machine:
            return "prior of the kind of machine (judgement)"
        runs = f"{fitted.runs} trial run{'' if fitted.runs == 1 else 's'}"
        pooled = next((note for note in fitted.notes if note.startswith("pooled from")), "")
        words = f"{runs} on frame {fitted.frame}, {pooled or fitted.date}"
        mark = f", {fitted.mark.value}" if fitted.mark else ""
        return words + mark


_Answer: TypeAlias = PressFindings | KindFindings
PATH_RULE = "pressing path"  # rule of suitability that says a kind has no cake at this load
_MORE_FRAMES = 3  # tried when the frame sized by the catalogue has no cake

_PRICES = (
    "prices.disposal",
    "prices.haulage",
    "prices.trip",
    "prices.polymer",
    "prices.power",
    "outlet.distance",
    "outlet.payload",
    "polymer.activity",
)


@dataclass(frozen=True, slots=True, eq=False)
class Physics:
    """What was predicted: screw presses in full, other kinds in short."""

    screws: Mapping[str, PressFindings] = field(default_factory=dict)
    others: Mapping[str, KindFindings] = field(default_factory=dict)

    def words(self, key: str) -> str:
        """What the physics says of one kind, in a line."""
        found = self.screws.get(key)
        return found.binding_words if found else self.others[key].words


def predicted(site: Site, options: Sequence[Option]) -> tuple[tuple[Option, ...], Physics]:
    """Options on the tested law.

    A machine beyond its limits at the catalogue's rate is run for the whole shift instead; where
    that does not help the next frames in order of choice are tried. A kind none of whose frames
    has a cake does not suit: the verdict says why and what to change.
    """
    screws: dict[str, PressFindings] = {}
    others: dict[str, KindFindings] = {}
    found: list[Option] = []
    for option in options:
        if option.plan is None:
            found.append(option)
            continue
        planned, answer = _framed(site, option, option.plan)
        if isinstance(answer, PressFindings):
            screws[option.key] = answer
        else:
            others[option.key] = answer
        found.append(_with(site, planned, answer))
    return tuple(found), Physics(screws, others)


def _framed(site: Site, option: Option, first: Plan) -> tuple[Option, _Answer]:
    """The first frame in order of choice that has a cake; the first of all where none has."""
    tried: list[tuple[Plan, _Answer]] = []
    rest = [plan for plan in option.plans if plan.feasible and not plan.chosen]
    for plan in (first, *rest[:_MORE_FRAMES]):
        hours, answer = _shift(site, plan)
        if answer.figures:
            return _planned(site, option, hours, tried), answer
        tried.append((plan, answer))
    return option, tried[0][1]


def _shift(site: Site, plan: Plan) -> tuple[Plan, _Answer]:
    """The plan at the catalogue's rate or, if it has no cake then, for the whole shift."""
    answer = answer_of(site, plan)
    if answer.figures:
        return plan, answer
    longer = _stretched(site, plan)
    again = answer_of(site, longer)
    return (longer, again) if again.figures else (plan, answer)


def answer_of(site: Site, plan: Plan) -> _Answer:
    """What the path of a plan's kind says with everything the site knows."""
    return _predict(site, plan, site.parameters(plan.frame.machine))


def _predict(site: Site, plan: Plan, parameters: Mapping[str, FloatArray]) -> _Answer:
    """The machine by its path, with what the path itself may be wrong by."""
    found: _Answer = machine(plan.frame.machine).predict(
        plan, site.pressed, site.feed, site.load, parameters, site.goal(plan)
    )
    at = _settings(site, plan, found) if isinstance(found, PressFindings) else None
    return replace(found, figures=erring(found.figures, site.errors_of(plan), at))


def _settings(site: Site, plan: Plan, found: PressFindings) -> FloatArray | None:
    """Settings of every sample, as a trial of the kind knows them."""
    if not found.figures:
        return None
    size = found.figures["cake_solids"].samples.size
    hours = plan.figures["run_hours_per_day"].samples
    each = site.load.dry_solids_flow * site.load.hours_per_day / hours
    each = each / (plan.machines - plan.standby) / drained_wall(screw_geometry(plan.frame))
    return coordinates(
        speed=np.full(size, found.speed),
        back_pressure=np.full(size, found.back_pressure),
        load=np.broadcast_to(each, hours.shape)[:size],
        feed_solids=np.broadcast_to(site.feed.mix.total_solids, hours.shape)[:size],
        dose=site.pressed.dose[:size] * found.dose / float(site.pressed.dose[0]),
    )


def _stretched(site: Site, plan: Plan) -> Plan:
    """The plan run for every hour the duty allows, at a lower rate."""
    run = plan.figures["run_hours_per_day"]
    hours = np.array(np.broadcast_to(site.duty.hours_per_day, run.samples.shape), dtype=float)
    whole = replace(run, samples=hours, note="the whole shift: the tests ask for a lower rate")
    return replace(plan, figures={**plan.figures, "run_hours_per_day": whole})


def _planned(
    site: Site, option: Option, plan: Plan, tried: Sequence[tuple[Plan, _Answer]]
) -> Option:
    """The option with this plan; the frames tried before it are ruled out with their reasons."""
    if plan is option.plan:
        return option
    if not tried:
        return replace(option, plans=tuple(plan if one.chosen else one for one in option.plans))
    out = {p.frame.name: f"by the tests no cake at this load: {_cause(a)}" for p, a in tried}
    number = "one machine" if plan.machines == 1 else f"{plan.machines} machines"
    before = ", ".join(out)
    why = f"{number}, the first frame in order of choice with a cake by the tests; not {before}"
    rest = [
        replace(
            p, chosen=False, feasible=False, figures={}, binding=RULED_OUT, why=out[p.frame.name]
        )
        if p.frame.name in out
        else p
        for p in option.plans
        if p.frame.name != plan.frame.name
    ]
    plans = (replace(plan, chosen=True, why=why), *sorted(rest, key=lambda p: not p.feasible))
    return reframed(site.study, site.draws, site.feed, site.duty, option.kind, plans)


def _cause(answer: _Answer) -> str:
    """What stops it, without the way out."""
    words = answer.binding_words if isinstance(answer, PressFindings) else answer.words
    return words.split(";")[0]


def shown(site: Site, option: Option) -> Physics:
    """The chosen machine by the prior of the class, beside the band.

    Where its settings have a map, with profile, map and limits; else its figures, limits and
    cycle, for the whole shift where the hours of the catalogue's rate are too few.
    """
    plan, kind = option.plan, option.kind
    if plan is None or not kind.predictable(plan.frame):
        return Physics()
    if kind.has_operating_map:
        return _told(option.key, answer_of(site, plan))
    parameters = drawn_parameters(kind.kind, site.draws.own_score, site.fitted, None)
    found = _predict(site, plan, parameters)
    if not found.figures:
        found = _predict(site, _stretched(site, plan), parameters)
    return _told(option.key, found)


def _told(key: str, answer: _Answer) -> Physics:
    if isinstance(answer, PressFindings):
        return Physics({key: answer})
    return Physics(others={key: answer})


def _with(site: Site, option: Option, answer: PressFindings | KindFindings) -> Option:
    figures = answer.figures
    if not figures:
        return replace(option, verdicts=(_beyond(site, answer), *option.verdicts))
    taken: list[Figure] = [figures["cake_solids"], figures["capture"]]
    if not site.dosed:
        dose = answer.dose if isinstance(answer, PressFindings) else float(site.pressed.dose[0])
        factor = dose / float(site.pressed.dose[0])
        note = "at the optimum" if factor == 1.0 else f"{factor:.2f} of the optimum, for the aim"
        taken.append(site.pressed.figure("polymer_dose", site.pressed.dose * factor, note))
    performance = option.performance.replaced(*taken)
    verdicts = option.kind.verdicts(site.feed, site.duty, performance)
    return replace(option, performance=performance, verdicts=verdicts)


def _beyond(site: Site, answer: PressFindings | KindFindings) -> Verdict:
    """No cake at this load: the cause, the capacity where it is known, and what to change."""
    known = ""
    if isinstance(answer, PressFindings) and answer.capacity.dry_solids_flow > 0.0:
        known = f"; capacity {3600.0 * answer.capacity.dry_solids_flow:.3g} kg/h dry solids"
    words = answer.binding_words if isinstance(answer, PressFindings) else answer.words
    margin = min(answer.margins.values(), default=-1.0)
    return Verdict(
        rule=PATH_RULE,
        answer=Answer.DOES_NOT_SUIT,
        text=f"By the tests of this sludge frame {answer.frame} has no cake at this load{known}. "
        f"{words[:1].upper()}{words[1:]}",
        name="limit_margin",
        value=margin,
        limit=0.0,
        basis=site.pressed.basis,
        source=site.pressed.source,
        mark=site.pressed.mark,
    )


def disagreements(bands: Sequence[Option], site: Site, physics: Physics) -> dict[str, str]:
    """For every kind predicted: where physics and published band part, and which is used."""
    found: dict[str, str] = {}
    for option in bands:
        figures = _figures(physics, option.key)
        if figures is None:
            continue
        band = option.performance.figures["cake_solids"]
        words = _parted(option, band, figures, physics, tested=site.law is not None)
        if words:
            found[option.key] = words
    return found


def _figures(physics: Physics, key: str) -> Mapping[str, Figure] | None:
    if key in physics.screws:
        return physics.screws[key].figures
    return physics.others[key].figures if key in physics.others else None


def _parted(
    option: Option, band: Figure, figures: Mapping[str, Figure], physics: Physics, *, tested: bool
) -> str:
    label = f"{option.kind.label[:1].upper()}{option.kind.label[1:]}"
    if not figures:
        return (
            f"{label}: by the physics no cake at this load ({physics.words(option.key)}); the "
            "figures shown for it are the published band"
        )
    cake = figures["cake_solids"]
    low, high = np.quantile(cake.samples[1:] if cake.samples.size > 1 else cake.samples, (0.1, 0.9))
    if band.band.p10 <= high and low <= band.band.p90:
        return ""
    used = (
        "the physics is used: it rests on tests of this very sludge"
        if tested
        else "the band is used: the physics rests on the prior of the class alone"
    )
    return (
        f"{label}: the physics gives cake of {100 * low:.0f} to {100 * high:.0f} %, the published "
        f"band {100 * band.band.p10:.0f} to {100 * band.band.p90:.0f} %; {used}"
    )
