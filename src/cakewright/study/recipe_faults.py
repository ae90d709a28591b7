"""Faults of a named conditioning: amounts without it, kinds that cannot take it, no amounts."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from cakewright.errors import Fault
from cakewright.quantities import Given
from cakewright.study.model import Word

__all__ = ["recipe_faults"]

_USUAL = "usual"
_COAGULATED = "coagulant and polymer"
# The recipes each amount belongs to.
_AMOUNTS = {
    "conditioning.ferric_dose": ("iron and lime", _COAGULATED),
    "conditioning.lime_dose": ("iron and lime", "lime"),
    "conditioning.first_polymer_dose": ("two polymers",),
}


def recipe_faults(
    values: Mapping[str, Given], words: Mapping[str, Word], sludges: int
) -> Iterator[Fault]:
    """Faults between the recipe a study names, its amounts, its kinds and its sludges."""
    named = str(words.get("conditioning.recipe", _USUAL))
    for place, allowed in _AMOUNTS.items():
        if place in values and named not in allowed:
            yield Fault(
                place,
                f"an amount beside the recipe {named!r}",
                f"beside {' or '.join(repr(one) for one in allowed)}",
                f"write conditioning.recipe = {allowed[0]!r}, or leave the amount out",
            )
    coagulant = str(words.get("coagulant.kind", "none"))
    if coagulant != "none" and named not in (_USUAL, _COAGULATED):
        yield Fault(
            "conditioning.recipe",
            f"{named!r} beside coagulant.kind = {coagulant!r}",
            f"{_COAGULATED!r}, or no coagulant",
            "leave one of the two out; iron ahead of lime is conditioning.ferric_dose",
        )
    elif named != _USUAL and coagulant == "none":
        classes = [str(words[f"sludge.{i}.class"]) for i in range(sludges)]
        yield from _of_kinds(named, values, words, classes)


def _of_kinds(
    named: str, values: Mapping[str, Given], words: Mapping[str, Word], classes: Sequence[str]
) -> Iterator[Fault]:
    from cakewright.machines import Kind
    from cakewright.machines.recipes import Product, recipes

    asked = words.get("machines.kinds", ())
    kinds = [kind for kind in Kind if not asked or (isinstance(asked, tuple) and kind in asked)]
    takes = {kind: one for kind in kinds for one in recipes(kind) if one.key == named}
    for kind in kinds if asked else ():
        if kind not in takes:
            own = ", ".join(repr(one.key) for one in recipes(kind))
            able = [k.value for k in Kind if any(one.key == named for one in recipes(k))]
            yield Fault(
                "conditioning.recipe",
                f"{named!r} for a {kind.replace('_', ' ')}",
                f"{own} for this kind; {named!r} for {', '.join(able) or 'no kind'}",
                "take another recipe, or take this kind out of machines.kinds",
            )
    places = {
        Product.FERRIC_CHLORIDE: "conditioning.ferric_dose",
        Product.LIME: "conditioning.lime_dose",
        Product.FIRST_POLYMER: "conditioning.first_polymer_dose",
    }
    for one in takes.values():
        lacking = one.missing(classes)
        ask = [places[p] for p in one.products if p in places and places[p] not in values]
        if lacking and ask:
            yield Fault(
                "conditioning.recipe",
                f"{named!r} without amounts for {', '.join(lacking)}",
                "a recipe whose amounts are known for every sludge, or given",
                f"add {' and '.join(ask)}",
            )
            return
