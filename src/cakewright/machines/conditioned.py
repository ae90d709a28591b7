"""A kind's performance with its recipe: doses, what they leave in the cake, cake told both ways."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from cakewright.machines.interface import Floats, Performance
from cakewright.machines.recipes import Product, Recipe
from cakewright.machines.suitability import CAKE_OWN
from cakewright.physics.conditioner_solids import dryness_free_of_conditioner, share_own_solids
from cakewright.quantities import Basis, Figure, FloatArray, Mark
from cakewright.sludge import Conditioner, Feed, iron_and_lime

__all__ = ["conditioned", "with_conditioners"]

_CEILING = 0.95
_MINERALS = {Product.FERRIC_CHLORIDE: "ferric_dose", Product.LIME: "lime_dose"}
_DOSES = {Product.FIRST_POLYMER: "first_polymer_dose", **_MINERALS}


def conditioned(
    performance: Performance,
    recipe: Recipe,
    feed: Feed,
    quantile: Floats,
    cake_quantile: Floats,
    given: Mapping[Product, FloatArray],
) -> Performance:
    """Figures of a kind by this recipe.

    ``quantile`` draws the doses that the study does not give (``given``), ``cake_quantile`` the
    gain of a recipe that has one. The capture, cake and polymer of ``performance`` must already be
    those of the recipe's table.
    """
    doses: dict[Product, FloatArray] = {
        product: given.get(product, recipe.dose(product, feed.shares, quantile))
        for product in recipe.products
        if product is not Product.POLYMER
    }
    figures: list[Figure] = []
    if recipe.gain is not None:
        cake = performance["cake_solids"]
        more = np.minimum(cake.samples * (1.0 + recipe.gain.at(cake_quantile)), _CEILING)
        note = f"{cake.note}; raised for {recipe.label} (judgement)".lstrip("; ")
        figures.append(replace(cake, samples=more, mark=Mark.JUDGEMENT, note=note))
    if Product.POLYMER not in recipe.products:
        none = np.zeros(feed.mix.size)
        note = f"no polymer: {recipe.label}"
        figures.append(Figure("polymer_dose", none, Basis.ASSUMED, Mark.NONE, recipe.source, note))
    elif Product.FIRST_POLYMER in doses:
        dose = performance["polymer_dose"]
        both = dose.samples + doses[Product.FIRST_POLYMER]
        note = f"both polymers of the sequence; {dose.note}".rstrip("; ")
        figures.append(replace(dose, samples=both, mark=Mark.JUDGEMENT, note=note))
    figures += [_dose(recipe, p, doses[p]) for p in _DOSES if p in doses]
    found = performance.replaced(*figures)
    none = np.zeros(feed.mix.size)
    ferric, lime = (doses.get(p, none) for p in _MINERALS)
    solids = iron_and_lime(feed, ferric, lime, *(found.samples(n) for n in _OF_CAKE))
    return with_conditioners(found, solids)


_OF_CAKE = ("cake_solids", "capture")


def _dose(recipe: Recipe, product: Product, samples: FloatArray) -> Figure:
    step = next(step for step in recipe.steps if step.product is product)
    source = " ".join(dict.fromkeys(s for d in step.doses.values() for s in d.source.split()))
    mark: Any = next((d.mark for d in step.doses.values() if d.mark), Mark.NONE)
    return Figure(_DOSES[product], samples, Basis.ASSUMED, mark, source, step.note)


def with_conditioners(
    performance: Performance, conditioners: tuple[Conditioner, ...]
) -> Performance:
    """The same with these solids in the cake; the cake is told both ways where they are some."""
    if not conditioners:
        return replace(performance, conditioners=())
    fed = np.asarray(sum(one.kept for one in conditioners))
    kept = fed / performance.samples("capture")
    ash = np.asarray(sum(one.ash for one in conditioners)) / performance.samples("capture")
    cake = performance["cake_solids"]
    names = ", ".join(one.name for one in conditioners)
    note = f"{names} in the cake, by stoichiometry; published designs keep 75 to 100 % as added"

    def figure(name: str, samples: object) -> Figure:
        wide = np.atleast_1d(np.asarray(samples, dtype=float))
        return Figure(name, wide, Basis.ASSUMED, Mark.JUDGEMENT, "OWN P05 C33 C34", note)

    found = performance.replaced(
        figure("conditioner_kept", kept),
        figure("conditioner_ash", ash),
        figure(CAKE_OWN, share_own_solids(cake.samples, kept)),
        figure("cake_free_solids", dryness_free_of_conditioner(cake.samples, kept)),
    )
    return replace(found, conditioners=conditioners)
