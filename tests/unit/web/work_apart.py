"""Work to be done in a process of its own, which must find it by name."""

from __future__ import annotations

import os
import time

from cakewright.errors import DataError, Fault, InputFileError
from cakewright.web.tasks import Tell


def double(number: int, tell: Tell) -> int:
    tell("doubling", 0.5)
    return 2 * number


def sleep(tell: Tell) -> None:
    tell("asleep", 0.25)
    time.sleep(600)


def refuse(tell: Tell) -> None:
    raise DataError("the log", [Fault("row 3", "soon", "a time", "correct it")])


def unreadable(tell: Tell) -> None:
    raise InputFileError("cut off in the middle")


def die(tell: Tell) -> None:
    os._exit(3)
