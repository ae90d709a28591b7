"""An offer's cake and capture moved from its test to the site by the sludge law.

Both ends are pressed on the same samples of law and machine and the same frame of the catalogue.
The stated figure is then read as one more measurement of the machine, made in the test: on this
sludge it moves the answer on the site nearly one for one, on another sludge hardly at all.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from cakewright.jobs.chain import other_draws
from cakewright.jobs.draws import StudyDraws, study_draws
from cakewright.jobs.options import duty_of, load_of, options_of
from cakewright.jobs.prediction import law_scores
from cakewright.jobs.pressed import pressed_of
from cakewright.jobs.streams import feed_of
from cakewright.machines import Frame, Kind, Plan, machine_types
from cakewright.machines import machine as machine_of
from cakewright.machines.outcome import least_margin_of, taken_of
from cakewright.machines.press_priors import parameter_priors
from cakewright.machines.pressed import LAW_SCORES, Pressed
from cakewright.machines.pressing_path import PathResult, PathStatus, PressedSludge, PressLoad
from cakewright.physics.solids import density_solids
from cakewright.quantities import FloatArray
from cakewright.sludge import Feed, RunLoad
from cakewright.sludge.law import SludgeLaw
from cakewright.study import Study

__all__ = ["Ends", "LawGround", "Moved", "figure_on_site", "law_ground", "moved_by_law"]

_SAMPLES = 120
_LEAST_ANSWERED = 0.5
_MOVED = ("cake_solids", "capture")


@dataclass(frozen=True, slots=True)
class Ends:
    """Conditions of one end, point values in SI.

    ``dose`` None: the optimum of that sludge, or on the site what is offered in proportion to it.
    ``load_share`` is the load over the machine's rated throughput, ``speed`` that of the screw.
    """

    total_solids: float
    ash: float
    temperature: float
    dose: float | None
    load_share: float
    speed: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Moved:
    """What the law says of the way from the test to the site.

    ``lines`` holds per figure the samples of both ends on the logit line, test first, sample 0 the
    point case; empty where a path has no answer, and ``why`` then says what stops it. ``steps`` is
    the cake [1] that each condition moves alone, ``dose_ratio`` the site's optimum dose over the
    test's.
    """

    lines: Mapping[str, tuple[FloatArray, FloatArray]]
    steps: Mapping[str, float]
    dose_ratio: FloatArray
    frame: str
    why: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class LawGround:
    """Samples that every offer is moved on."""

    study: Study
    draws: StudyDraws
    feed: Feed
    load: RunLoad
    law: SludgeLaw | None
    frames: tuple[Frame, ...]


def law_ground(study: Study, law: SludgeLaw | None, frames: tuple[Frame, ...]) -> LawGround:
    """Samples of the site, of the law and of every kind's parameters."""
    some = replace(study, words={**study.words, "sampling.samples": _SAMPLES})
    kinds = tuple(machine_types())
    names = tuple(kind.value for kind in kinds)
    draws = study_draws(some, names, _ENVELOPE, law_scores(kinds))
    feed = feed_of(some, draws)
    return LawGround(some, draws, feed, load_of(draws, feed), law, frames)


_ENVELOPE = ("cake_solids", "capture", "polymer_dose", "specific_energy", "wash_water_specific")


def moved_by_law(
    ground: LawGround,
    kind: Kind,
    test: Ends,
    site: Ends,
    tested: Feed | None = None,
    offered: float | None = None,
) -> Moved:
    """The way from ``test`` to ``site``; ``tested`` is the other sludge of the test, if it was one.

    The other sludge is drawn from the prior of its class, apart from the site's. ``offered`` is
    the dose offered on it, used on the site in proportion to the optimum.
    """
    plan = _plan(ground, kind)
    none = np.ones(1)
    if plan is None:
        return Moved({}, {}, none, "", "the catalogue has no frame of this kind for the load")
    if not machine_of(kind).predictable(plan.frame):
        return Moved({}, {}, none, plan.frame.name, "the catalogue gives no screw of this kind")
    there = _sludge(ground, test, site, tested)
    here = _sludge(ground, site, site, None)
    ratio = np.asarray(here.values["optimum_dose"] / there.values["optimum_dose"])
    if site.dose is None and offered is not None:
        here = _sludge(ground, site, site, None, offered * ratio)
    alone = _alone(ground, test, site, tested, here.dose)
    ends = [(test, there), (site, here), *alone.values()]
    result = _pressed(ground, plan, ends)
    size, name = ground.draws.size, plan.frame.name
    answered = result.answered[:size] & result.answered[size : 2 * size]
    if not answered[0] or np.mean(answered) < _LEAST_ANSWERED:
        return Moved({}, {}, ratio, name, _stopped(result, size, name))
    lines = {key: _lines(getattr(result, key), answered, size) for key in _MOVED}
    return Moved(lines, _steps(result, size, list(alone)), ratio, name)


