"""What `evaluate` found: plain data that reports, pages and scripts read; no formula lives here.

All numbers are SI. `Figure.samples[0]` is the point case; names are house names, so labels,
symbols and units for people are looked up in the name list. Optional parts are None when the
study gives no reason to work them out, and `notes` says so.
"""

from __future__ import annotations

import copyreg
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from types import MappingProxyType
from typing import TYPE_CHECKING

from cakewright.quantities import Basis, CalculationLine, Figure, Given, Mark

if TYPE_CHECKING:
    from cakewright.jobs.decision import DecisionFindings
    from cakewright.line.balance import Balance
    from cakewright.line.design import LineDesign
    from cakewright.line.week import WeekOutcome
    from cakewright.machines.prediction import KindFindings
    from cakewright.machines.screw.prediction import PressFindings

__all__ = [
    "Answer",
    "Caution",
    "ComparedRecipe",
    "Decision",
    "Findings",
    "Flip",
    "FrameFinding",
    "Miss",
    "OptionFinding",
    "Question",
    "Reason",
    "RunnerUp",
    "SludgeFinding",
    "TradeView",
]


def _frozen(mapping: dict[object, object]) -> MappingProxyType[object, object]:
    """A mapping nobody changes, made again in another process."""
    return MappingProxyType(mapping)


# Findings travel between processes, and Python itself does not know how to send this type.
copyreg.pickle(MappingProxyType, lambda proxy: (_frozen, (dict(proxy),)))


class Answer(StrEnum):
    """What a suitability rule answers."""

    SUITS = "suits"
    WITH_CARE = "with care"
    DOES_NOT_SUIT = "does not suit"


@dataclass(frozen=True, slots=True)
class Reason:
    """One suitability rule's answer: the words, the figure it looked at and its limit (SI)."""

    rule: str
    answer: Answer
    text: str
    name: str
    value: float
    limit: float
    basis: Basis
    source: str
    mark: Mark = Mark.NONE


@dataclass(frozen=True, slots=True)
class SludgeFinding:
    """One sludge, or the blend: what it is and how it was arrived at."""

    name: str
    sludge_class: str
    class_label: str
    origin: str
    figures: Mapping[str, Figure]


@dataclass(frozen=True, slots=True)
class FrameFinding:
    """One frame of the catalogue against this duty."""

    frame: str
    feasible: bool
    chosen: bool
    machines: int
    shafts: int
    standby: int
    binding: str
    why: str
    figures: Mapping[str, Figure]


@dataclass(frozen=True, slots=True)
class ComparedRecipe:
    """One conditioning a kind was compared with; ``cost`` is None where it cannot be run."""

    label: str
    note: str
    chosen: bool
    answer: Answer
    cost: float | None
    cake_solids: float | None


@dataclass(frozen=True, slots=True)
class OptionFinding:
    """One kind of machine on this sludge, with the conditioning it is shown with."""

    machine: str
    label: str
    answer: Answer
    reasons: tuple[Reason, ...]
    figures: Mapping[str, Figure]
    frames: tuple[FrameFinding, ...]
    comment: str = ""
    conditioning: str = ""
    recipes: tuple[ComparedRecipe, ...] = ()

    @property
    def chosen_frame(self) -> FrameFinding | None:
        """The frame chosen for this kind, if any fits."""
        return next((frame for frame in self.frames if frame.chosen), None)


@dataclass(frozen=True, slots=True)
class Question:
    """One thing worth asking or testing next; its worth with twice its sampling error."""

    rank: int
    name: str
    where: str
    ask: str
    why: str
    effect_on: str
    share: float
    worth: Figure | None = None
    worth_error: float = 0.0


@dataclass(frozen=True, slots=True)
class Caution:
    """One caution: the hazard, what to do, whom to ask."""

    place: str
    text: str
    source: str


@dataclass(frozen=True, slots=True)
class RunnerUp:
    """The next kind: what more it is expected to cost per dry solids, and the chance it costs less.

    Costs count the premium for care and missed targets.
    """

    machine: str
    label: str
    dearer: float
    chance_cheaper: float


@dataclass(frozen=True, slots=True)
class Flip:
    """An input that alone would make the runner-up the answer: its value now and then, SI."""

    place: str
    name: str
    now: float
    then: float


@dataclass(frozen=True, slots=True)
class Miss:
    """A rule that the nearest answer breaks: what was got, the limit, what would be enough.

    ``enough`` is the value at which the rule would answer *with care*; None where no value of the
    quantity alone would do. ``change`` says what to change: ``ask`` (what is wanted), ``feed``,
    ``duty`` or ``kind``.
    """

    rule: str
    text: str
    name: str
    value: float
    limit: float
    enough: float | None
    change: str


@dataclass(frozen=True, slots=True)
class TradeView:
    """What the trade expects on such a duty, where the answer is another: common practice.

    ``expected`` holds machine, label and what it costs more or less per dry solids than the chosen
    kind, in all and by part; ``why`` names the properties of the duty.
    """

    why: tuple[str, ...]
    against: str
    expected: tuple[tuple[str, float], ...]
    parts: tuple[tuple[str, float], ...]
    cake: tuple[float, float] | None


@dataclass(frozen=True, slots=True)
class Decision:
    """The answer in words and in the few figures that carry it.

    ``meets`` is False where no kind meets everything: the answer is then the nearest, ``misses``
    what it misses. ``conflicts`` say where line, promise and weeks contradict each other, each with
    the change proposed.
    """

    machine: str
    label: str
    frame: str
    machines: int
    shafts: int
    standby: int
    sentence: str
    because: tuple[str, ...]
    rejected: tuple[str, ...]
    headline: tuple[Figure, ...]
    conditions: tuple[str, ...]
    meets: bool = True
    misses: tuple[Miss, ...] = ()
    conflicts: tuple[str, ...] = ()
    runner_up: RunnerUp | None = None
    flips: tuple[Flip, ...] = ()
    trade: TradeView | None = None


@dataclass(frozen=True, slots=True)
class Findings:
    """Everything `evaluate` found for one study."""

    title: str
    site: str
    invented: bool
    invented_note: str
    study_version: int
    program_version: str
    seed: int
    samples: int
    currency: str
    price_year: int
    decision: Decision
    sludges: tuple[SludgeFinding, ...]
    feed: SludgeFinding
    options: tuple[OptionFinding, ...]
    balance: Balance
    givens: tuple[Given, ...]
    questions: tuple[Question, ...]
    cautions: tuple[Caution, ...]
    notes: tuple[str, ...]
    lines: tuple[CalculationLine, ...]
    chapters: tuple[str, ...]
    press: PressFindings | None = None
    kinds: tuple[KindFindings, ...] = ()
    line: LineDesign | None = None
    line_missing: str = ""
    decide: DecisionFindings | None = None
    weeks: tuple[WeekOutcome, ...] = ()
    study_text: str = ""
    extras: Mapping[str, Figure] = field(default_factory=dict)
    document: Mapping[str, str] = field(default_factory=dict)

    @property
    def defaults(self) -> tuple[Given, ...]:
        """The values nobody gave."""
        return tuple(given for given in self.givens if given.default)

    @property
    def source_ids(self) -> tuple[str, ...]:
        """Every source used, once, in order of first use."""
        used = [line.source for line in self.lines]
        used += [given.source for given in self.givens if given.source]
        used += [reason.source for option in self.options for reason in option.reasons]
        used += [f.source for o in self.options for f in o.figures.values() if f.source]
        used += [caution.source for caution in self.cautions]
        return tuple(dict.fromkeys(part for ids in used for part in ids.split() if part))
