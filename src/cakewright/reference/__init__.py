"""Published tables as data files; every row has a source id and a page or table."""

from cakewright.reference.band_conditions import BandConditions, band_conditions
from cakewright.reference.classes import (
    MACHINES,
    Neighbours,
    SludgeClass,
    neighbours,
    sludge_class,
    sludge_classes,
)
from cakewright.reference.envelopes import (
    CONDITIONINGS,
    REFERENCE_FEED_SOLIDS,
    BandQuantity,
    PerformanceBand,
    performance_band,
)
from cakewright.reference.law_priors import LAW_PARAMETERS, LawPrior, law_prior, law_priors
from cakewright.reference.measured import (
    Consolidation,
    TagLetter,
    WaterPoint,
    consolidation,
    instrument_letters,
    water_points,
)
from cakewright.reference.mixing_bands import MixingBand, mixing_band, mixing_bands
from cakewright.reference.money import (
    EstimateClass,
    UnitCost,
    estimate_class,
    unit_cost,
    unit_costs,
)
from cakewright.reference.performance import PerformanceRow, envelope_rows, performance_rows
from cakewright.reference.plain import (
    cake_handling,
    carbon_factor,
    cost_share,
    make_down,
    outlet,
    peaking,
    return_liquor,
    sludge_yield,
    specific_resistance,
    storage_rule,
)
from cakewright.reference.rows import Row, RowKind, rows
from cakewright.reference.safety_limits import ExposureLimit, exposure_limit, exposure_limits
from cakewright.reference.trials import (
    Conditioning,
    PilotPoint,
    ScrewPoint,
    conditioning,
    pilot_decanter,
    screw_points,
)
from cakewright.reference.warming import WarmingPotentials, warming_potentials

__all__ = [
    "CONDITIONINGS",
    "LAW_PARAMETERS",
    "MACHINES",
    "REFERENCE_FEED_SOLIDS",
    "BandConditions",
    "BandQuantity",
    "Conditioning",
    "Consolidation",
    "EstimateClass",
    "ExposureLimit",
    "LawPrior",
    "MixingBand",
    "Neighbours",
    "PerformanceBand",
    "PerformanceRow",
    "PilotPoint",
    "Row",
    "RowKind",
    "ScrewPoint",
    "SludgeClass",
    "TagLetter",
    "UnitCost",
    "WarmingPotentials",
    "WaterPoint",
    "band_conditions",
    "cake_handling",
    "carbon_factor",
    "conditioning",
    "consolidation",
    "cost_share",
    "envelope_rows",
    "estimate_class",
    "exposure_limit",
    "exposure_limits",
    "instrument_letters",
    "law_prior",
    "law_priors",
    "make_down",
    "mixing_band",
    "mixing_bands",
    "neighbours",
    "outlet",
    "peaking",
    "performance_band",
    "performance_rows",
    "pilot_decanter",
    "return_liquor",
    "rows",
    "screw_points",
    "sludge_class",
    "sludge_classes",
    "sludge_yield",
    "specific_resistance",
    "storage_rule",
    "unit_cost",
    "unit_costs",
    "warming_potentials",
    "water_points",
]
