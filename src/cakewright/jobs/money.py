"""Whole-life cost of one kind of machine at this site, over samples."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from typing import Protocol

import numpy as np
from scipy.special import ndtr

from cakewright.economics import (
    Investment,
    LifeCycle,
    YearlyCost,
    active_polymer_price,
    disposal_cost,
    energy_cost,
    filtrate_cost,
    haulage_cost,
    labour_cost,
    life_cycle,
    maintenance_cost,
    nominal_rate,
    polymer_cost,
    real_rate,
    water_cost,
)
from cakewright.jobs.bill import Bill, Capital, catalogue_rate, estimate_factor
from cakewright.jobs.options import Option
from cakewright.line.design import LineDesign
from cakewright.machines import Plan
from cakewright.quantities import Basis, Figure, FloatArray, Mark
from cakewright.quantities.constants import YEAR
from cakewright.sludge import Feed
from cakewright.study import Study

__all__ = [
    "CAPITAL",
    "PointDraws",
    "Sampled",
    "Yearly",
    "accepted_share",
    "capital_of",
    "cost_figure",
    "life_years",
    "money_of",
    "package_of",
    "point_year",
    "rates_of",
    "running_costs",
    "yearly_of",
]

# Name under which the error of the capital estimate is drawn, common and per kind.
CAPITAL = "capital"


class Sampled(Protocol):
    """Anything that gives samples of a study's place and the score of one machine's figure."""

    def __getitem__(self, place: str) -> FloatArray:
        """Samples of one place."""

    def machine_score(self, figure: str, machine: str) -> FloatArray:
        """Normal score of one machine's figure."""


@dataclass(frozen=True, slots=True, eq=False)
class PointDraws:
    """The point case at several settings of some places: what break-even lines are drawn on."""

    draws: Sampled
    changed: Mapping[str, FloatArray]

    def __getitem__(self, place: str) -> FloatArray:
        size = next(iter(self.changed.values())).size
        return self.changed.get(place, np.full(size, self.draws[place][0]))

    def machine_score(self, figure: str, machine: str) -> FloatArray:
        """Nothing is uncertain at the point."""
        return np.zeros(next(iter(self.changed.values())).size)


@dataclass(frozen=True, slots=True, eq=False)
class Yearly:
    """What one option takes and makes in a year, SI, over samples.

    ``own_solids`` are the sludge's own in the cake, without iron, lime and polymer.
    """

    dry_solids: FloatArray
    cake: FloatArray
    cake_solids: FloatArray
    own_solids: FloatArray
    polymer_dose: FloatArray
    coagulant: FloatArray
    ferric: FloatArray
    lime: FloatArray
    energy: FloatArray
    water: FloatArray
    attention: FloatArray
    solids_returned: FloatArray
    peak_power: FloatArray


def yearly_of(option: Option, line: LineDesign, feed: Feed, draws: Sampled) -> Yearly:
    """Amounts of a mean year, of the whole line."""
    performance, demand, streams = option.performance, line.demand, line.balance
    dry = feed.mix.dry_solids_flow * YEAR
    run = line.cases.running.run_share * YEAR
    doses = {one.key: one.dose * dry for one in performance.conditioners}
    none = np.zeros(dry.shape)
    days = draws["duty.days_per_week"] / 7.0
    return Yearly(
        dry_solids=dry,
        cake=streams.cake_mass * run,
        cake_solids=streams.stream("cake").total_solids,
        own_solids=(streams.stream("cake").suspended + streams.stream("cake").dissolved) * run,
        polymer_dose=performance.samples("polymer_dose"),
        coagulant=doses.get("coagulant", none),
        ferric=doses.get("ferric", none),
        lime=doses.get("lime", none),
        energy=demand.energy * YEAR,
        water=demand.water * YEAR,
        attention=performance.samples("attention_per_day") * YEAR * days,
        solids_returned=streams.stream("liquor returned").suspended * run,
        peak_power=np.full(dry.shape, demand.together),
    )


def point_year(yearly: Yearly, size: int, **changed: FloatArray) -> Yearly:
    """The point case of a year, repeated; ``changed`` amounts take the place of theirs."""
    names = [field.name for field in fields(yearly)]
    point = {name: np.full(size, getattr(yearly, name)[0]) for name in names}
    return replace(yearly, **{**point, **changed})


def package_of(study: Study, plan: Plan, draws: Sampled) -> FloatArray:
    """Purchase of the machines of a plan alone, with the error of the estimate's class."""
    factor = estimate_factor(study, draws.machine_score(CAPITAL, plan.frame.machine.value))
    price = plan.machines * plan.frame.budget_price * catalogue_rate(study, plan.frame)
    return np.asarray(price * factor)


def capital_of(study: Study, bill: Bill, draws: Sampled) -> Capital:
    """Equipment and whole line of a bill, with the error of the estimate's class.

    The edges of the class are taken as the 10 % and 90 % points: JUDGEMENT.
    """
    factor = estimate_factor(study, draws.machine_score(CAPITAL, bill.machine))
    return bill.capital(draws["prices.installation"], factor)


