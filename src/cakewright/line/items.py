"""Plain data of the lists and drawings: items, motors, signals, pipes, streams, the graph."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

import numpy as np

from cakewright.quantities import FloatArray, Mark

__all__ = [
    "Datum",
    "Edge",
    "EdgeKind",
    "Footprint",
    "Interlock",
    "Item",
    "ItemKind",
    "LineGraph",
    "Motor",
    "NarrativeSection",
    "Node",
    "PipeLine",
    "SetPoint",
    "Sheet",
    "Signal",
    "SignalType",
    "Stream",
    "Utility",
]


class ItemKind(StrEnum):
    """Kinds of equipment, in trade words."""

    TANK = "tank"
    MEASURING_TANK = "measuring tank"
    FLOCCULATION_TANK = "flocculation tank"
    MIXING_CHAMBER = "mixing chamber"
    PUMP_DISPLACEMENT = "positive displacement pump"
    PUMP_CENTRIFUGAL = "centrifugal pump"
    MIXER = "mixer"
    MAKE_DOWN = "make-down station"
    PRESS = "press"
    CONVEYOR = "screw conveyor"
    SKIP = "skip"
    SUMP = "sump"
    BREAK_TANK = "break tank"
    FAN = "fan"
    PUMP_PLUNGER = "plunger pump"
    VESSEL = "vessel"
    FLOCCULATION_VESSEL = "flocculation vessel"
    CONDITIONER = "conditioner"
    CONDITIONING_TANK = "conditioning tank"
    IN_LINE_MIXER = "in-line mixer"
    MACERATOR = "macerator"
    COMPRESSOR = "compressor"
    POWER_PACK = "power pack"
    BUNKER = "bunker"
    BREAKER = "breaker"
    GATE = "gate"
    HOOD = "hood"
    VENT = "vent"
    DRIP_TRAY = "drip tray"
    RELIEF_VALVE = "relief valve"
    LIGHT_CURTAIN = "light curtain"
    ISOLATORS = "isolators"
    SOUND_ENCLOSURE = "sound enclosure"
    CRANE = "crane"
    PLATFORM = "platform"


@dataclass(frozen=True, slots=True)
class Datum:
    """One figure of a data sheet: house name, SI value, where it is from, and a word on it."""

    name: str
    value: float
    source: str = "OWN"
    mark: Mark = Mark.NONE
    note: str = ""
    label: str = ""


@dataclass(frozen=True, slots=True)
class Item:
    """One piece of equipment; ``duty`` and ``standby`` are numbers of like units."""

    tag: str
    kind: ItemKind
    label: str
    service: str
    duty: int
    standby: int
    data: tuple[Datum, ...]
    material: str = ""
    cautions: tuple[str, ...] = ()
    note: str = ""

    def value(self, name: str) -> float:
        """One figure of the item by house name, SI."""
        return next(d.value for d in self.data if d.name == name)


@dataclass(frozen=True, slots=True)
class Motor:
    """One drive: shaft power per motor, rating, and how much of it runs at once.

    ``running_share`` is the share of run time; ``idle_share`` that outside the run hours.
    """

    tag: str
    item: str
    label: str
    number: int
    running: int
    shaft_power: float
    rated_power: float
    running_share: float
    idle_share: float
    control: str
    absorbed_power: float

    @property
    def installed(self) -> float:
        """Rated power of all of them. [W]"""
        return self.number * self.rated_power

    @property
    def simultaneous(self) -> float:
        """Electrical power when all duty units run at once. [W]"""
        return self.running * self.absorbed_power


class SignalType(StrEnum):
    """Signal at the control panel."""

    AI = "analogue in"
    AO = "analogue out"
    DI = "digital in"
    DO = "digital out"
    COUNTER = "counter"


@dataclass(frozen=True, slots=True)
class SetPoint:
    """One limit of a signal: a value in SI, or a share of what ``of`` names.

    ``which`` is normal from, normal to, low, high, trip low or trip high.
    """

    which: str
    value: float
    of: str = ""
    source: str = "MEM"
    mark: Mark = Mark.NONE


@dataclass(frozen=True, slots=True)
class Signal:
    """One instrument or signal: tag in the chosen letters and in the other set."""

    tag: str
    tag_other: str
    item: str
    measured: str
    functions: tuple[str, ...]
    meaning: str
    signal: SignalType
    name: str
    low: float
    high: float
    alarms: tuple[str, ...] = ()
    set_points: tuple[SetPoint, ...] = ()
    source: str = "OWN"
    mark: Mark = Mark.NONE


@dataclass(frozen=True, slots=True)
class PipeLine:
    """One pipe with its size and what was found in it."""

    tag: str
    service: str
    medium: str
    source: str
    target: str
    nominal: int
    bore: float
    length: float
    flow_high: float
    flow_low: float
    velocity_high: float
    velocity_low: float
    pressure_drop: float
    static_head: float
    regime: str
    note: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Stream:
    """One stream in one case, over samples; flows are per time of flowing.

    ``weekly_share`` turns it into a mean over the week (run time over week, or 1). ``suspended``
    and ``dissolved`` are the sludge's own dry solids, ``conditioner`` what was added. ``source``
    and ``target`` name the apparatus it joins; ``temperature`` [K], ``pressure`` above the air's
    [Pa], 0 where it runs free; ``check`` says how it is checked on site.
    """

    number: int
    name: str
    kind: str
    volume_flow: FloatArray
    mass_flow: FloatArray
    dry_solids_flow: FloatArray
    weekly_share: float
    note: str = ""
    suspended: FloatArray = field(default_factory=lambda: np.zeros(1))
    dissolved: FloatArray = field(default_factory=lambda: np.zeros(1))
    conditioner: FloatArray = field(default_factory=lambda: np.zeros(1))
    source: str = ""
    target: str = ""
    temperature: float = 288.15
    pressure: float = 0.0
    check: str = ""

    @property
    def water(self) -> FloatArray:
        """Water. [kg/s]"""
        return np.asarray(self.mass_flow - self.dry_solids_flow)

    @property
    def total_solids(self) -> FloatArray:
        """Dry solids over mass (zero in an empty stream)."""
        safe = np.where(self.mass_flow > 0, self.mass_flow, 1.0)
        return np.asarray(self.dry_solids_flow / safe)


class EdgeKind(StrEnum):
    """Line kinds of the flow diagram, thickest first."""

    MAIN = "main"
    SECONDARY = "secondary"
    SIGNAL = "signal"


@dataclass(frozen=True, slots=True)
class Node:
    """One symbol of the flow diagram: ``stage`` counts left to right, ``lane`` top to bottom.

    Lane 0 is the main axis; negative lanes lie above (chemicals, water), positive below
    (filtrate, cake). ``boundary`` marks inlets and outlets of the line.
    """

    tag: str
    kind: str
    label: str
    size: str
    stage: int
    lane: int
    boundary: bool = False


@dataclass(frozen=True, slots=True)
class Edge:
    """One line of the diagram from node to node; ``stream`` is 0 for a signal line."""

    source: str
    target: str
    kind: EdgeKind
    stream: int = 0
    label: str = ""
    pipe: str = ""


@dataclass(frozen=True, slots=True)
class LineGraph:
    """Nodes and edges of the flow diagram."""

    nodes: tuple[Node, ...]
    edges: tuple[Edge, ...]


@dataclass(frozen=True, slots=True)
class Footprint:
    """Plan size of one item with the free space wanted on each side. [m, kg]"""

    tag: str
    label: str
    length: float
    width: float
    height: float
    access_front: float
    access_back: float
    access_left: float
    access_right: float
    mass_full: float = 0.0
    outdoors: bool = False
    note: str = ""


@dataclass(frozen=True, slots=True)
class Utility:
    """One utility: peak and mean over the week in the SI unit of the house names."""

    name: str
    medium: str
    peak_name: str
    peak: float
    mean_name: str
    mean: float
    note: str = ""


@dataclass(frozen=True, slots=True)
class NarrativeSection:
    """One section of the functional description: numbered sentences."""

    title: str
    steps: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Interlock:
    """One interlock: cause (signal and limit), what it does, how it is reset, what it protects."""

    number: int
    cause: str
    signal: str
    action: str
    reset: str
    protects: str
    source: str = "OWN"
    mark: Mark = Mark.NONE


@dataclass(frozen=True, slots=True)
class Sheet:
    """One data sheet: groups of rows, each a label with figures or words."""

    tag: str
    title: str
    rows: tuple[tuple[str, str, Datum | str], ...]
    cautions: tuple[str, ...] = ()
    meta: Mapping[str, str] = field(default_factory=dict)
