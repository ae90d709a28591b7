"""Money, energy, carbon: the same rules as physics."""

from cakewright.economics.capital import EstimateClass, capital_cost_scaled, estimate_classes
from cakewright.economics.carbon import (
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
from cakewright.economics.checks import (
    Number,
    least,
    share,
)
from cakewright.economics.discounting import (
    capital_recovery_factor,
    nominal_rate,
    payback_time,
    present_worth_annuity,
    present_worth_growing_annuity,
    real_rate,
)
from cakewright.economics.lifecycle import (
    Investment,
    LifeCycle,
    YearlyCost,
    life_cycle,
    present_worth_investment,
)
from cakewright.economics.outlet_costs import disposal_cost, haulage_cost, haulage_trips
from cakewright.economics.running_costs import (
    active_polymer_price,
    energy_cost,
    filtrate_cost,
    labour_cost,
    maintenance_cost,
    polymer_cost,
    water_cost,
)
from cakewright.economics.turning_points import break_even, overload_share

__all__ = [
    "EstimateClass",
    "Footprint",
    "Investment",
    "LifeCycle",
    "Number",
    "WarmingPotentials",
    "YearlyCost",
    "active_polymer_price",
    "biogenic_carbon_dioxide",
    "break_even",
    "capital_cost_scaled",
    "capital_recovery_factor",
    "carbon_equivalent",
    "disposal_cost",
    "energy_cost",
    "estimate_classes",
    "filtrate_cost",
    "footprint",
    "haulage_carbon",
    "haulage_cost",
    "haulage_trips",
    "labour_cost",
    "landfill_methane",
    "least",
    "life_cycle",
    "maintenance_cost",
    "nominal_rate",
    "overload_share",
    "payback_time",
    "polymer_cost",
    "power_carbon",
    "present_worth_annuity",
    "present_worth_growing_annuity",
    "present_worth_investment",
    "process_emission",
    "product_carbon",
    "real_rate",
    "share",
    "soil_nitrous_oxide",
    "warming_potentials",
    "water_cost",
]
