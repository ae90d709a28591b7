"""Whole-life cost of one kind of machine at this site, over samples."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cakewright.economics.lifecycle import Investment, LifeCycle, YearlyCost, life_cycle
from cakewright.economics.running_costs import (
    active_polymer_price,
    disposal_cost,
    labour_cost,
    maintenance_cost,
    polymer_cost,
    water_cost,
)
from cakewright.jobs.draws import StudyDraws
from cakewright.jobs.options import Option
from cakewright.machines import Plan
from cakewright.physics.balance import DewateringBalance
from cakewright.quantities import Basis, Figure, FloatArray, Mark
from cakewright.sludge import Feed, RunLoad

__all__ = ["YEAR", "Yearly", "cost_figure", "money_of", "yearly_of"]

YEAR = 365.25 * 86400.0


@dataclass(frozen=True, slots=True, eq=False)
class Yearly:
    """What one option takes and makes in a year, SI, over samples."""

    dry_solids: FloatArray
    cake: FloatArray
    cake_solids: FloatArray
    polymer_dose: FloatArray
    coagulant: FloatArray
    energy: FloatArray
    water: FloatArray
    attention: FloatArray
    solids_returned: FloatArray


def yearly_of(
    option: Option, balance: DewateringBalance, feed: Feed, load: RunLoad, draws: StudyDraws
) -> Yearly:
    """Amounts of a mean year."""
    run = load.run_share * YEAR
    performance, streams = option.performance, balance.streams
    dry = feed.mix.dry_solids_flow * YEAR
    polymer_water = streams["polymer"].water * run / 1000.0
    coagulant = streams["coagulant"].dry * run if "coagulant" in streams else np.zeros(dry.shape)
    days = draws["duty.days_per_week"] / 7.0
    return Yearly(
        dry_solids=dry,
        cake=streams["cake"].mass * run,
        cake_solids=streams["cake"].total_solids,
        polymer_dose=performance.samples("polymer_dose"),
        coagulant=coagulant,
        energy=performance.samples("specific_energy") * dry,
        water=performance.samples("wash_water_specific") * dry + polymer_water,
        attention=performance.samples("attention_per_day") * YEAR * days,
        solids_returned=streams["filtrate"].suspended * run,
    )


def money_of(plan: Plan, yearly: Yearly, draws: StudyDraws) -> LifeCycle:
    """Whole-life cost at today's prices and the real interest rate."""
    purchase = plan.machines * plan.frame.budget_price
    years = max(1, round(float(draws["prices.life"][0]) / YEAR))
    installed = purchase * draws["prices.installation"]
    price = active_polymer_price(draws["prices.polymer"], draws["polymer.activity"])
    distance = draws["outlet.distance"]
    costs = {
        "power": yearly.energy * draws["prices.power"],
        "polymer": polymer_cost(yearly.dry_solids, yearly.polymer_dose, price),
        "coagulant": yearly.coagulant * draws["prices.coagulant"],
        "water": water_cost(yearly.water, draws["prices.water"]),
        "labour": labour_cost(yearly.attention, draws["prices.labour"]),
        "maintenance": maintenance_cost(purchase, draws["prices.maintenance"]),
        "haulage": yearly.cake * distance * draws["prices.haulage"],
        "disposal": disposal_cost(yearly.cake, draws["prices.disposal"]),
        "filtrate treatment": yearly.solids_returned * draws["prices.filtrate"],
    }
    return life_cycle(
        [Investment("machines, installed", installed, years)],
        [YearlyCost(name, cost) for name, cost in costs.items()],
        years,
        draws["prices.interest"],
        yearly.dry_solids,
    )


def cost_figure(money: LifeCycle, plan: Plan) -> Figure:
    """Cost per dry solids with the weakest mark it rests on."""
    mark = plan.frame.mark or Mark.JUDGEMENT
    note = "machines, installed, with running costs; tanks, building and pipes left out"
    return Figure(
        "cost_specific", np.asarray(money.per_dry_solids), Basis.ASSUMED, mark, "OWN", note
    )
