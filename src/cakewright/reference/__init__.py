"""Published tables as data files; every row has a source id and a page or table."""

from cakewright.reference.band_conditions import BandConditions, band_conditions
from cakewright.reference.classes import (
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
    machines_known,
    performance_band,
)
from cakewright.reference.law_priors import LAW_PARAMETERS, LawPrior, law_prior, law_priors
from cakewright.reference.performance import PerformanceRow, envelope_rows, performance_rows
from cakewright.reference.rows import Row, RowKind, peaking

__all__ = [
    "CONDITIONINGS",
    "LAW_PARAMETERS",
    "REFERENCE_FEED_SOLIDS",
    "BandConditions",
    "BandQuantity",
    "LawPrior",
    "Neighbours",
    "PerformanceBand",
    "PerformanceRow",
    "Row",
    "RowKind",
    "SludgeClass",
    "band_conditions",
    "envelope_rows",
    "law_prior",
    "law_priors",
    "machines_known",
    "neighbours",
    "peaking",
    "performance_band",
    "performance_rows",
    "sludge_class",
    "sludge_classes",
]
