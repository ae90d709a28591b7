"""What the line is designed for: plain data in SI, numbers or arrays over samples."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

import numpy as np

from cakewright.errors import OutOfRangeError
from cakewright.physics.alkalinity import Conditioner
from cakewright.quantities import FloatArray, Given
from cakewright.quantities.constants import DAY, HOUR
from cakewright.sludge.cases import LoadCases

__all__ = [
    "Cake",
    "FeedSludge",
    "Letters",
    "LineInputs",
    "Metering",
    "Outlet",
    "PipeRun",
    "Press",
    "Product",
    "RunPattern",
    "point",
]

Floats = float | FloatArray


def point(value: Floats) -> float:
    """The study's point case: sample 0."""
    return float(np.asarray(value, dtype=float).flat[0])


class Metering(StrEnum):
    """How the wanted flow is measured out to the flocculation tank."""

    WEIR = "weir"
    GATE = "adjustable gate"


class Letters(StrEnum):
    """Which letter code the instrument tags use."""

    ISA = "ISA-5.1"
    ISO = "ISO 14617 / IEC 62424"


@dataclass(frozen=True, slots=True, eq=False)
class FeedSludge:
    """The sludge that arrives; flows are means over the whole week.

    ``pattern`` holds 168 relative hourly weights from Monday 00:00 (empty: constant).
    ``yield_stress``, ``consistency`` (Pa s^n) and ``flow_index`` describe the feed as pumped.
    """

    volume_flow: Floats
    total_solids: Floats
    solids_density: Floats = 1400.0
    dissolved_share: Floats = 0.0
    temperature: Floats = 288.15
    ph: Floats = 7.0
    alkalinity: Floats = 0.5
    yield_stress: Floats = 0.5
    consistency: Floats = 0.004
    flow_index: Floats = 1.0
    pattern: tuple[float, ...] = ()
    oil_share: Floats = 0.0
    foams: bool = False


@dataclass(frozen=True, slots=True)
class RunPattern:
    """When the presses may run: from ``start_hour`` on each of the first ``days`` of the week."""

    hours_per_day: float = 8.0
    days: int = 5
    start_hour: float = 8.0
    unattended: bool = False


@dataclass(frozen=True, slots=True)
class Press:
    """Equal machines of one size; capacities, power and wash water are per shaft.

    ``burst`` of None means washing without pause; ``interval`` is start to start of two bursts.
    ``wash_per_stop`` is the water of the rinse at the end of a run day. [m3]
    ``speed_low``, ``speed_high`` are turns per second; ``cycle_time`` is that of a plate press on
    this sludge, ``filter_area`` and ``chamber_volume`` those of one machine.
    """

    name: str
    kind: str
    units: int
    solids_capacity: float
    flow_capacity: float
    drive_power: float
    shafts: int = 1
    standby: int = 0
    installed_power: float = 0.0
    auxiliary_power: float = 0.0
    wash_flow: float = 0.0
    wash_pressure: float = 3e5
    wash_per_stop: float = 0.0
    burst: float | None = 10.0
    interval: float = 600.0
    sound_level: float | None = None
    length: float = 3.0
    width: float = 1.0
    height: float = 2.0
    mass_empty: float = 0.0
    mass_full: float = 0.0
    speed_low: float | None = None
    speed_high: float | None = None
    belt_width: float = 0.0
    bowl_diameter: float = 0.0
    plates: int = 0
    filter_area: float = 0.0
    chamber_volume: float = 0.0
    cycle_time: float = 0.0
    mark: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Product:
    """One conditioner; dose is active mass per dry solids (or per feed volume when given so).

    ``form`` is a row of the forms table. Strengths, ageing, life and activity of None are taken
    from it. ``retained`` is the share that stays in the cake (None: the capture); ``solids`` the
    dry solids it forms per active mass (None: by its own chemistry; a polymer its own mass).
    ``pump_low`` and ``pump_high`` describe a pump that is already there.
    """

    name: str
    form: str
    dose: Floats = 0.0
    dose_per_volume: Floats | None = None
    dose_low: float | None = None
    dose_high: float | None = None
    activity: float | None = None
    stock: float | None = None
    final: float | None = None
    ageing: float | None = None
    life: float | None = None
    density: float = 1000.0
    retained: Floats | None = None
    solids: Floats | None = None
    conditioner: Conditioner | None = None
    pump_low: float | None = None
    pump_high: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Cake:
    """What leaves the press; capture counts suspended solids fed."""

    total_solids: Floats = 0.18
    capture: Floats = 0.95
    bulk_density: Floats | None = None


