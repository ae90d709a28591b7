"""How large: frames and shafts of the chosen kind, priced with the sludge they cannot take."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cakewright.economics import overload_share, present_worth_annuity
from cakewright.jobs.bill import Bill
from cakewright.jobs.choice import Priced
from cakewright.jobs.money import Sampled, life_years, package_of, rates_of
from cakewright.machines import Frame, Plan
from cakewright.machines.sizing import RULED_OUT
from cakewright.quantities import FloatArray
from cakewright.quantities.constants import YEAR
from cakewright.sludge import Feed, RunLoad
from cakewright.statistics import Worth, chance_best, value_perfect_information
from cakewright.study import Study

__all__ = ["Size", "SizeFindings", "sizes_of"]

_MOST = 8
_USE = (0.4, 1.4)
_FEWEST = 64


@dataclass(frozen=True, slots=True, eq=False)
class Size:
    """One size: its yearly cost of owning, what it cannot take, and both as present worth.

    ``use`` is the share of capacity the design week takes; ``short`` the chance that it takes more
    than all.
    """

    frame: str
    machines: int
    shafts: int
    chosen: bool
    use: FloatArray
    short: float
    overload: FloatArray
    net_cost: FloatArray
    chance_best: float


@dataclass(frozen=True, slots=True, eq=False)
class SizeFindings:
    """Sizes from small to large; ``cheapest`` is the one with the lowest expected cost."""

    sizes: tuple[Size, ...]
    cheapest: str
    knowing: Worth | None


def sizes_of(study: Study, draws: Sampled, feed: Feed, load: RunLoad, best: Priced) -> SizeFindings:
    """Sizes of the chosen kind near the load, each with the cost of being too small."""
    plans = sorted(_candidates(best, load), key=lambda p: -_use(p, load)[0])[:_MOST]
    if not any(_same(plan, best.plan) for plan in plans):
        plans.append(best.plan)
    costs = [_net_cost(study, draws, feed, load, best.bill, plan) for plan in plans]
    nets = np.stack([cost for _, cost in costs], axis=1)
    enough = len(nets) > _FEWEST
    chances = chance_best(-nets[1:]) if enough else np.zeros(len(plans))
    sizes = tuple(
        _size(plan, load, overload, net, float(chance), chosen=_same(plan, best.plan))
        for plan, (overload, net), chance in zip(plans, costs, chances, strict=True)
    )
    expected = [float(np.mean(size.net_cost[1:] if enough else size.net_cost)) for size in sizes]
    lowest = sizes[int(np.argmin(expected))]
    knowing = value_perfect_information(-nets[1:]) if enough else None
    return SizeFindings(sizes, _name(lowest.frame, lowest.machines), knowing)


def _name(frame: str, machines: int) -> str:
    return frame if machines == 1 else f"{machines} × {frame}"


def _same(one: Plan, other: Plan) -> bool:
    return (one.frame.name, one.machines) == (other.frame.name, other.machines)


def _candidates(best: Priced, load: RunLoad) -> list[Plan]:
    """Frames of the kind with as many machines as chosen, or one fewer, that are near the load.

    Without a cake by the tests on one size there is none on less of it either.
    """
    out = [_taken(plan) for plan in best.option.plans if plan.binding == RULED_OUT]
    counts = sorted({best.plan.machines, max(1, best.plan.machines - 1)})
    frames: list[Frame] = []
    found: list[Plan] = []
    for plan in best.option.plans:
        if plan.frame in frames or plan.binding in ("floor area", "cycle", RULED_OUT):
            continue
        frames.append(plan.frame)
        found += [
            Plan(plan.frame, True, count, 0, plan.binding, "", {}, plan.capacity)
            for count in counts
        ]
    near = [plan for plan in found if _USE[0] <= _use(plan, load)[0] <= _USE[1]]
    return [plan for plan in near if _taken(plan) > max(out, default=0.0)]


def _taken(plan: Plan) -> float:
    """Dry solids all machines of a plan take by the catalogue. [kg/s]"""
    return float((plan.machines - plan.standby) * np.ravel(plan.capacity.dry_solids_flow)[0])


def _use(plan: Plan, load: RunLoad) -> FloatArray:
    solids = load.design_dry_solids_flow / plan.capacity.dry_solids_flow
    water = load.design_volume_flow / plan.capacity.volume_flow
    return np.asarray(np.maximum(solids, water) / plan.machines)


def _net_cost(
    study: Study, draws: Sampled, feed: Feed, load: RunLoad, bill: Bill, plan: Plan
) -> tuple[FloatArray, FloatArray]:
    """Sludge of a year it cannot take, and the present worth of owning it and of that sludge."""
    capital = package_of(study, plan, draws)
    years, rate = life_years(draws), rates_of(study, draws)[0]
    factor = present_worth_annuity(rate, float(years))
    grown = (draws["prices.installation"] + bill.indirect) * (1.0 + bill.on_top)
    bought = capital * (grown + draws["prices.spares"])
    upkeep = capital * draws["prices.maintenance"] * factor
    peak = np.maximum(load.peak_factor, 1.0)
    short = overload_share(_use(plan, load) / peak, peak) * feed.mix.volume_flow * YEAR
    return short, np.asarray(bought + upkeep + short * draws["decision.overload_price"] * factor)


def _size(
    plan: Plan,
    load: RunLoad,
    overload: FloatArray,
    net: FloatArray,
    chance: float,
    *,
    chosen: bool,
) -> Size:
    use = _use(plan, load)
    drawn = use[1:] if use.size > 1 else use
    return Size(
        frame=plan.frame.name,
        machines=plan.machines,
        shafts=plan.shafts,
        chosen=chosen,
        use=use,
        short=float(np.mean(drawn > 1.0)),
        overload=overload,
        net_cost=net,
        chance_best=chance,
    )
