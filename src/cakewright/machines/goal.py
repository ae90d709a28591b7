"""What a machine's settings are chosen for, and what they cost."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

__all__ = ["Aim", "Goal", "Prices"]


class Aim(StrEnum):
    """What the operating point is chosen for."""

    DRIEST_CAKE = "driest cake"
    LOWEST_COST = "lowest cost"
    LEAST_POLYMER = "least polymer"


@dataclass(frozen=True, slots=True)
class Prices:
    """What a setting changes in money, SI: per active polymer, wet cake taken away, energy."""

    polymer: float
    cake: float
    energy: float


@dataclass(frozen=True, slots=True)
class Goal:
    """The aim, its prices, the capture to keep, and whether the dose may be chosen with it.

    ``parameters`` says in words what the machine's parameters rest on.
    """

    aim: Aim
    prices: Prices
    least_capture: float
    parameters: str
    free_dose: bool = False
