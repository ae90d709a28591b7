"""Conditioning that belongs to a kind of machine: recipes with products, doses and sources."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cache
from types import MappingProxyType
from typing import Any

import numpy as np

from cakewright.errors import UnknownNameError
from cakewright.machines.interface import Floats, Kind
from cakewright.machines.quantiles import split_normal
from cakewright.machines.registry import data_of
from cakewright.quantities import FloatArray, Mark
from cakewright.reference import CONDITIONINGS

__all__ = ["Dose", "Product", "Recipe", "Step", "recipe", "recipes"]

# A kind without a file of its own: polymer alone, its cakes those of its bands.
_PLAIN = MappingProxyType(
    {
        "key": "polymer",
        "label": "one polymer",
        "cake": "polymer",
        "source": "JUDGEMENT",
        "mark": "judgement",
        "note": "the kind tells no recipe of its own",
        "step": ({"product": "polymer"},),
    }
)
_PER_TONNE = 1e-3


class Product(StrEnum):
    """What is dosed: polymers as active matter, ferric chloride pure, lime as CaO."""

    POLYMER = "polymer"
    FIRST_POLYMER = "first_polymer"
    FERRIC_CHLORIDE = "ferric_chloride"
    LIME = "lime"


@dataclass(frozen=True, slots=True)
class Dose:
    """Low, typical and high per dry solids of the sludge [kg/kg], and what they rest on."""

    low: float
    typical: float
    high: float
    source: str
    mark: Mark

    def at(self, quantile: Floats) -> FloatArray:
        """Dose at a quantile per sample."""
        return split_normal(self.low, self.typical, self.high, quantile)


@dataclass(frozen=True, slots=True)
class Step:
    """One product in its turn; ``doses`` by sludge class, empty where the band's dose is used."""

    product: Product
    note: str = ""
    doses: Mapping[str, Dose] = field(default_factory=dict)

    def dose(self, sludge_class: str) -> Dose | None:
        """The dose for one class; None where nobody has told one."""
        return self.doses.get(sludge_class) or self.doses.get("any")


_MINERALS = (Product.FERRIC_CHLORIDE, Product.LIME)


@dataclass(frozen=True, slots=True)
class Recipe:
    """One way to condition for one kind.

    ``cake`` is the conditioning word of the performance tables whose cakes go with it; ``gain``
    (relative) is what the recipe adds to them where they were made without its first step.
    """

    kind: Kind
    key: str
    label: str
    cake: str
    steps: tuple[Step, ...]
    source: str
    mark: Mark
    note: str
    gain: Dose | None = None

    @property
    def products(self) -> tuple[Product, ...]:
        """What is dosed, in order."""
        return tuple(step.product for step in self.steps)

    @property
    def limed(self) -> bool:
        """Whether lime is in it."""
        return Product.LIME in self.products

    def missing(self, classes: Iterable[str]) -> tuple[str, ...]:
        """Classes for which a step has no amount."""
        own = [step for step in self.steps if step.product is not Product.POLYMER]
        return tuple(c for c in classes if any(step.dose(c) is None for step in own))

    def dose(
        self, product: Product, shares: Mapping[str, FloatArray], quantile: Floats
    ) -> FloatArray:
        """Dose of one product on a blend, parts by dry solids. [kg/kg]"""
        step = next(step for step in self.steps if step.product is product)
        total: Any = 0.0
        for key, share in shares.items():
            told = step.dose(key)
            total = total + share * (0.0 if told is None else told.at(quantile))
        return np.atleast_1d(np.asarray(total, dtype=float))

    def supplied(
        self, given: Mapping[Product, FloatArray], shares: Mapping[str, FloatArray]
    ) -> FloatArray | None:
        """Share of its typical dose that the scarcest mineral is given; None without one given.

        More than enough counts as enough: what an overdose of minerals does to a cake is not known.
        """
        ratios = [
            amount / need
            for product, amount in given.items()
            if product in _MINERALS
            and product in self.products
            and float((need := self.dose(product, shares, 0.5))[0]) > 0.0
        ]
        return np.minimum(np.minimum.reduce(ratios), 1.0) if ratios else None


def _dose(entry: Mapping[str, Any], factor: float) -> Dose:
    low, typical, high = (float(entry[name]) * factor for name in ("low", "typical", "high"))
    return Dose(low, typical, high, entry["source"], Mark(entry["mark"]))


def _step(entry: Mapping[str, Any]) -> Step:
    doses = {key: _dose(row, _PER_TONNE) for key, row in entry.get("doses", {}).items()}
    return Step(Product(entry["product"]), entry.get("note", ""), MappingProxyType(doses))


def _recipe(kind: Kind, entry: Mapping[str, Any]) -> Recipe:
    if entry["cake"] not in CONDITIONINGS:
        raise UnknownNameError(f"{kind}: recipe {entry['key']}: {entry['cake']!r} has no cakes")
    return Recipe(
        kind=kind,
        key=entry["key"],
        label=entry["label"],
        cake=entry["cake"],
        steps=tuple(_step(step) for step in entry["step"]),
        source=entry["source"],
        mark=Mark(entry["mark"]),
        note=entry["note"],
        gain=_dose(entry["gain"], 1.0) if "gain" in entry else None,
    )


@cache
def recipes(kind: Kind) -> tuple[Recipe, ...]:
    """Every recipe of one kind, in the order of custom."""
    rows = data_of(kind, "recipes.toml").get("recipe", (_PLAIN,))
    return tuple(_recipe(kind, row) for row in rows)


def recipe(kind: Kind, key: str) -> Recipe:
    """One recipe of one kind.

    Raises
    ------
    UnknownNameError
        If this kind has no such recipe; names the nearest, or those it has.
    """
    for one in recipes(kind):
        if one.key == key:
            return one
    known = [one.key for one in recipes(kind)]
    near = difflib.get_close_matches(key, known, n=1)
    hint = f"did you mean {near[0]!r}?" if near else f"it takes {', '.join(known)}"
    raise UnknownNameError(f"a {kind.replace('_', ' ')} has no recipe {key!r}; {hint}")