def figure_on_site(
    stated: float,
    lines: tuple[FloatArray, FloatArray],
    model_error: float,
    test_error: float,
    seed: int,
) -> tuple[FloatArray, float]:
    """Samples of a stated share on the site, sample 0 the point, and the weight of the statement.

    The best linear estimate: ``model_error`` is how far a machine may stand from the path of its
    kind at both ends alike, ``test_error`` that of carrying the test over, both on the logit line.
    """
    test, site = lines
    normals = np.random.default_rng(seed).standard_normal((2, test.size))
    normals[:, 0] = 0.0
    own, error = model_error * normals[0], test_error * normals[1]
    both = np.cov(test[1:], site[1:])
    weight = (both[0, 1] + model_error**2) / (both[0, 0] + model_error**2 + test_error**2)
    line = site + own + weight * (np.log(stated / (1.0 - stated)) + error - test - own)
    return 1.0 / (1.0 + np.exp(-line)), float(weight)


def _plan(ground: LawGround, kind: Kind) -> Plan | None:
    """The frame of the catalogue that stands for the machine offered."""
    one = replace(ground.study, words={**ground.study.words, "machines.kinds": (kind.value,)})
    duty = duty_of(one, ground.draws)
    options = options_of(one, ground.draws, ground.feed, ground.load, duty, ground.frames)
    return options[0].plan


def _sludge(
    ground: LawGround, at: Ends, site: Ends, other: Feed | None, dose: FloatArray | None = None
) -> Pressed:
    """The law at the conditions of one end: dose, temperature, and density by its ash."""
    size = ground.draws.size
    if dose is None and at.dose is not None:
        dose = np.full(size, at.dose)
    warm = np.full(size, at.temperature)
    if other is not None:
        apart = _apart(ground)
        return pressed_of(apart, _with(other, temperature=warm), None, dose)
    found = pressed_of(ground.draws, _with(ground.feed, temperature=warm), ground.law, dose)
    factor = float(density_solids(at.ash) / density_solids(site.ash))
    dense = found.sludge.solids_density * factor
    return replace(found, sludge=replace(found.sludge, solids_density=dense))


def _apart(ground: LawGround) -> StudyDraws:
    """Scores of a law of its own: the same ones in another order, the point case kept."""
    size = ground.draws.size
    order = np.random.default_rng(ground.draws.draws.seed).permutation(size - 1) + 1
    names = [f"~law.{i}" for i in range(LAW_SCORES)]
    mixed = {n: np.concatenate(([0.0], ground.draws[n][order])) for n in names}
    return other_draws(ground.draws, mixed, size)


def _with(feed: Feed, **arrays: Any) -> Feed:
    """A feed whose mix has other arrays (``Any``: fields of `Sludge` differ in type)."""
    return replace(feed, mix=replace(feed.mix, **arrays))


def _alone(
    ground: LawGround, test: Ends, site: Ends, tested: Feed | None, dose: FloatArray
) -> dict[str, tuple[Ends, Pressed]]:
    """The test with one condition after another as on the site."""
    names = ("total_solids", "temperature", "load_share", "speed")
    changed = [n for n in names if getattr(test, n) != getattr(site, n)]
    ends = {name: replace(test, **{name: getattr(site, name)}) for name in changed}
    found = {name: (one, _sludge(ground, one, site, tested)) for name, one in ends.items()}
    if tested is not None:
        own = replace(test, ash=site.ash)
        return found | {"sludge": (own, _sludge(ground, own, site, None, dose))}
    if test.ash != site.ash:
        found["ash"] = (test, _sludge(ground, replace(test, ash=site.ash), site, None))
    if site.dose is not None and test.dose != site.dose:
        found["dose"] = (test, _sludge(ground, replace(test, dose=site.dose), site, None))
    return found


