"""What a request works on: the store, the evaluations, and who is asking."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Annotated

from fastapi import Depends, Request

from cakewright.reports.numbers import Units
from cakewright.storage.store import StudyStore
from cakewright.version import __version__
from cakewright.web.contexts import Shell
from cakewright.web.guard import csrf_token
from cakewright.web.runs import Outcome, Runs
from cakewright.web.settings import Settings
from cakewright.web.tasks import Tasks

__all__ = ["Desk", "DeskHere", "UnitsHere"]

UNITS = "cakewright_units"


@dataclass(frozen=True, slots=True)
class Desk:
    """Store, evaluations, long work and settings of one server."""

    store: StudyStore
    runs: Runs
    settings: Settings
    tasks: Tasks = field(default_factory=Tasks)

    def text(self, study: str, version: int | None = None) -> str:
        """Text of a study."""
        return self.store.data(study, version).decode("utf-8")

    def files(self, study: str) -> dict[str, bytes]:
        """Files kept beside a study."""
        return {n: self.store.attachment(study, n) for n, _ in self.store.attached(study)}

    def best(self, study: str) -> Outcome:
        """What is known of a study now: with bands if they are there."""
        return self.runs.best(self.text(study), self.files(study))

    def full(self, study: str, *, press: bool = True) -> Outcome:
        """What is known of a study, with bands and, if wanted, the press's physics."""
        return self.runs.full(self.text(study), self.files(study), press=press)

    def shell(self, request: Request, units: Units) -> Shell:
        """What every page carries."""
        token = csrf_token(self.settings.secret, request.state.visitor)
        return Shell(units, token, __version__)


def _desk(request: Request) -> Desk:
    desk = request.app.state.desk
    if not isinstance(desk, Desk):
        raise TypeError("the application has no desk")
    return desk


def _units(request: Request) -> Units:
    return Units.US if request.cookies.get(UNITS) == "us" else Units.SI


DeskHere = Annotated[Desk, Depends(_desk)]
UnitsHere = Annotated[Units, Depends(_units)]
