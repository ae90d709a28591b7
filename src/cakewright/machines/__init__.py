"""One interface, kinds of machine as data, pressing paths; frames; suitability rules; sizing."""

from cakewright.machines.base import Machine, Setting
from cakewright.machines.envelope import envelope
from cakewright.machines.frames import (
    catalogue_columns,
    frame_named,
    parse_catalogue,
    shipped_catalogue,
)
from cakewright.machines.interface import (
    Answer,
    Capacity,
    Duty,
    Frame,
    Kind,
    OneOut,
    Performance,
    Verdict,
    worst_answer,
)
from cakewright.machines.kinds import machine, machine_types
from cakewright.machines.plan import Plan
from cakewright.machines.plates.cycle import solids_per_cycle
from cakewright.machines.quantiles import split_normal
from cakewright.machines.sizing import USUAL_USE, choose, size

__all__ = [
    "USUAL_USE",
    "Answer",
    "Capacity",
    "Duty",
    "Frame",
    "Kind",
    "Machine",
    "OneOut",
    "Performance",
    "Plan",
    "Setting",
    "Verdict",
    "catalogue_columns",
    "choose",
    "envelope",
    "frame_named",
    "machine",
    "machine_types",
    "parse_catalogue",
    "shipped_catalogue",
    "size",
    "solids_per_cycle",
    "split_normal",
    "worst_answer",
]
