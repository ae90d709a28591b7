"""What is done in a process of its own: each takes plain arguments and a function to tell.

Loaded there without the rest of the workbench.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from cakewright.line.week import WeekOutcome
    from cakewright.line.week_plan import WeekPlan
    from cakewright.web.tasks import Tell

__all__ = ["play_weeks"]


def play_weeks(plan: WeekPlan, weeks: int, tell: Tell) -> tuple[WeekOutcome, ...]:
    """The usual questions put to a line, each through many random weeks."""
    from cakewright.line.week import worst_weeks

    return worst_weeks(plan, weeks=weeks, progress=tell)
