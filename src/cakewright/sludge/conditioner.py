"""Iron, lime and coagulants in a sludge: what stays in its cake, what dissolves, what is ash."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np

from cakewright.physics.alkalinity import Conditioner as Form
from cakewright.physics.alkalinity import conditioner_solids
from cakewright.physics.conditioner_solids import (
    iron_lime_ash,
    iron_lime_dissolved,
    iron_lime_kept,
)
from cakewright.quantities import FloatArray
from cakewright.quantities.tables import packaged_table
from cakewright.sludge.stream import Feed, Floats

__all__ = ["Conditioner", "alum", "iron_and_lime"]


@dataclass(frozen=True, slots=True, eq=False)
class Conditioner:
    """One inorganic conditioner per dry solids of the sludge, over samples. [kg/kg]

    ``dose`` counts it as it is told (ferric chloride pure, lime as CaO, others as dry product);
    ``kept`` are the solids it leaves in the cake, ``dissolved`` what it adds to the filtrate,
    ``ash`` the ash of what is kept. ``key`` is its key among prices and carbon factors;
    ``strength`` the share of ``dose`` in the solution or slurry fed.
    """

    key: str
    name: str
    dose: FloatArray
    kept: FloatArray
    dissolved: FloatArray
    ash: FloatArray
    strength: float

    @property
    def formed(self) -> FloatArray:
        """Dry matter it brings into the balance: kept and dissolved."""
        return np.asarray(self.kept + self.dissolved)

    @property
    def retained(self) -> FloatArray:
        """Share of that dry matter which stays in the cake. [1]"""
        return np.asarray(self.kept / np.where(self.formed > 0.0, self.formed, 1.0))


@cache
def _table() -> Mapping[str, Any]:
    return packaged_table("cakewright.sludge", "data", "conditioner.toml")


def _alkalinity(feed: Feed) -> FloatArray:
    rows = _table()["alkalinity_kg_m3"]
    return np.asarray(sum(share * rows[key] for key, share in feed.shares.items()), dtype=float)


def iron_and_lime(
    feed: Feed,
    ferric: Floats,
    lime: Floats,
    cake_solids: Floats,
    capture: Floats,
    *,
    keys: tuple[str, str] = ("ferric", "lime"),
    strengths: tuple[float, float] = (0.15, 0.10),
) -> tuple[Conditioner, ...]:
    """Ferric chloride (pure) and lime (as CaO) dosed per dry solids; those of no dose left out.

    The filtrate is what the cake does not hold, so the sum is passed through twice. Solids kept
    are counted per dry solids fed, at the capture of the sludge's own.
    """
    book = _table()
    zero = np.zeros(feed.mix.size)
    iron, oxide = np.asarray(ferric + zero), np.asarray(lime + zero)
    liquor = (1.0 / feed.mix.total_solids - 1.0) / 1000.0
    alkali, solved = _alkalinity(feed), float(book["lime_dissolved_kg_m3"]["value"])
    rest = oxide * (1.0 / float(book["lime_purity"]["value"]) - 1.0)
    filtrate, kept = liquor, zero
    for _ in range(2):
        kept = np.asarray(
            iron_lime_kept(iron, oxide, liquor, alkali, filtrate, rest, dissolved=solved)
        )
        held = (np.asarray(capture) + kept) * (1.0 / np.asarray(cake_solids) - 1.0) / 1000.0
        filtrate = np.maximum(liquor - held, 0.0)
    own = np.asarray(iron_lime_kept(iron, zero, zero, zero, zero))
    ash = np.asarray(iron_lime_ash(iron, oxide, liquor, alkali, filtrate, rest, dissolved=solved))
    own_ash = np.asarray(iron_lime_ash(iron, zero, zero, zero, zero))
    salts = np.asarray(iron_lime_dissolved(iron, oxide, liquor, alkali, filtrate, solved))
    chloride = np.asarray(iron_lime_dissolved(iron, zero, zero, zero, zero))
    keep = float(book["retained"]["value"])
    found = (
        Conditioner(
            keys[0], "ferric chloride", iron, own * keep, chloride, own_ash * keep, strengths[0]
        ),
        Conditioner(
            keys[1],
            "lime",
            oxide,
            (kept - own) * keep,
            salts - chloride,
            (ash - own_ash) * keep,
            strengths[1],
        ),
    )
    return tuple(one for one in found if one.dose.max() > 0.0)


def alum(feed: Feed, dose: Floats) -> Conditioner:
    """Alum (14-hydrate) ahead of a polymer: its hydroxide is kept, its sulphate dissolves."""
    amount = np.asarray(dose + np.zeros(feed.mix.size))
    kept = conditioner_solids(Form.ALUM) * amount
    return Conditioner("coagulant", "alum", amount, kept, amount - kept, 0.654 * kept, 0.10)
