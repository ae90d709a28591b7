"""Where the sludge comes from, what it is made of, how sludges blend, and the sludge law."""

from cakewright.sludge.calendar import (
    RunLoad,
    WeekPattern,
    mean_over_week,
    peak_factor,
    run_load,
    week_pattern,
)
from cakewright.sludge.cases import CaseKey, LoadCase, LoadCases, load_cases
from cakewright.sludge.conditioner import Conditioner, alum, iron_and_lime
from cakewright.sludge.origins import (
    coagulant_precipitate,
    sludge_chemical,
    sludge_direct,
    sludge_excess_load_rule,
    sludge_excess_net_yield,
    sludge_flotation,
    sludge_primary,
    sludge_water_works,
)
from cakewright.sludge.stream import Composition, Feed, Sludge, blend

__all__ = [
    "CaseKey",
    "Composition",
    "Conditioner",
    "Feed",
    "LoadCase",
    "LoadCases",
    "RunLoad",
    "Sludge",
    "WeekPattern",
    "alum",
    "blend",
    "coagulant_precipitate",
    "iron_and_lime",
    "load_cases",
    "mean_over_week",
    "peak_factor",
    "run_load",
    "sludge_chemical",
    "sludge_direct",
    "sludge_excess_load_rule",
    "sludge_excess_net_yield",
    "sludge_flotation",
    "sludge_primary",
    "sludge_water_works",
    "week_pattern",
]
