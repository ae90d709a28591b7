"""What `evaluate` found: plain data that reports, pages and scripts read; no formula lives here.

All numbers are SI. `Figure.samples[0]` is the point case; names are house names, so labels,
symbols and units for people are looked up in the name list. Optional parts are None when the
study gives no reason to work them out, and `notes` says so.
"""

from __future__ import annotations

import copyreg
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import TYPE_CHECKING

from cakewright.jobs.finding_parts import (
    Answer,
    Caution,
    ComparedRecipe,
    Decision,
    Flip,
    FrameFinding,
    Miss,
    OptionFinding,
    Question,
    RunnerUp,
    SludgeFinding,
    TradeView,
    Verdict,
)
from cakewright.quantities import CalculationLine, Figure, Given

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
    "HouseStyle",
    "Miss",
    "OptionFinding",
    "Question",
    "RunnerUp",
    "SludgeFinding",
    "TradeView",
    "Verdict",
]


def _frozen(mapping: dict[object, object]) -> MappingProxyType[object, object]:
    """A mapping nobody changes, made again in another process."""
    return MappingProxyType(mapping)


# Findings travel between processes, and Python itself does not know how to send this type.
copyreg.pickle(MappingProxyType, lambda proxy: (_frozen, (dict(proxy),)))


@dataclass(frozen=True, slots=True)
class HouseStyle:
    """Look of the sender's documents: an empty field leaves ours; ``logo`` is a PNG in base64."""

    name: str = ""
    address: str = ""
    colour: str = ""
    paper: str = ""
    logo: str = ""


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
    house: HouseStyle = field(default_factory=HouseStyle)

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
