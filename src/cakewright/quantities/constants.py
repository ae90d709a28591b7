"""Constants that belong to no one room, SI."""

from __future__ import annotations

from typing import Final

__all__ = ["DAY", "GRAVITY", "HOUR", "MINUTE", "NORMAL_90", "WEEK", "YEAR"]

GRAVITY: Final = 9.80665  # standard gravity, by definition. [m/s2]
MINUTE: Final = 60.0  # [s]
HOUR: Final = 3600.0  # [s]
DAY: Final = 86400.0  # [s]
WEEK: Final = 7.0 * DAY  # [s]
YEAR: Final = 365.25 * DAY  # [s]
NORMAL_90: Final = 1.2815515655446004  # the 90 % point of the standard normal law. [1]