def _pressed(ground: LawGround, plan: Plan, ends: list[tuple[Ends, Pressed]]) -> PathResult:
    """Every end over all samples, one after another, in one run."""
    rated = float(np.ravel(plan.capacity.dry_solids_flow)[0])
    size, count = ground.draws.size, len(ends)
    names = PressedSludge.__dataclass_fields__
    law = {n: _joined([_wide(getattr(p.sludge, n), size) for _, p in ends]) for n in names}
    columns = {
        "dry_solids_flow": _joined([np.full(size, rated * e.load_share) for e, _ in ends]),
        "feed_solids": _joined([np.full(size, e.total_solids) for e, _ in ends]),
        "fines_share": _joined([_wide(p.fines_share, size) for _, p in ends]),
        "oil_share": np.tile(np.minimum(_wide(ground.feed.mix.oil, size), 1.0), count),
    }
    priors = parameter_priors(plan.frame.machine)
    machine = {n: p.at(ground.draws.score(f"~press.{n}")) for n, p in priors.items()}
    machine = {n: np.tile(_wide(v, size), count) for n, v in machine.items()}
    kind, frame = machine_of(plan.frame.machine), plan.frame
    sludge, load = PressedSludge(**law), PressLoad(**columns)
    if not kind.has_operating_map:
        return kind.operated(frame, sludge, load, machine)
    # One setting per sample for all ends; an end whose speed is stated runs at that speed.
    speeds = np.concatenate([np.full(size, e.speed or np.nan) for e, _ in ends])
    tried = kind.tried(frame, sludge, load, machine, {"speed": speeds})
    return _driest(tried, (count, size), float(kind.window()["least_margin"]))


def _joined(rows: list[FloatArray]) -> FloatArray:
    return np.concatenate(rows)


def _wide(values: FloatArray | float, size: int) -> FloatArray:
    return np.array(np.broadcast_to(values, (size,)), dtype=float)


def _driest(tried: list[PathResult], shape: tuple[int, int], margin: float) -> PathResult:
    """Per sample the setting with the driest cake on the site that test and site both stand.

    ``shape`` is ends and samples: one setting serves all ends of a sample.
    """
    cake = np.stack([one.cake_solids.reshape(shape) for one in tried])
    least = np.stack([least_margin_of(one).reshape(shape) for one in tried])
    answered = np.stack([one.answered.reshape(shape) for one in tried])
    clear, stands = least[:, :2].min(axis=1) >= margin, answered[:, :2].all(axis=1)
    score = np.where(stands, np.nan_to_num(cake[:, 1]) + np.where(clear, 2.0, 1.0), 0.0)
    best = np.tile(np.argmax(score, axis=0), shape[0])
    return taken_of(tried, best)


def _lines(
    values: FloatArray, answered: npt.NDArray[np.bool_], size: int
) -> tuple[FloatArray, FloatArray]:
    """Test and site on the logit line, over the samples that both have an answer for."""
    ends = np.clip(values[: 2 * size].reshape(2, size)[:, answered], 1e-4, 1.0 - 1e-6)
    line = np.log(ends / (1.0 - ends))
    return line[0], line[1]


def _steps(result: PathResult, size: int, names: list[str]) -> dict[str, float]:
    cake = result.cake_solids
    found = {name: float(cake[(2 + i) * size] - cake[0]) for i, name in enumerate(names)}
    return {name: step for name, step in found.items() if np.isfinite(step)}


def _stopped(result: PathResult, size: int, frame: str) -> str:
    """Which end has no cake, and the limit that stops it."""
    for where, at in (("under the conditions of the test", 0), ("on the site", size)):
        status = PathStatus(int(result.status[at]))
        if status is not PathStatus.ANSWER:
            return f"by the law frame {frame} has no cake {where} ({status.words.split(';')[0]})"
    return f"by the law frame {frame} has no cake in most samples"