@dataclass(frozen=True, slots=True)
class Outlet:
    """Where the cake goes."""

    skip_volume: float = 8.0
    truck_payload: float = 9000.0
    skip_tare: float = 1200.0
    skips: int | None = None
    storage_time: float = 4 * DAY
    trip_days: int = 5


@dataclass(frozen=True, slots=True)
class PipeRun:
    """One pipe: straight length, height to climb, pressure wanted at the end."""

    length: float
    static_head: float
    end_pressure: float = 0.0


_RUNS = {
    "transfer": PipeRun(30.0, 4.0),
    "feed": PipeRun(15.0, 4.0),
    "surplus": PipeRun(15.0, 0.0),
    "solution": PipeRun(10.0, 2.0, 1e5),
    "wash": PipeRun(10.0, 2.0),
    "filtrate": PipeRun(50.0, 5.0),
}


@dataclass(frozen=True, slots=True, eq=False)
class LineInputs:
    """Everything the design of the line needs, in SI.

    ``rules`` replaces rows of the practice table. ``feed_tank_volume`` of None: sized here, to
    the brim; a number: the tank that is there. ``conveyor_incline`` in rad. ``works_solids_flow``:
    solids reaching the works' headworks, for the share the return adds. ``cases`` of None: the
    mean week in the hours of ``run`` is all there is. ``wash_specific`` is wash water [m3/kg] and
    ``press_energy`` what the presses take [J/kg], both per dry solids fed and over samples (None:
    from the presses' own figures).
    """

    feed: FeedSludge
    presses: tuple[Press, ...]
    products: tuple[Product, ...]
    run: RunPattern = field(default_factory=RunPattern)
    cake: Cake = field(default_factory=Cake)
    outlet: Outlet = field(default_factory=Outlet)
    pipes: Mapping[str, PipeRun] = field(default_factory=lambda: dict(_RUNS))
    rules: Mapping[str, Given | float] = field(default_factory=dict)
    cases: LoadCases | None = None
    wash_specific: Floats | None = None
    press_energy: Floats | None = None
    metering: Metering = Metering.WEIR
    letters: Letters = Letters.ISA
    feed_tank_volume: float | None = None
    feed_tank_covered: bool = True
    standby_pumps: bool = True
    with_transfer_pump: bool = False
    feed_includes_return: bool = True
    works_solids_flow: float | None = None
    conveyor_length: float = 6.0
    conveyor_incline: float = 0.35
    soluble_cod: float | None = None
    title: str = "sludge dewatering line"

    def __post_init__(self) -> None:
        """Refuse what no line can be drawn for."""
        if not self.presses or not self.products:
            raise OutOfRangeError(
                f"line: got {len(self.presses)} press types and {len(self.products)} conditioners; "
                "allowed: at least one of each; add the missing one"
            )
        if len(self.products) > 3:
            raise OutOfRangeError(
                f"line: got {len(self.products)} conditioners; allowed: one to three; drop one"
            )
        if len(self.feed.pattern) not in (0, 168) or any(w < 0 for w in self.feed.pattern):
            raise OutOfRangeError(
                f"production pattern: got {len(self.feed.pattern)} values; allowed: none, or 168 "
                "hourly weights >= 0 from Monday 00:00; give one per hour of the week"
            )
        unknown = sorted(set(self.pipes) - set(_RUNS))
        if unknown:
            raise OutOfRangeError(
                f"pipes: got {', '.join(unknown)}; allowed: {', '.join(_RUNS)}; rename the run"
            )
        if not 0 < self.run.hours_per_day <= 24 or not 1 <= self.run.days <= 7:
            raise OutOfRangeError(
                f"run pattern: got {self.run.hours_per_day:g} h/d on {self.run.days} d; allowed: "
                "above 0 to 24 h/d on 1 to 7 days; a line that never runs cannot be sized"
            )

    def pipe(self, service: str) -> PipeRun:
        """The run of one service, the usual one where none was given."""
        return self.pipes.get(service, _RUNS[service])

    @property
    def run_time(self) -> float:
        """Run time per week. [s]"""
        return self.run.hours_per_day * self.run.days * HOUR
