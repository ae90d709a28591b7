"""Everything between the sludge tank and the skip: equipment, balance, lists, schedule."""

from __future__ import annotations

from cakewright.line.availability import (
    LineAvailability,
    ServicePlan,
    availability_parallel,
    availability_series,
    steady_availability,
)
from cakewright.line.design import LineDesign, design
from cakewright.line.findings import Finding, Severity
from cakewright.line.inputs import (
    Cake,
    FeedSludge,
    Letters,
    LineInputs,
    Metering,
    Outlet,
    PipeRun,
    Press,
    Product,
    RunPattern,
)
from cakewright.line.items import (
    Datum,
    Edge,
    EdgeKind,
    Footprint,
    Interlock,
    Item,
    ItemKind,
    LineGraph,
    Motor,
    NarrativeSection,
    Node,
    PipeLine,
    Sheet,
    Signal,
    SignalType,
    Stream,
    Utility,
)
from cakewright.line.practice import practice, product_form
from cakewright.line.returns import recycle_passes, returned_solids
from cakewright.line.signals import instrument_tag
from cakewright.line.study_case import feed_of, press_of_frame
from cakewright.line.week import WeekOutcome, simulate_weeks, storage_at_risk, worst_weeks
from cakewright.line.week_plan import Scenario, WeekPlan, week_plan

__all__ = [
    "Cake",
    "Datum",
    "Edge",
    "EdgeKind",
    "FeedSludge",
    "Finding",
    "Footprint",
    "Interlock",
    "Item",
    "ItemKind",
    "Letters",
    "LineAvailability",
    "LineDesign",
    "LineGraph",
    "LineInputs",
    "Metering",
    "Motor",
    "NarrativeSection",
    "Node",
    "Outlet",
    "PipeLine",
    "PipeRun",
    "Press",
    "Product",
    "RunPattern",
    "Scenario",
    "ServicePlan",
    "Severity",
    "Sheet",
    "Signal",
    "SignalType",
    "Stream",
    "Utility",
    "WeekOutcome",
    "WeekPlan",
    "availability_parallel",
    "availability_series",
    "design",
    "feed_of",
    "instrument_tag",
    "practice",
    "press_of_frame",
    "product_form",
    "recycle_passes",
    "returned_solids",
    "simulate_weeks",
    "steady_availability",
    "storage_at_risk",
    "week_plan",
    "worst_weeks",
]
