"""Every kind of machine on this feed: does it suit, which frame, what it would deliver."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import ndtr

from cakewright.errors import UnknownNameError
from cakewright.jobs.conditioning import given_doses, recipe_of, with_recipe
from cakewright.jobs.draws import StudyDraws
from cakewright.jobs.finding_parts import ComparedRecipe, FrameFinding, OptionFinding
from cakewright.machines import (
    Answer,
    Duty,
    Frame,
    Machine,
    OneOut,
    Performance,
    Plan,
    Verdict,
    choose,
    frame_named,
    machine_types,
    worst_answer,
)
from cakewright.machines.recipes import Product, Recipe
from cakewright.machines.trends import LEVERS
from cakewright.quantities import Basis, Figure, FloatArray
from cakewright.sludge import Feed, RunLoad, run_load
from cakewright.study import Study

__all__ = [
    "ENVELOPE_FIGURES",
    "Option",
    "duty_of",
    "kinds_of",
    "load_of",
    "option_finding",
    "options_of",
    "reframed",
]

ENVELOPE_FIGURES = (
    "cake_solids",
    "capture",
    "polymer_dose",
    "specific_energy",
    "wash_water_specific",
)


@dataclass(frozen=True, slots=True, eq=False)
class Option:
    """One kind with its frames and performance on this feed."""

    kind: Machine
    performance: Performance
    plans: tuple[Plan, ...]
    verdicts: tuple[Verdict, ...]
    recipe: Recipe

    @property
    def key(self) -> str:
        """Key of the kind."""
        return self.kind.kind.value

    @property
    def answer(self) -> Answer:
        """Worst rule; a kind with no frame for the load does not suit."""
        return Answer.DOES_NOT_SUIT if self.plan is None else worst_answer(self.verdicts)

    @property
    def plan(self) -> Plan | None:
        """The chosen frame of this kind."""
        return next((plan for plan in self.plans if plan.chosen), None)


# More machines than any duty takes: the bound left out to see what a kind would need.
_ANY_NUMBER = 1_000_000


def kinds_of(study: Study) -> tuple[Machine, ...]:
    """Kinds the study wants compared; all when it names none."""
    wanted = study.words.get("machines.kinds", ())
    types = machine_types().values()
    return tuple(t for t in types if not wanted or t.kind.value in set(_words(wanted)))


def _words(value: object) -> tuple[str, ...]:
    return value if isinstance(value, tuple) else ()


def duty_of(study: Study, draws: StudyDraws) -> Duty:
    """What is asked of the machine."""
    area = study.given("duty.floor_area")
    return Duty(
        hours_per_day=draws["duty.hours_per_day"],
        days_per_week=draws["duty.days_per_week"],
        spare_capacity=draws["duty.spare_capacity"],
        one_out=OneOut(study.word("duty.one_out")),
        unattended_hours=draws["duty.unattended"],
        cake_target=draws["target.cake_solids"],
        capture_target=draws["target.capture"],
        noise_limit=study.value("duty.noise_limit"),
        floor_area=area.value if area else None,
        largest_number=study.count("machines.most"),
        cake_condition=study.word("target.cake_is") == "a condition",
        own_solids=study.word("target.cake_counts") == "sludge's own solids",
    )


def load_of(draws: StudyDraws, feed: Feed) -> RunLoad:
    """Load while running, mean and in the design week."""
    return run_load(
        feed,
        draws["duty.hours_per_day"],
        draws["duty.days_per_week"],
        np.maximum(draws["production.peak_factor"], 1.0),
    )


def options_of(
    study: Study,
    draws: StudyDraws,
    feed: Feed,
    load: RunLoad,
    duty: Duty,
    frames: Sequence[Frame],
) -> tuple[Option, ...]:
    """Every kind the study wants compared.

    Raises
    ------
    UnknownNameError
        If the study names a frame that the catalogue does not hold.
    """
    offered = _offered(study, frames)
    return tuple(_option(study, draws, feed, load, duty, offered, kind) for kind in kinds_of(study))


def _offered(study: Study, frames: Sequence[Frame]) -> Sequence[Frame]:
    """A frame the study names is the only one of its kind; other kinds keep all of theirs."""
    name = study.word("machines.frame")
    if not name:
        return frames
    try:
        wanted = frame_named(name, frames)
    except UnknownNameError as unknown:
        raise UnknownNameError(f"machines.frame: {unknown}") from None
    compared = {kind.kind: kind.label for kind in kinds_of(study)}
    if wanted.machine not in compared:
        fit = [f.name for f in frames if f.machine in compared]
        raise UnknownNameError(
            f"machines.frame: got {name!r}, a frame of a {wanted.machine.replace('_', ' ')}; "
            f"allowed: frames of the kinds compared ({', '.join(compared.values())}), such as "
            f"{', '.join(fit[:3]) or 'none in this catalogue'}; name one of these, or add "
            f"{wanted.machine.value!r} to machines.kinds"
        )
    return [f for f in frames if f is wanted or f.machine is not wanted.machine]


def _option(
    study: Study,
    draws: StudyDraws,
    feed: Feed,
    load: RunLoad,
    duty: Duty,
    frames: Sequence[Frame],
    kind: Machine,
) -> Option:
    recipe = recipe_of(study, kind.kind, tuple(feed.shares))
    performance = _banded(study, draws, feed, duty, kind, recipe)
    plans = choose(kind, frames, feed, load, duty, performance)
    if any(plan.feasible for plan in plans):
        return _with_plans(kind, feed, duty, performance, plans, recipe)
    free = replace(duty, floor_area=None, largest_number=_ANY_NUMBER)
    loose = choose(kind, frames, feed, load, free, performance)
    option = _with_plans(kind, feed, duty, performance, loose, recipe)
    return replace(option, verdicts=(*_out_of_bounds(duty, option.plan), *option.verdicts))


def _out_of_bounds(duty: Duty, plan: Plan | None) -> Iterator[Verdict]:
    """What of the duty's own bounds a kind breaks that could be run without them."""
    if plan is None:
        return
    if plan.machines > duty.largest_number:
        yield Verdict(
            rule="number of machines",
            text=f"Would take {plan.machines} machines of the largest frames offered.",
            name="count",
            value=float(plan.machines),
            limit=float(duty.largest_number),
            answer=Answer.DOES_NOT_SUIT,
            basis=Basis.ASSUMED,
            source="OWN",
            mark=plan.frame.mark,
        )
    area = plan.machines * plan.frame.footprint
    if duty.floor_area is not None and area > duty.floor_area:
        yield Verdict(
            rule="floor area",
            text="The machines alone are larger than the floor available.",
            name="footprint",
            value=area,
            limit=duty.floor_area,
            answer=Answer.DOES_NOT_SUIT,
            basis=Basis.ASSUMED,
            source="OWN",
            mark=plan.frame.mark,
        )


