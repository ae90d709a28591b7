"""What was sized for the design case, held against the promise and the worst week."""

from __future__ import annotations

from collections.abc import Sequence

from cakewright.line.balance import Balance
from cakewright.line.cake import Conveyor
from cakewright.line.case import Case
from cakewright.line.conditioning import ProductLine
from cakewright.line.feeding import FeedTank
from cakewright.line.findings import Finding, Severity
from cakewright.line.inputs import point
from cakewright.sludge.cases import LoadCase

__all__ = ["case_findings"]


def case_findings(
    case: Case,
    tank: FeedTank,
    products: Sequence[ProductLine],
    convey: Conveyor,
    sizing: Balance,
) -> tuple[Finding, ...]:
    """Where promise, worst week and design contradict each other, with the change proposed."""
    found = [*_slow(case), *_worst(case, tank)]
    if case.cases.promised is not None:
        found += _promised(case, case.cases.promised, products, convey, sizing)
    return tuple(found)


def _kg(flow: float) -> str:
    return f"{3600 * flow:.1f} kg DS/h"


def _reach(
    case: Case, products: Sequence[ProductLine], convey: Conveyor, sizing: Balance
) -> dict[str, float]:
    """Dry solids each item can carry at its highest, point case. [kg/s]"""
    design = case.design_solids
    found = {"P-101": design * case.highest_flow / case.design_flow}
    for number, p in enumerate(products, start=1):
        if point(p.stock_flow) > 0:
            found[f"P-20{number}"] = design * p.pump.flow_high / point(p.stock_flow)
    cake = point(sizing.cake_mass) / point(sizing.cake_density)
    found["H-501"] = design * convey.capacity / cake
    return found


def _promised(
    case: Case,
    promised: LoadCase,
    products: Sequence[ProductLine],
    convey: Conveyor,
    sizing: Balance,
) -> list[Finding]:
    load = point(promised.dry_solids_flow)
    found = []
    reach = _reach(case, products, convey, sizing)
    item = min(reach, key=reach.__getitem__)
    if load > reach[item] * (1 + 1e-6):
        found.append(
            Finding(
                key="case.promise_not_fed",
                severity=Severity.CHANGE,
                item=item,
                got=f"{_kg(load)} promised",
                allowed=f"{_kg(reach[item])}, what {item} carries at its highest",
                why="the acceptance test as written cannot be run on the line as drawn",
                change=f"promise at most {_kg(reach[item])}, or size {item} "
                f"{100 * (load / reach[item] - 1):.0f} % larger",
                margin=load / reach[item],
            )
        )
    hours, given = 24.0 * point(promised.hours_per_day), case.inputs.run.hours_per_day
    if hours > given * (1 + 1e-6):
        found.append(
            Finding(
                key="case.promise_below_design",
                severity=Severity.CHANGE,
                item="D-301",
                got=f"{_kg(load)} promised",
                allowed=f"at least {_kg(load * hours / given)}, the peak week in {given:g} h/d",
                why=f"a machine that only keeps its promise needs {hours:.1f} h on an operating "
                "day of the peak week",
                change="take a larger frame or one machine more, allow longer hours, or accept a "
                "higher risk in the promise",
                margin=hours / given,
            )
        )
    return found


def _slow(case: Case) -> list[Finding]:
    """A press that runs slower than the peak week asks for."""
    running, design = point(case.solids_run), case.design_solids
    if running >= design * (1 - 1e-6):
        return []
    hours = 24.0 * point(case.cases.design.hours_per_day) * design / running
    return [
        Finding(
            key="case.design_not_pressed",
            severity=Severity.CHANGE,
            item="D-301",
            got=f"{_kg(running)}, the rate at which there is a cake",
            allowed=f"{_kg(design)}, the peak week in the hours given",
            why=f"at that rate the peak week takes {hours:.1f} h on an operating day",
            change="take a larger frame or one machine more, or allow longer hours",
            margin=design / running,
        )
    ]


def _worst(case: Case, tank: FeedTank) -> list[Finding]:
    worst, given = case.cases.worst_week, case.inputs.run.hours_per_day
    hours, found = 24.0 * point(worst.hours_per_day), []
    if hours > 24.0:
        found.append(
            Finding(
                key="case.worst_week_too_long",
                severity=Severity.CHANGE,
                item="D-301",
                got=f"{hours:.1f} h on an operating day in the worst week",
                allowed="24 h",
                why="the worst week cannot be pressed, however long the line runs",
                change="run on more days, take a larger frame, or agree where the rest goes",
                margin=hours / 24.0,
            )
        )
    elif hours > given * (1 + 1e-6):
        found.append(
            Finding(
                key="case.worst_week_longer",
                severity=Severity.CAUTION,
                item="D-301",
                got=f"{hours:.1f} h on an operating day in the worst week",
                allowed=f"{given:.1f} h, the hours given",
                why="one peak week in ten carries more than the line was sized for",
                change=f"allow {hours:.1f} h in such a week, or size for it",
                margin=hours / given,
            )
        )
    dead = case.book["tank_dead_share"] * tank.working_volume
    wanted = point(worst.weekly_volume) / case.design_week * tank.working_volume + dead
    if wanted > tank.volume * (1 + 1e-9):
        found.append(
            Finding(
                key="case.worst_week_tank",
                severity=Severity.CHANGE,
                item="T-101",
                got=f"{tank.volume:.0f} m3 runs over in the worst week",
                allowed=f"{wanted:.1f} m3, what the worst week fills",
                why="the tank runs over in the worst week",
                change=f"a tank of {wanted:.0f} m3, or longer hours in such a week",
                margin=wanted / tank.volume,
            )
        )
    return found
