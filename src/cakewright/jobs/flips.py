"""What would turn the answer: inputs that alone bring the runner-up level, and by how much."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from cakewright.jobs.choice import Choice, Priced
from cakewright.jobs.finding_parts import Flip, Miss, RunnerUp
from cakewright.jobs.money import PointDraws, Sampled, money_of, point_year
from cakewright.machines import Answer, Verdict
from cakewright.machines.suitability import CONDITION
from cakewright.study import Study

__all__ = ["flips_of", "misses_of", "runner_up_of"]

_PLACES = (
    "prices.disposal",
    "outlet.distance",
    "prices.polymer",
    "prices.power",
    "prices.labour",
    "prices.water",
    "prices.filtrate",
    "prices.ferric",
    "prices.lime",
    "prices.installation",
    "prices.maintenance",
)
_MOST = 3
# An input that would have to change more than fourfold is not told: it would not happen alone.
_FARTHEST = 4.0
_FARTHEST_CAKE = 1.6
_TARGETS = ("cake_solids", "capture")
_DUTY = ("unattended_hours", "sound_level", "count", "footprint")


def runner_up_of(choice: Choice) -> RunnerUp | None:
    """The next kind, in money."""
    best, rival = choice.best, choice.runner_up
    if rival is None:
        return None
    mine, other = best.net_specific, rival.net_specific
    chance = float(np.mean(other[1:] < mine[1:])) if mine.size > 1 else float(other[0] < mine[0])
    return RunnerUp(
        rival.option.key, rival.option.kind.label, rival.expected - best.expected, chance
    )


def flips_of(study: Study, draws: Sampled, choice: Choice) -> tuple[Flip, ...]:
    """The inputs that need the least change for the runner-up to be ahead, nearest first.

    Costs are straight lines in prices and distance; in a cake they are in its inverse. What missed
    targets cost is kept as it is.
    """
    rival = choice.runner_up
    if rival is None:
        return ()
    found = [*_prices(study, draws, choice.best, rival), *_cakes(study, draws, choice.best, rival)]
    near = [f for f in found if abs(math.log(f.then / f.now)) < math.log(_farthest(f))]
    return tuple(sorted(near, key=lambda f: abs(math.log(f.then / f.now)))[:_MOST])


def _farthest(flip: Flip) -> float:
    return _FARTHEST_CAKE if flip.name == "cake_solids" else _FARTHEST


def _gap(best: Priced, rival: Priced) -> float:
    return rival.expected - best.expected


def _care(study: Study, priced: Priced) -> float:
    care = priced.option.answer is not Answer.SUITS
    return 1.0 + (study.value("decision.care_premium") if care else 0.0)


def _costs(study: Study, draws: Sampled, priced: Priced, place: str, pair: np.ndarray) -> float:
    """What a step of one input adds to the net cost of a kind, point case."""
    here = PointDraws(draws, {place: pair})
    cost = money_of(study, priced.bill, point_year(priced.yearly, 2), here).per_dry_solids
    return _care(study, priced) * float(cost[1] - cost[0])


def _prices(study: Study, draws: Sampled, best: Priced, rival: Priced) -> Iterator[Flip]:
    for place in _PLACES:
        given = study.given(place)
        now = float(draws[place][0]) if given is not None else 0.0
        if given is None or not now > 0.0:
            continue
        pair = np.array([now, 1.5 * now])
        step = _costs(study, draws, rival, place, pair) - _costs(study, draws, best, place, pair)
        if step:
            then = now - _gap(best, rival) * 0.5 * now / step
            if then > 0.0:
                yield Flip(place, given.name, now, then)


def _cakes(study: Study, draws: Sampled, best: Priced, rival: Priced) -> Iterator[Flip]:
    """How wet the chosen cake, or how dry the rival's, would have to be."""
    for priced, sign in ((best, 1.0), (rival, -1.0)):
        now = float(priced.yearly.cake_solids[0])
        wetter = np.array([now, 0.8 * now])
        place = {"outlet.distance": np.full(2, float(draws["outlet.distance"][0]))}
        cake = priced.yearly.cake[0] * now / wetter
        yearly = point_year(priced.yearly, 2, cake=cake, cake_solids=wetter)
        cost = money_of(study, priced.bill, yearly, PointDraws(draws, place)).per_dry_solids
        step = _care(study, priced) * float(cost[1] - cost[0])
        if step <= 0.0:
            continue
        inverse = 1.0 / now + sign * _gap(best, rival) / step * (1.0 / wetter[1] - 1.0 / now)
        if inverse > 1.0:
            yield Flip(
                f"cake of the {priced.option.kind.label}", "cake_solids", now, float(1.0 / inverse)
            )


def misses_of(choice: Choice) -> tuple[Miss, ...]:
    """What the nearest answer misses, and what would be enough; empty where it meets all."""
    if choice.meets:
        return ()
    verdicts = choice.option.verdicts
    return tuple(_miss(choice.best, v) for v in verdicts if v.answer is Answer.DOES_NOT_SUIT)


def _miss(best: Priced, verdict: Verdict) -> Miss:
    if verdict.name in _TARGETS:
        figure = best.option.performance[verdict.name]
        # A condition is met from the typical cake on, a wish from the best tenth.
        most = figure.point if verdict.rule == CONDITION else figure.band.p90
        enough, change = most, "ask"
    elif verdict.name == "count":
        enough, change = verdict.value, "frames"
    elif verdict.name in _DUTY:
        enough, change = verdict.limit, "duty"
    elif verdict.name in ("total_solids", "ph", "oil_share", "fibre_share", "grit_share"):
        enough, change = verdict.limit, "feed"
    else:
        enough, change = verdict.limit, "kind"
    known = verdict.name == "limit_margin" or not np.isfinite(enough)
    return Miss(
        verdict.rule,
        verdict.text,
        verdict.name,
        verdict.value,
        verdict.limit,
        None if known else float(enough),
        change,
    )
