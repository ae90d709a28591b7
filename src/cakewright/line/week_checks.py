"""What played weeks say of the line: a tank that runs over, and the one that would not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from cakewright.line.case import case_of
from cakewright.line.design import LineDesign
from cakewright.line.findings import Finding, Severity
from cakewright.line.week import WeekOutcome, storage_at_risk
from cakewright.line.week_plan import WeekPlan

__all__ = ["judged_by_weeks", "week_findings"]

# A tank may run over in one week of twenty: JUDGEMENT.
_RISK = 0.05
_JUDGED = ("as designed", "worst week of the year")


def week_findings(
    design: LineDesign, plan: WeekPlan, outcomes: Sequence[WeekOutcome]
) -> tuple[Finding, ...]:
    """A finding for each case played in which the feed tank runs over too often."""
    found = []
    dead = design.feed_tank.working_volume * case_of(design.inputs).book["tank_dead_share"]
    for outcome in outcomes:
        risk, error = outcome.overflow_risk, outcome.overflow_risk_error
        if risk <= _RISK:
            continue
        name, weeks = outcome.scenario.name, outcome.spilled.size
        judged = name in _JUDGED
        change = "longer hours in such a week, or an outlet for the rest"
        if judged and weeks * _RISK >= 1:
            usable = storage_at_risk(
                plan, outcome.scenario, risk=_RISK, weeks=weeks, seed=outcome.seed
            )
            change = f"a tank of {usable + dead:.0f} m3, {change}"
        found.append(
            Finding(
                key=f"weeks.{name.replace(' ', '_')}",
                severity=Severity.CHANGE if judged else Severity.CAUTION,
                item="T-101",
                got=f"{design.feed_tank.volume:.0f} m3 runs over in {100 * risk:.0f} ± "
                f"{100 * error:.0f} % of {weeks} weeks played, {name}",
                allowed=f"at most {100 * _RISK:.0f} % of the weeks",
                why="what runs over is untreated sludge in the drain, or production that stops",
                change=change,
                source="JUDGEMENT",
                margin=risk / _RISK,
            )
        )
    return tuple(found)


def judged_by_weeks(
    design: LineDesign, plan: WeekPlan, outcomes: Sequence[WeekOutcome]
) -> LineDesign:
    """The design with what the weeks found among its findings, heaviest first."""
    order = list(Severity)
    played = week_findings(design, plan, outcomes)
    known = {f.key for f in played}
    # What was played takes the place of what was only reckoned.
    reckoned = "case.worst_week_tank" if "weeks.worst_week_of_the_year" in known else ""
    every = (*(f for f in design.findings if f.key != reckoned), *played)
    ranked = sorted(every, key=lambda f: (order.index(f.severity), -f.margin))
    return replace(design, findings=tuple(ranked))
