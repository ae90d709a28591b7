"""What every kind of machine is to the rest of the program: one object per kind, one interface.

Nothing outside this room asks which kind a machine is; it asks the machine.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Mapping
from dataclasses import dataclass, fields
from types import MappingProxyType
from typing import Any, ClassVar

import numpy as np

from cakewright.errors import InfeasibleError, UnknownNameError
from cakewright.machines.capacity import capacity_continuous
from cakewright.machines.envelope import envelope
from cakewright.machines.goal import Goal
from cakewright.machines.interface import (
    Capacity,
    Duty,
    Floats,
    Frame,
    Kind,
    Performance,
    Verdict,
)
from cakewright.machines.outcome import best_of
from cakewright.machines.plan import Plan
from cakewright.machines.prediction import Cycle, kind_findings, load_of_one
from cakewright.machines.press_priors import ParameterPrior, parameter_priors
from cakewright.machines.pressed import Pressed
from cakewright.machines.pressing_path import PathResult, PressedSludge, PressLoad
from cakewright.machines.recipes import Recipe, recipes
from cakewright.machines.registry import data_of
from cakewright.machines.suitability import verdicts
from cakewright.quantities import FloatArray
from cakewright.sludge import Feed, RunLoad

__all__ = ["ANSWERS", "Machine", "Setting"]

ANSWERS = ("cake_solids", "capture", "residence", "power")
_STEP = 1e-3  # of an input, for central differences
_NOTHING: Mapping[str, Floats] = MappingProxyType({})


@dataclass(frozen=True, slots=True)
class Setting:
    """One setting of a frame in SI: its window, and where it stands when nobody says."""

    name: str
    unit: str
    low: float
    typical: float
    high: float


@dataclass(frozen=True, slots=True)
class Machine(ABC):
    """One kind of machine; a folder holds one final class of it.

    ``label`` is its name in trade words, ``principle`` how it works; ``batch`` is True when it
    works in cycles, ``shaft_service`` when one shaft can be serviced while the others run;
    ``note`` says how its rated limits are to be read, ``envelope`` what stays envelope or judgement
    although its pressing is predicted.
    ``has_operating_map`` is True where its settings span a window that is searched and shown, and
    trial runs narrow its parameters.
    """

    kind: Kind
    label: str
    principle: str
    batch: bool
    shaft_service: bool
    note: str = ""
    envelope: str = ""

    has_operating_map: ClassVar[bool] = False

    def verdicts(
        self, feed: Feed, duty: Duty, performance: Performance | None = None
    ) -> tuple[Verdict, ...]:
        """Every rule's answer on this feed and duty."""
        return verdicts(self.kind, feed, duty, performance)

    @property
    def recipes(self) -> tuple[Recipe, ...]:
        """Conditioning it is used with, in the order of custom."""
        return recipes(self.kind)

    def performance(
        self,
        feed: Feed,
        duty: Duty,
        quantile: Floats | Mapping[str, Floats] = 0.5,
        conditioning: str = "polymer",
        dose: Floats | None = None,
        supplied: Floats | None = None,
    ) -> Performance:
        """Published envelope on this feed, at a quantile per sample (0.5: typical).

        A mapping gives each figure its own quantiles; figures left out stay typical.
        ``conditioning`` is the word of the tables that decides which cakes answer, ``dose`` the
        polymer given, which is held against what the sludge needs; ``supplied`` the share of the
        need met where another conditioner takes its place.
        """
        return envelope(
            self.kind,
            feed,
            duty,
            quantile,
            conditioning=conditioning,
            dose=dose,
            supplied=supplied,
        )

    def capacity(self, frame: Frame, feed: Feed, duty: Duty, performance: Performance) -> Capacity:
        """What one machine of this frame is rated to take on this feed."""
        note = "; ".join(one for one in (self.note, performance.throughput_note) if one)
        return capacity_continuous(frame, feed, note, performance.throughput)

    @property
    def priors(self) -> Mapping[str, ParameterPrior]:
        """Parameters that no drawing tells, before any trial."""
        return parameter_priors(self.kind)

    def predictable(self, frame: Frame) -> bool:
        """Whether the catalogue tells enough of a frame for its pressing to be predicted."""
        return True

    def warm(self) -> None:
        """Load the programs of its pressing in the background, where that takes time."""
        return

    @abstractmethod
    def settings(self, frame: Frame) -> Mapping[str, Setting]:
        """Settings an operator of this frame has, by name."""

    @abstractmethod
    def pressed(
        self,
        frame: Frame,
        sludge: PressedSludge,
        load: PressLoad,
        settings: Mapping[str, Floats],
        parameters: Mapping[str, Floats],
    ) -> PathResult:
        """The pressing path with every setting and parameter given."""

    @abstractmethod
    def tried(
        self,
        frame: Frame,
        sludge: PressedSludge,
        load: PressLoad,
        parameters: Mapping[str, FloatArray],
        held: Mapping[str, FloatArray] = MappingProxyType({}),
    ) -> list[PathResult]:
        """The path at each of the few settings its operator would try; ``held`` where not NaN."""

    def solve(
        self,
        frame: Frame,
        sludge: PressedSludge,
        load: PressLoad,
        settings: Mapping[str, Floats] = _NOTHING,
        parameters: Mapping[str, Floats] = _NOTHING,
    ) -> PathResult:
        r"""Cake solids, capture, power and limits of one machine, per sample.

        .. math:: (w_c, \eta, P) = f(\text{sludge}, \dot m_s, \text{settings}, \text{parameters})

        Parameters
        ----------
        frame : Frame
            Size of machine, as the catalogue tells it. [object]
        sludge : PressedSludge
            Sludge law at the dose used, SI. [object]
        load : PressLoad
            What this one machine is fed, SI. [object]
        settings : mapping of str to float or ndarray, shape (n,)
            Settings by name as in `settings`; those left out stand at their typical value. [SI]
        parameters : mapping of str to float or ndarray, shape (n,)
            Machine parameters by name as in `priors`; those left out are typical. [SI]

        Returns
        -------
        result : PathResult
            One value per sample; a sample beyond a limit carries its cause. [object]

        Raises
        ------
        UnknownNameError
            If a setting or parameter has a name this kind does not know.
        OutOfRangeError
            If an input lies where the path has no meaning; every such input is named.
        InfeasibleError
            If the catalogue does not tell enough of this frame.

        Notes
        -----
        Equations, validity and what is left out: theory of the press.

        References
        ----------
        .. [1] OWN, theory of the press (T46, T47 for screws; P05 for plates; P08 for decanters).
        """
        given = {name: one.typical for name, one in self.settings(frame).items()}
        typical = {name: one.typical for name, one in self.priors.items()}
        self._known("setting", settings, given)
        self._known("parameter", parameters, typical)
        return self.pressed(frame, sludge, load, {**given, **settings}, {**typical, **parameters})

    def _known(self, what: str, got: Mapping[str, Any], known: Mapping[str, Any]) -> None:
        unknown = sorted(set(got) - set(known))
        if unknown:
            raise UnknownNameError(
                f"{what} of a {self.label}: got {', '.join(unknown)}; known: {', '.join(known)}"
            )

    def operated(
        self,
        frame: Frame,
        sludge: PressedSludge,
        load: PressLoad,
        parameters: Mapping[str, FloatArray],
    ) -> PathResult:
        """The path at the best of the few settings its operator has, per sample."""
        return best_of(self.tried(frame, sludge, load, parameters))

    def sensitivities(
        self,
        frame: Frame,
        sludge: PressedSludge,
        load: PressLoad,
        settings: Mapping[str, Floats] = _NOTHING,
        parameters: Mapping[str, Floats] = _NOTHING,
    ) -> dict[str, dict[str, float]]:
        """Derivative of every answer by every input at the first sample: ``[answer][input]``, SI.

        Central differences, all inputs in one batch; inputs that are 0 are left out.
        """
        tables: list[dict[str, Any]] = [
            {one.name: getattr(sludge, one.name) for one in fields(sludge)},
            {one.name: getattr(load, one.name) for one in fields(load)},
            {**{n: s.typical for n, s in self.settings(frame).items()}, **settings},
            {**{n: p.typical for n, p in self.priors.items()}, **parameters},
        ]
        first = [{n: float(np.atleast_1d(v)[0]) for n, v in table.items()} for table in tables]
        names = [(at, n) for at, table in enumerate(first) for n, v in table.items() if v != 0.0]
        wide = [{n: np.full(2 * len(names), v) for n, v in table.items()} for table in first]
        for row, (at, name) in enumerate(names):
            wide[at][name][2 * row] *= 1.0 + _STEP
            wide[at][name][2 * row + 1] *= 1.0 - _STEP
        result = self.pressed(
            frame, PressedSludge(**wide[0]), PressLoad(**wide[1]), wide[2], wide[3]
        )
        found: dict[str, dict[str, float]] = {}
        for answer in ANSWERS:
            values = getattr(result, answer)
            found[answer] = {
                name: float((values[2 * row] - values[2 * row + 1]) / (2 * _STEP * first[at][name]))
                for row, (at, name) in enumerate(names)
            }
        return found

    def profile(
        self,
        frame: Frame,
        sludge: PressedSludge,
        load: PressLoad,
        settings: Mapping[str, Floats] = _NOTHING,
        parameters: Mapping[str, Floats] = _NOTHING,
        sample: int = 0,
    ) -> Any:
        """Along the machine in one sample, for kinds whose path follows the sludge along it.

        Raises
        ------
        InfeasibleError
            If this kind is not followed from place to place, or the sample has no answer.
        """
        raise InfeasibleError(
            f"profile: the path of a {self.label} gives its cake as a whole, not from place to "
            "place; ask `solve` for its details"
        )

    def cycle(self, result: PathResult, pressed: Pressed, running: FloatArray) -> Cycle | None:
        """Figures of its cycle where it has one; ``running`` is the share of a day it runs."""
        return None

    def predict(
        self,
        plan: Plan,
        pressed: Pressed,
        feed: Feed,
        load: RunLoad,
        parameters: Mapping[str, FloatArray],
        goal: Goal,
    ) -> Any:
        """Prediction for a study's load over its samples, at settings chosen for its goal."""
        hours = plan.figures["run_hours_per_day"].samples
        fed = load_of_one(plan, pressed, feed, load)
        result = self.operated(plan.frame, pressed.wide(hours.size), fed, parameters)
        cycle = self.cycle(result, pressed, hours)
        return kind_findings(plan, pressed, feed, result, self.envelope, cycle)

    def window(self) -> Mapping[str, Any]:
        """Its table of settings where the catalogue does not say."""
        return data_of(self.kind, "settings.toml")
