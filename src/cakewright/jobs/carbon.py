"""Greenhouse gas of each kind of machine by parts; biogenic carbon dioxide stays apart."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np

from cakewright.economics import (
    Footprint,
    WarmingPotentials,
    biogenic_carbon_dioxide,
    carbon_equivalent,
    footprint,
    haulage_carbon,
    landfill_methane,
    power_carbon,
    process_emission,
    product_carbon,
    soil_nitrous_oxide,
    warming_potentials,
)
from cakewright.jobs.money import Sampled, Yearly
from cakewright.quantities import Basis, CalculationLine, Figure, FloatArray, Given, Mark, Term
from cakewright.quantities.tables import packaged_table
from cakewright.sludge import Feed
from cakewright.study import Study

__all__ = [
    "CarbonFindings",
    "CarbonOption",
    "carbon_lines",
    "carbon_notes",
    "carbon_of",
    "factors_of",
]


@dataclass(frozen=True, slots=True, eq=False)
class CarbonOption:
    """One kind: emission per dry solids by part and in all, and the biogenic CO2 beside it.

    ``amounts`` is what each part's factor is multiplied by, per dry solids fed, SI, point case;
    parts that are more than amount times factor have none. ``factor_of`` names the factor.
    """

    machine: str
    label: str
    parts: Mapping[str, Figure]
    total: Figure
    biogenic: Figure
    amounts: Mapping[str, float]

    @staticmethod
    def factor_of(part: str) -> str:
        """Place in the study of the factor of a part; empty where there is not just one."""
        return _FACTOR.get(part, "")


_FACTOR = {
    "power": "carbon.grid",
    "polymer": "carbon.polymer",
    "coagulant": "carbon.coagulant",
    "ferric chloride": "carbon.ferric",
    "lime": "carbon.lime",
    "water": "carbon.water",
    "haulage": "carbon.haulage",
    "composting, methane": "carbon.compost_ch4",
    "composting, nitrous oxide": "carbon.compost_n2o",
}


@dataclass(frozen=True, slots=True, eq=False)
class CarbonFindings:
    """Every priced kind, the factors used and the set of warming potentials."""

    options: tuple[CarbonOption, ...]
    factors: tuple[Given, ...]
    potentials: WarmingPotentials
    route: str
    notes: tuple[str, ...]


@cache
def _routes() -> Mapping[str, Mapping[str, Any]]:
    return packaged_table("cakewright.jobs", "data", "carbon_routes.toml")


def factors_of(study: Study) -> tuple[Given, ...]:
    """Every factor of the study's [carbon] table that its route uses."""
    used = {
        "grid",
        "polymer",
        "coagulant",
        "ferric",
        "lime",
        "water",
        "haulage",
        *_USED[study.word("outlet.route")],
    }
    return tuple(
        given
        for place, given in study.values.items()
        if place.startswith("carbon.") and place.partition(".")[2] in used
    )


_USED = {
    "compost": ("compost_ch4", "compost_n2o", "organic_carbon"),
    "land": ("nitrogen", "soil_n2o", "organic_carbon"),
    "landfill": (
        "organic_carbon",
        "landfill_correction",
        "landfill_decaying",
        "landfill_oxidised",
        "landfill_recovered",
    ),
    "incineration": ("burning_n2o", "organic_carbon"),
    "digestion": ("digestion_leak", "organic_carbon"),
    "drying": ("drying_heat", "heat"),
}


def carbon_of(
    study: Study, machine: str, label: str, yearly: Yearly, feed: Feed, draws: Sampled
) -> CarbonOption:
    """Emission of one kind of machine."""
    found = _footprint(study, yearly, feed, draws)
    dry = yearly.dry_solids
    mark = _mark(study)

    def figure(name: str, values: FloatArray) -> Figure:
        wide = np.broadcast_to(values / dry, dry.shape)
        return Figure(name, np.array(wide), Basis.ASSUMED, mark, "OWN", found.potentials.name)

    parts = {name: figure("carbon_specific", part) for name, part in found.parts.items()}
    biogenic = figure("biogenic_specific", found.biogenic)
    total = figure("carbon_specific", found.total)
    amounts = _amounts(yearly, draws, found.potentials)
    return CarbonOption(machine, label, parts, total, biogenic, amounts)


def _amounts(yearly: Yearly, draws: Sampled, potentials: WarmingPotentials) -> dict[str, float]:
    """What the factor of each part is multiplied by, per dry solids fed, point case."""
    dry = yearly.dry_solids
    captured = yearly.own_solids / dry
    found = {
        "power": yearly.energy / dry,
        "polymer": yearly.polymer_dose,
        "coagulant": yearly.coagulant / dry,
        "ferric chloride": yearly.ferric / dry,
        "lime": yearly.lime / dry,
        "water": yearly.water / dry,
        "haulage": yearly.cake / dry * draws["outlet.distance"],
        "composting, methane": captured * potentials.methane,
        "composting, nitrous oxide": captured * potentials.nitrous_oxide,
    }
    return {name: float(np.ravel(amount)[0]) for name, amount in found.items()}


def _mark(study: Study) -> Mark:
    marks = [given.mark for given in factors_of(study) if given.mark]
    return Mark.JUDGEMENT if Mark.JUDGEMENT in marks else (marks or [Mark.NONE])[0]


