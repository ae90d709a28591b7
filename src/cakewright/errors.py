"""Every exception of the project.

::

    CakewrightError
    ├── StudyError             the study file cannot be used; carries every fault found
    ├── InputFileError         a file is missing, unreadable, too large or not what it claims
    ├── OutputError            a result could not be written; nothing was left half-written
    ├── QuantityError          text that is not a quantity, or one of the wrong kind
    ├── OutOfRangeError        a number a formula cannot take
    ├── UnknownNameError       a name (house name, source, machine type) that does not exist
    ├── InfeasibleError        no answer exists; says the cause and what to change
    ├── DisagreementError      two methods that must agree do not
    ├── StoreError             the store of studies cannot be opened, read or written
    ├── ConflictError          two edits of one value; both versions are kept
    └── DataError              readings, logs or trials that cannot carry what is asked of them

A message says where, what was got (with its unit), what is allowed, why, and what to try.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import wraps
from inspect import signature
from typing import ParamSpec, TypeVar

Taken = ParamSpec("Taken")
Found = TypeVar("Found")

__all__ = [
    "CakewrightError",
    "ConflictError",
    "DataError",
    "DisagreementError",
    "Fault",
    "InfeasibleError",
    "InputFileError",
    "OutOfRangeError",
    "OutputError",
    "QuantityError",
    "StoreError",
    "StudyError",
    "UnknownNameError",
    "foreign",
]


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong: where, what was got, what is allowed, what to try."""

    where: str
    got: str
    allowed: str
    try_this: str
    line: int | None = None

    def __str__(self) -> str:
        place = self.where if self.line is None else f"line {self.line}: {self.where}"
        return f"{place}: got {self.got}; allowed: {self.allowed}; try: {self.try_this}"


class CakewrightError(Exception):
    """Base of every error this package raises on purpose."""


class FaultsError(CakewrightError):
    """An error that carries every fault found, not only the first."""

    def __init__(self, subject: str, faults: Sequence[Fault]) -> None:
        self.subject = subject
        self.faults = tuple(faults)
        count = len(self.faults)
        noun = "fault" if count == 1 else "faults"
        body = "\n".join(f"  {fault}" for fault in self.faults)
        super().__init__(f"{subject}: {count} {noun}\n{body}")


class StudyError(FaultsError):
    """The study cannot be used as it stands."""


class DataError(FaultsError):
    """Readings, logs or trials cannot carry the conclusion asked of them."""


class InputFileError(CakewrightError):
    """A file is missing, unreadable, too large, or not what it claims to be."""


class OutputError(CakewrightError):
    """A result could not be written; whatever was there before is untouched."""


class QuantityError(CakewrightError):
    """A text is not a quantity, or a quantity of the wrong kind."""


class OutOfRangeError(CakewrightError):
    """A number lies where the formula has no meaning."""


class UnknownNameError(CakewrightError):
    """A house name, source id, machine type or sludge class does not exist."""


class InfeasibleError(CakewrightError):
    """No answer exists for these inputs; the message names the cause and the way out."""


class DisagreementError(CakewrightError):
    """Two methods that must agree do not, so neither result is reported."""


class StoreError(CakewrightError):
    """The store of studies cannot be opened, read or written; nothing confirmed is lost."""


class ConflictError(CakewrightError):
    """Somebody else changed the same value since it was read; both versions are kept.

    ``places`` names the values both changed and ``kept`` the number the refused text is kept under.
    """

    def __init__(self, message: str, places: Sequence[str] = (), kept: int = 0) -> None:
        self.places = tuple(places)
        self.kept = kept
        super().__init__(message)


_ILL_LAID = (
    AttributeError, IndexError, KeyError, OverflowError, RecursionError, TypeError, ValueError,
    ZeroDivisionError,
)  # fmt: skip


def foreign(what: str) -> Callable[[Callable[Taken, Found]], Callable[Taken, Found]]:
    """Mark a reader of what others wrote; ``what`` says what such a file is.

    Each reader names the faults it can tell apart; this turns a number where a table belongs, a
    list where a text does, a row that is too short, into a `DataError` at the file's name.
    """

    def marked(reader: Callable[Taken, Found]) -> Callable[Taken, Found]:
        @wraps(reader)
        def read(*args: Taken.args, **words: Taken.kwargs) -> Found:
            try:
                return reader(*args, **words)
            except CakewrightError:
                raise
            except _ILL_LAID as error:
                given = signature(reader).bind(*args, **words)
                given.apply_defaults()
                named = [given.arguments[x] for x in _NAMED if x in given.arguments]
                where = str(named[0]) if named else what
                fault = Fault(where, _ill_laid(error), what, "compare it with the docs' example")
                raise DataError(where, [fault]) from error

        return read

    return marked


_NAMED = ("where", "name", "path", "file")


def _ill_laid(error: Exception) -> str:
    told = str(error)[:80]
    if isinstance(error, KeyError):
        return f"no {told}"
    if isinstance(error, IndexError):
        return "a row or list that is too short"
    if isinstance(error, RecursionError):
        return "lists or tables inside each other too deep"
    if isinstance(error, AttributeError | TypeError):
        return f"an entry of the wrong kind, a number for a table or the like ({told})"
    return f"an entry that cannot be read ({told})"
