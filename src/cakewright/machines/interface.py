"""What every kind of machine answers: does it suit, what does it deliver, what can it take."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum

from cakewright.machines.registry import Kind
from cakewright.machines.trends import Move, told
from cakewright.quantities import Basis, Figure, FloatArray, Mark
from cakewright.sludge.conditioner import Conditioner

__all__ = [
    "Answer",
    "Capacity",
    "Duty",
    "Frame",
    "Kind",
    "OneOut",
    "Part",
    "Performance",
    "Verdict",
    "worst_answer",
]

Floats = float | FloatArray


class Answer(StrEnum):
    """What one rule, or all of them together, says."""

    SUITS = "suits"
    WITH_CARE = "with care"
    DOES_NOT_SUIT = "does not suit"


@dataclass(frozen=True, slots=True)
class Verdict:
    """One rule's answer: the words, the figure looked at and the limit it met, both SI."""

    rule: str
    answer: Answer
    text: str
    name: str
    value: float
    limit: float
    basis: Basis
    source: str
    mark: Mark = Mark.NONE


def worst_answer(verdicts: tuple[Verdict, ...]) -> Answer:
    """The answer of a kind as a whole: its worst rule."""
    order = list(Answer)
    return max((v.answer for v in verdicts), key=order.index, default=Answer.SUITS)


class OneOut(StrEnum):
    """What must still run with the largest shaft or machine out of service."""

    NONE = "none"
    REDUCED = "reduced"
    FULL = "full"


@dataclass(frozen=True, slots=True, eq=False)
class Duty:
    """What is asked of the machine, in SI; None where the study asks nothing.

    ``hours_per_day`` and ``unattended_hours`` are shares of a day (8 h is 1/3); the peak factor is
    the load's (`RunLoad`); ``spare_capacity`` is kept free on top of the design week.
    ``own_solids`` is True where the cake target counts the sludge's own solids alone,
    ``cake_condition`` where the outlet turns wetter cake away.
    """

    hours_per_day: Floats = 1.0 / 3.0
    days_per_week: Floats = 5.0
    spare_capacity: Floats = 0.0
    one_out: OneOut = OneOut.NONE
    unattended_hours: Floats = 0.0
    cake_target: Floats | None = None
    capture_target: Floats | None = None
    noise_limit: float | None = None
    floor_area: float | None = None
    largest_number: int = 8
    own_solids: bool = False
    cake_condition: bool = False


@dataclass(frozen=True, slots=True)
class Frame:
    """One size of machine in a catalogue, in SI; limits and powers are per machine.

    ``solids_limit`` holds for ``rated_on`` sludge; ``drive_power`` and ``auxiliary_power`` are
    what the machine draws at that limit; ``wash_burst`` of None means washing without pause.
    """

    name: str
    machine: Kind
    solids_limit: float
    hydraulic_limit: float
    drive_power: float
    auxiliary_power: float
    mass_empty: float
    mass_full: float
    length: float
    width: float
    height: float
    sound_level: float
    budget_price: float
    currency: str
    price_year: int
    shafts: int = 1
    rated_on: str = "was"
    screw_diameter: float | None = None
    drained_length: float | None = None
    core_ratio_inlet: float | None = None
    core_ratio_outlet: float | None = None
    pitch_ratio_inlet: float | None = None
    pitch_ratio_outlet: float | None = None
    ring_gap: float | None = None
    screen_aperture: float | None = None
    speed_low: float | None = None
    speed_high: float | None = None
    rated_torque: float | None = None
    belt_width: float | None = None
    bowl_diameter: float | None = None
    bowl_length: float | None = None
    relative_force: float | None = None
    plates: int | None = None
    filter_area: float | None = None
    chamber_volume: float | None = None
    wash_flow: float = 0.0
    wash_pressure: float = 0.0
    wash_burst: float | None = None
    wash_interval: float | None = None
    wash_per_stop: float = 0.0
    installed_power: float = 0.0
    mark: Mark = Mark.NONE
    source: str = ""
    note: str = ""

    @property
    def footprint(self) -> float:
        """Length times width, without access. [m2]"""
        return self.length * self.width

    @property
    def power(self) -> float:
        """Drive and auxiliary power drawn at the rated load. [W]"""
        return self.drive_power + self.auxiliary_power

    @property
    def wash_duty(self) -> float:
        """Share of the running time the wash water flows. [1]"""
        if self.wash_burst is None or self.wash_interval is None:
            return 1.0 if self.wash_flow else 0.0
        return self.wash_burst / self.wash_interval

    @property
    def wash_flow_mean(self) -> float:
        """Wash water averaged over the running time, rinses at a stop left out. [m3/s]"""
        return self.wash_flow * self.wash_duty


@dataclass(frozen=True, slots=True, eq=False)
class Capacity:
    """What one machine can take on this sludge; each with what it rests on."""

    dry_solids_flow: FloatArray
    volume_flow: FloatArray
    note: str = ""
    source: str = "JUDGEMENT"
    mark: Mark = Mark.INVENTED
    cycle_time: FloatArray | None = None
    solids_per_cycle: FloatArray | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """What one class of sludge brings to a blended figure: its share of dry solids, its value."""

    sludge_class: str
    share: FloatArray
    value: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Performance:
    """Figures a kind of machine is expected to deliver, each with its own basis.

    Names: cake_solids, capture, polymer_dose, specific_energy, wash_water_specific,
    sound_level, attention_per_day; with iron or lime also ferric_dose, lime_dose,
    conditioner_kept, conditioner_ash, cake_own_solids, cake_free_solids. ``conditioners`` are the
    inorganic ones it was reached with.

    ``parts`` are the class values a figure was blended from, ``moves`` the trends at work on it and
    ``unmoved`` the levers that stray although nothing is known of what they do to it, by figure;
    ``throughput`` is what the trends leave of a rated limit.
    """

    machine: Kind
    figures: Mapping[str, Figure] = field(default_factory=dict)
    conditioners: tuple[Conditioner, ...] = ()
    parts: Mapping[str, tuple[Part, ...]] = field(default_factory=dict)
    moves: Mapping[str, tuple[Move, ...]] = field(default_factory=dict)
    unmoved: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    throughput: Floats = 1.0

    def __getitem__(self, name: str) -> Figure:
        """One figure by its house name."""
        return self.figures[name]

    @property
    def throughput_note(self) -> str:
        """What moved the rated limits, and what is not known to."""
        found, strayed = self.moves.get("throughput", ()), self.unmoved.get("throughput", ())
        return "; ".join(told("rated limit", found, strayed))

    def samples(self, name: str) -> FloatArray:
        """Samples of one figure."""
        return self.figures[name].samples

    def replaced(self, *figures: Figure) -> Performance:
        """The same with some figures put in their place: the seam for physics and pilot data."""
        return replace(self, figures={**self.figures, **{f.name: f for f in figures}})
