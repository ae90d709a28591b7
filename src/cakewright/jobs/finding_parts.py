"""The parts that findings are made of: plain data; no formula lives here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from cakewright.machines.interface import Answer, Verdict
from cakewright.quantities import Figure

__all__ = [
    "Answer",
    "Caution",
    "ComparedRecipe",
    "Decision",
    "Flip",
    "FrameFinding",
    "Miss",
    "OptionFinding",
    "Question",
    "RunnerUp",
    "SludgeFinding",
    "TradeView",
    "Verdict",
]


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
    reasons: tuple[Verdict, ...]
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
class Answered:
    """Share of the draws that have an answer by the path, and whether it rests on tests."""

    share: float
    tested: bool


@dataclass(frozen=True, slots=True)
class Moved:
    """A figure that tests or runs moved beyond the 95 % band it had before them.

    ``evidence`` is ``tests`` or ``runs``; ``value`` None where no cake is left; ``shifts`` the
    parameters that moved most, in standard deviations of what was believed before; ``other_class``
    when the tests are of another class of sludge than the study's.
    """

    evidence: str
    name: str
    value: float | None
    low: float
    high: float
    shifts: tuple[tuple[str, float], ...]
    other_class: bool = False


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
    answered: Answered | None = None
    moved: tuple[Moved, ...] = ()