def rates_of(study: Study, draws: Sampled) -> tuple[FloatArray, FloatArray]:
    """Real and nominal interest, from whichever the study states."""
    stated, inflation = draws["prices.interest"], draws["prices.inflation"]
    if study.word("prices.interest_is") == "nominal":
        return real_rate(stated, inflation), stated
    return stated, nominal_rate(stated, inflation)


def life_years(draws: Sampled) -> int:
    """Whole years the line is written off over."""
    return max(1, round(float(draws["prices.life"][0]) / YEAR))


def accepted_share(study: Study, cake_solids: FloatArray, draws: Sampled) -> FloatArray:
    """Share of days on which the outlet takes the cake; 1 where it states no limit."""
    if study.given("outlet.least_solids") is None:
        return np.ones(cake_solids.shape)
    above = (cake_solids - draws["outlet.least_solids"]) / draws["decision.day_spread"]
    return np.asarray(ndtr(above))


def running_costs(
    study: Study, bill: Bill, yearly: Yearly, draws: Sampled
) -> dict[str, tuple[FloatArray, FloatArray]]:
    """Cost of a year at today's prices and its real price rise, part by part."""
    active = active_polymer_price(draws["prices.polymer"], draws["polymer.activity"])
    payload = draws["outlet.payload"]
    way = draws["prices.haulage"] * payload / 2.0
    none = np.zeros(yearly.dry_solids.shape)
    rise = {k: draws[f"prices.{k}_rise"] for k in _RISING}
    trips = (yearly.cake, payload, draws["outlet.distance"], way, draws["prices.trip"])
    polymer = polymer_cost(yearly.dry_solids, yearly.polymer_dose, active)
    return {
        "power": (_energy(study, yearly, draws), rise["power"]),
        "polymer": (polymer, rise["polymer"]),
        "coagulant": (yearly.coagulant * draws["prices.coagulant"], rise["polymer"]),
        "ferric chloride": (yearly.ferric * draws["prices.ferric"], rise["polymer"]),
        "lime": (yearly.lime * draws["prices.lime"], rise["polymer"]),
        "water": (water_cost(yearly.water, draws["prices.water"]), none),
        "labour": (labour_cost(yearly.attention, draws["prices.labour"]), rise["labour"]),
        "maintenance": (_upkeep(study, bill, draws), none),
        "haulage": (haulage_cost(*trips), rise["haulage"]),
        "disposal": (_disposal(study, yearly, draws), rise["disposal"]),
        "filtrate treatment": (
            filtrate_cost(yearly.solids_returned[None, :], draws["prices.filtrate"][None, :]),
            none,
        ),
    }


_RISING = ("power", "polymer", "labour", "haulage", "disposal")


def _energy(study: Study, yearly: Yearly, draws: Sampled) -> FloatArray:
    demand = yearly.peak_power, draws["prices.demand"]
    if study.given("prices.peak_power") is None:
        return energy_cost(yearly.energy, draws["prices.power"], *demand)
    dear = draws["prices.peak_share"]
    rows = np.stack([yearly.energy * dear, yearly.energy * (1.0 - dear)])
    return energy_cost(rows, np.stack([draws["prices.peak_power"], draws["prices.power"]]), *demand)


def _upkeep(study: Study, bill: Bill, draws: Sampled) -> FloatArray:
    return maintenance_cost(capital_of(study, bill, draws).purchase, draws["prices.maintenance"])


def _disposal(study: Study, yearly: Yearly, draws: Sampled) -> FloatArray:
    taken = accepted_share(study, yearly.cake_solids, draws)
    price, other = draws["prices.disposal"], draws["outlet.fallback_price"]
    return disposal_cost(yearly.cake, price, taken, other)


def money_of(study: Study, bill: Bill, yearly: Yearly, draws: Sampled) -> LifeCycle:
    """Whole-life cost at today's prices, the real interest rate and real price rises."""
    capital, years = capital_of(study, bill, draws), life_years(draws)
    spares = capital.purchase * draws["prices.spares"]
    bought = [
        Investment("line, installed", capital.installed, years, draws["prices.residual"]),
        Investment("first spares", spares, years),
    ]
    costs = running_costs(study, bill, yearly, draws)
    paid = [YearlyCost(name, cost, rise) for name, (cost, rise) in costs.items()]
    return life_cycle(bought, paid, years, rates_of(study, draws)[0], yearly.dry_solids)


def cost_figure(money: LifeCycle, plan: Plan) -> Figure:
    """Cost per dry solids with the weakest mark it rests on."""
    mark = plan.frame.mark or Mark.JUDGEMENT
    note = (
        "the whole line, installed, with first spares and running costs; what is left out stands "
        "with the bill of quantities"
    )
    return Figure(
        "cost_specific", np.asarray(money.per_dry_solids), Basis.ASSUMED, mark, "OWN", note
    )