def reframed(
    study: Study,
    draws: StudyDraws,
    feed: Feed,
    duty: Duty,
    kind: Machine,
    plans: Sequence[Plan],
) -> Option:
    """One kind with its frames chosen anew."""
    recipe = recipe_of(study, kind.kind, tuple(feed.shares))
    performance = _banded(study, draws, feed, duty, kind, recipe)
    return _with_plans(kind, feed, duty, performance, plans, recipe)


def _banded(
    study: Study, draws: StudyDraws, feed: Feed, duty: Duty, kind: Machine, recipe: Recipe
) -> Performance:
    """Published bands of a kind on this feed, with the recipe they were made with."""
    quantiles = _quantiles(draws, kind)
    dose = _given_dose(study, draws, recipe)
    judged = given_doses(study, draws, tested=False)
    supplied = recipe.supplied(judged, feed.shares)
    found = kind.performance(feed, duty, quantiles, recipe.cake, dose, supplied)
    bands = _never_wetter(found, feed)
    return with_recipe(study, draws, feed, bands, recipe, quantiles)


def _given_dose(study: Study, draws: StudyDraws, recipe: Recipe) -> FloatArray | None:
    """The polymer the study doses; one that bench tests found is what this sludge needs."""
    given = study.given("polymer.dose")
    if given is None or given.basis is Basis.BENCH or Product.POLYMER not in recipe.products:
        return None
    return draws["polymer.dose"]


def _never_wetter(performance: Performance, feed: Feed) -> Performance:
    """No cake is wetter than its feed; a band may reach below one that is thick already."""
    cake = performance["cake_solids"]
    samples = np.maximum(cake.samples, feed.mix.total_solids)
    if np.array_equal(samples, cake.samples):
        return performance
    note = "; ".join(text for text in (cake.note, "not below the solids of the feed") if text)
    return performance.replaced(replace(cake, samples=samples, note=note))


def _with_plans(
    kind: Machine,
    feed: Feed,
    duty: Duty,
    performance: Performance,
    plans: Sequence[Plan],
    recipe: Recipe,
) -> Option:
    best = next((plan for plan in plans if plan.chosen), None)
    if best is not None:
        performance = performance.replaced(*_on_this_frame(performance, best))
    verdicts = kind.verdicts(feed, duty, performance)
    return Option(kind, performance, tuple(plans), verdicts, recipe)


def _quantiles(draws: StudyDraws, kind: Machine) -> Mapping[str, FloatArray]:
    key = kind.kind.value
    scores = {name: draws.machine_score(name, key) for name in ENVELOPE_FIGURES}
    scores |= {lever: draws.score(f"~trend.{lever}") for lever in LEVERS}
    return {name: np.clip(ndtr(score), 1e-6, 1 - 1e-6) for name, score in scores.items()}


def _on_this_frame(performance: Performance, plan: Plan) -> tuple[Figure, ...]:
    """The frame's own figures at the point, with the spread the published band has around it."""
    return tuple(
        _scaled(figure, performance.figures.get(figure.name))
        for figure in plan.performance_figures()
    )


def _scaled(figure: Figure, band: Figure | None) -> Figure:
    if band is None or figure.name == "sound_level":
        return figure
    spread = band.samples / band.point
    return Figure(
        name=figure.name,
        samples=figure.samples * spread,
        basis=figure.basis,
        mark=figure.mark,
        source=figure.source,
        note=f"{figure.note}; spread as in the published band".lstrip("; "),
    )


def option_finding(
    option: Option,
    extra: Mapping[str, Figure],
    recipes: tuple[ComparedRecipe, ...] = (),
) -> OptionFinding:
    """One kind as findings; ``extra`` are figures other jobs add (cost, carbon)."""
    return OptionFinding(
        machine=option.key,
        label=option.kind.label,
        answer=option.answer,
        reasons=option.verdicts,
        figures={**option.performance.figures, **_own(option), **extra},
        frames=tuple(_frame(plan) for plan in option.plans),
        comment=option.kind.principle,
        conditioning=option.recipe.label,
        recipes=recipes,
    )


def _own(option: Option) -> dict[str, Figure]:
    names = ("run_hours_per_day", "utilisation", "footprint", "power", "wash_water_per_day")
    plan = option.plan
    return {} if plan is None else {n: plan.figures[n] for n in names if n in plan.figures}


def _frame(plan: Plan) -> FrameFinding:
    return FrameFinding(
        frame=plan.frame.name,
        feasible=plan.feasible,
        chosen=plan.chosen,
        machines=plan.machines,
        shafts=plan.shafts,
        standby=plan.standby,
        binding=plan.binding,
        why=plan.why,
        figures=plan.figures,
    )
