"""Which recipe each kind is compared with: the study's, or those usual for kind and sludge."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from cakewright.errors import InfeasibleError
from cakewright.jobs.draws import StudyDraws
from cakewright.machines import Kind, Performance, machine_types
from cakewright.machines.conditioned import conditioned, with_conditioners
from cakewright.machines.recipes import Product, Recipe, recipe, recipes
from cakewright.quantities import Basis, Figure, FloatArray
from cakewright.sludge import Conditioner, Feed, alum, iron_and_lime
from cakewright.study import Study

__all__ = [
    "USUAL",
    "candidates",
    "given_doses",
    "named_recipe",
    "recipe_of",
    "settled",
    "with_recipe",
]

USUAL = "usual"
_COAGULATED = "coagulant and polymer"
_SETTLED = "conditioning.settled"
_PLACES = {
    Product.FERRIC_CHLORIDE: "conditioning.ferric_dose",
    Product.LIME: "conditioning.lime_dose",
    Product.FIRST_POLYMER: "conditioning.first_polymer_dose",
}
# Lime as CaO in hydrated lime.
_OXIDE = 56.077 / 74.092


def named_recipe(study: Study) -> str:
    """The recipe the study names; a coagulant names one too; empty where it leaves it open."""
    named = study.word("conditioning.recipe")
    if named not in ("", USUAL):
        return named
    return "" if study.word("coagulant.kind") in ("", "none") else _COAGULATED


def candidates(study: Study, kind: Kind, classes: Sequence[str]) -> tuple[Recipe, ...]:
    """Recipes one kind is compared with, those that have all their amounts.

    A recipe the study names is the only one of every kind that takes it; other kinds keep what is
    usual for them. Sequences that need a jar test to be worth while are compared only when named.

    Raises
    ------
    InfeasibleError
        If nothing is left: names the recipe, what it lacks and what to write.
    """
    named = named_recipe(study)
    every = recipes(kind)
    if any(one.key == named for one in every):
        wanted = recipe(kind, named)
        lacking = () if _amounts_given(study, wanted) else wanted.missing(classes)
        if not lacking:
            return (wanted,)
        raise InfeasibleError(
            f"conditioning.recipe: {named!r} on a {machine_types()[kind].label} has no amounts for "
            f"{', '.join(lacking)}; write {_ask(wanted)}, or leave the recipe out"
        )
    return tuple(one for one in every if one.gain is None and not one.missing(classes))


def _ask(wanted: Recipe) -> str:
    asked = [_PLACES[p] for p in wanted.products if p in _PLACES]
    if wanted.key == _COAGULATED:
        return "coagulant.kind and coagulant.dose"
    return " and ".join(asked)


def _amounts_given(study: Study, wanted: Recipe) -> bool:
    if wanted.key == _COAGULATED and study.word("coagulant.kind") not in ("", "none"):
        return True
    places = [_PLACES[p] for p in wanted.products if p in _PLACES]
    return all(study.given(place) is not None for place in places)


def settled(study: Study, chosen: Mapping[str, str]) -> Study:
    """The study with one recipe for each kind, by which all that follows is worked out."""
    pairs = tuple(f"{kind}={key}" for kind, key in chosen.items())
    return replace(study, words={**study.words, _SETTLED: pairs})


def recipe_of(study: Study, kind: Kind, classes: Sequence[str]) -> Recipe:
    """The recipe of one kind: as settled, else the first of its candidates."""
    pairs = study.words.get(_SETTLED, ())
    for pair in pairs if isinstance(pairs, tuple) else ():
        machine, _, key = pair.partition("=")
        if machine == kind.value:
            return recipe(kind, key)
    return candidates(study, kind, classes)[0]


def given_doses(
    study: Study, draws: StudyDraws, *, tested: bool = True
) -> dict[Product, FloatArray]:
    """What the study doses beside the polymer; without those that bench tests found. [kg/kg]"""
    found = {}
    for product, place in _PLACES.items():
        given = study.given(place)
        if given is not None and (tested or given.basis is not Basis.BENCH):
            found[product] = draws[place]
    return found


def with_recipe(
    study: Study,
    draws: StudyDraws,
    feed: Feed,
    performance: Performance,
    chosen: Recipe,
    quantiles: Mapping[str, FloatArray],
) -> Performance:
    """Doses of the recipe, what they leave in the cake, and a polymer dose known from tests."""
    given = given_doses(study, draws)
    kind = study.word("coagulant.kind")
    dosed = chosen.key == _COAGULATED and kind not in ("", "none")
    if dosed:
        # The study's own coagulant takes the place of the recipe's.
        given[Product.FERRIC_CHLORIDE] = np.zeros(feed.mix.size)
    score = quantiles["polymer_dose"]
    found = conditioned(performance, chosen, feed, score, quantiles["cake_solids"], given)
    if dosed:
        figures = {k: f for k, f in found.figures.items() if k != "ferric_dose"}
        found = replace(found, figures=figures)
        found = with_conditioners(found, _coagulant(study, draws, feed, found, kind))
    if Product.POLYMER in chosen.products:
        found = _stated_dose(study, draws, found)
    return found


def _coagulant(
    study: Study, draws: StudyDraws, feed: Feed, performance: Performance, kind: str
) -> tuple[Conditioner, ...]:
    """The coagulant the study names, by its own chemistry."""
    dose = draws["coagulant.dose"]
    if kind == "alum":
        return (alum(feed, dose),)
    iron, oxide = (dose, 0.0) if kind == "ferric chloride" else (0.0, dose * _OXIDE)
    cake = performance.samples("cake_solids"), performance.samples("capture")
    found = iron_and_lime(feed, iron, oxide, *cake, keys=("coagulant", "coagulant"))
    return tuple(replace(one, name=kind, dose=np.asarray(dose)) for one in found)


def _stated_dose(study: Study, draws: StudyDraws, performance: Performance) -> Performance:
    """A dose the study knows from tests takes the place of the published band."""
    given = study.given("polymer.dose")
    if given is None:
        return performance
    note = "dose given in the study, the same for every kind"
    dose = draws["polymer.dose"]
    if "first_polymer_dose" in performance.figures:
        dose = dose + performance.samples("first_polymer_dose")
        note = f"{note}, and the first polymer"
    return performance.replaced(
        Figure("polymer_dose", dose, given.basis, given.mark, given.source, note)
    )