def _footprint(study: Study, yearly: Yearly, feed: Feed, draws: Sampled) -> Footprint:
    potentials = warming_potentials(study.word("carbon.potentials"))
    route = study.word("outlet.route")
    polymer = yearly.dry_solids * yearly.polymer_dose
    distance = draws["outlet.distance"]
    parts = {
        "power": power_carbon(yearly.energy, draws["carbon.grid"]),
        "polymer": product_carbon(polymer, draws["carbon.polymer"]),
        "coagulant": product_carbon(yearly.coagulant, draws["carbon.coagulant"]),
        "ferric chloride": product_carbon(yearly.ferric, draws["carbon.ferric"]),
        "lime": product_carbon(yearly.lime, draws["carbon.lime"]),
        "water": yearly.water * draws["carbon.water"],
        "haulage": haulage_carbon(yearly.cake, distance, draws["carbon.haulage"]),
        **_outlet(route, yearly, feed, draws, potentials),
    }
    carbon = yearly.own_solids * feed.mix.volatile * draws["carbon.organic_carbon"]
    oxidised = float(_routes()["oxidised"][route])
    return footprint(parts, potentials, biogenic_carbon_dioxide(carbon * oxidised))


def _outlet(
    route: str, yearly: Yearly, feed: Feed, draws: Sampled, potentials: WarmingPotentials
) -> dict[str, FloatArray]:
    """Methane, nitrous oxide and heat of the place the cake goes to.

    Gases come of the sludge's own solids; water driven off counts the whole cake.
    """
    dry = yearly.own_solids
    none = np.zeros(dry.shape)
    if route == "compost":
        methane = process_emission(dry, draws["carbon.compost_ch4"])
        laughing = process_emission(dry, draws["carbon.compost_n2o"])
        return {
            "composting, methane": carbon_equivalent(methane, none, potentials),
            "composting, nitrous oxide": carbon_equivalent(none, laughing, potentials),
        }
    if route == "land":
        return _land(dry * draws["carbon.nitrogen"], draws, potentials)
    if route == "landfill":
        return {"landfill, methane": _landfill(dry, feed, draws, potentials)}
    if route == "incineration":
        laughing = process_emission(yearly.cake, draws["carbon.burning_n2o"])
        return {"burning, nitrous oxide": carbon_equivalent(none, laughing, potentials)}
    if route == "digestion":
        methane = process_emission(dry, draws["carbon.digestion_leak"])
        return {"digestion, methane": carbon_equivalent(methane, none, potentials)}
    driven = yearly.cake - yearly.cake * yearly.cake_solids / float(
        _routes()["drying"]["to_solids"]
    )
    heat = np.maximum(driven, 0.0) * draws["carbon.drying_heat"]
    return {"drying, heat": power_carbon(heat, draws["carbon.heat"])}


def _land(
    nitrogen: FloatArray, draws: Sampled, potentials: WarmingPotentials
) -> dict[str, FloatArray]:
    other = _routes()["indirect"]
    none = np.zeros(nitrogen.shape)
    direct = soil_nitrous_oxide(nitrogen, draws["carbon.soil_n2o"])
    drift = soil_nitrous_oxide(nitrogen * other["volatilised"], other["volatilised_factor"])
    leach = soil_nitrous_oxide(nitrogen * other["leached"], other["leached_factor"])
    return {
        "soil, nitrous oxide": carbon_equivalent(none, direct, potentials),
        "soil, nitrous oxide by air and water": carbon_equivalent(none, drift + leach, potentials),
    }


def _landfill(
    dry: FloatArray, feed: Feed, draws: Sampled, potentials: WarmingPotentials
) -> FloatArray:
    methane = landfill_methane(
        dry,
        feed.mix.volatile * draws["carbon.organic_carbon"],
        draws["carbon.landfill_decaying"],
        draws["carbon.landfill_correction"],
        0.5,
        draws["carbon.landfill_oxidised"],
        draws["carbon.landfill_recovered"],
    )
    return carbon_equivalent(methane, np.zeros(dry.shape), potentials)


def carbon_lines(option: CarbonOption, route: str) -> list[CalculationLine]:
    """How the chosen kind's figure is put together."""
    parts = {name: figure.point for name, figure in option.parts.items() if figure.point}
    symbols = {name: f"g_{index}" for index, name in enumerate(parts, start=1)}
    words = ", ".join(f"{symbol} {name}" for name, symbol in symbols.items())
    return [
        CalculationLine(
            key="carbon.carbon_specific",
            chapter="carbon",
            title="Greenhouse gas per dry solids",
            symbol="g",
            formula=" + ".join(symbols.values()) or "0",
            terms=tuple(Term(s, parts[n], "carbon_specific") for n, s in symbols.items()),
            result=option.total.point,
            name="carbon_specific",
            source="OWN",
            note=f"{words}; route: {route}; biogenic CO2 apart; potentials {option.total.note}",
            mark=option.total.mark.value,
        )
    ]


def carbon_notes(study: Study, potentials: WarmingPotentials) -> tuple[str, ...]:
    """What the figures leave out and rest on."""
    mark = f", {potentials.mark}" if potentials.mark else ""
    notes = [
        f"Warming potentials over 100 years of {potentials.name}: CH4 {potentials.methane:g}, "
        f"N2O {potentials.nitrous_oxide:g} ({potentials.source}{mark}).",
        "Biogenic CO2 is stated apart and counted as zero. Making and building the machines, "
        "carbon stored in soil, and credits for fertiliser or energy replaced are left out.",
        "The share of organic carbon oxidised on each route is judged, not measured.",
    ]
    if study.word("outlet.route") == "land":
        notes.append("Nitrous oxide by air and water rests on factors recalled from memory.")
    return tuple(notes)
