"""What it is worth, in money, to know more before choosing the kind of machine."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np

from cakewright.jobs.draws import COMMON_SHARE, StudyDraws
from cakewright.quantities import FloatArray
from cakewright.quantities.tables import packaged_table
from cakewright.statistics import (
    Worth,
    chance_best,
    value_partial_information,
    value_perfect_information,
    value_sample_information,
)
from cakewright.study import Study

__all__ = ["PILOTED", "DecisionValue", "Knowing", "value_of_decision"]

_FEWEST = 64
_REPLICATES = (1, 2, 3, 5, 8)
_MOST_TESTS = 6
# A test is worth repeating until this share of what repeating can give is reached.
_ENOUGH = 0.9
PILOTED = ("cake_solids", "capture")
_SHUFFLES = 40


@dataclass(frozen=True, slots=True, eq=False)
class Knowing:
    """Worth of knowing one thing: perfectly, and by a test with so many replicates.

    ``by_replicates`` is empty where no test with a known error answers it; ``replicates`` is the
    number after which more of them add little.
    """

    place: str
    perfect: Worth
    test: str = ""
    by_replicates: tuple[tuple[int, float], ...] = ()
    replicates: int = 0
    sample_error: float = 0.0

    @property
    def error(self) -> float:
        """Standard error of `sample_worth` from the number of samples."""
        return self.sample_error if self.by_replicates else self.perfect.standard_error

    @property
    def sample_worth(self) -> float:
        """Worth of the test at the recommended number; the perfect worth where there is none."""
        return dict(self.by_replicates).get(self.replicates, self.perfect.value)


@dataclass(frozen=True, slots=True, eq=False)
class DecisionValue:
    """Net benefit of every kind over samples (point left out) and what knowing is worth.

    ``today`` is the kind that is best on what is known; ``everything`` the worth of knowing all;
    ``noise`` the most that any of forty inputs without bearing would seem to be worth, by chance.
    """

    machines: tuple[str, ...]
    benefit: FloatArray
    chance: tuple[float, ...]
    today: str
    everything: Worth
    knowing: tuple[Knowing, ...]
    noise: float


@cache
def _tests() -> Mapping[str, Mapping[str, Any]]:
    return packaged_table("cakewright.jobs", "data", "tests.toml")


def value_of_decision(
    study: Study,
    draws: StudyDraws,
    machines: Sequence[str],
    benefit: FloatArray,
    places: Sequence[str],
    spread: Mapping[str, float],
) -> DecisionValue | None:
    """Worth of knowing everything, each place, a pilot of each kind, and each test.

    ``benefit`` is (samples, kinds) without the point case; ``spread`` the relative spread of each
    banded figure of the chosen kind, in which a test's error is measured. None with too few
    samples.
    """
    if len(benefit) < _FEWEST:
        return None
    known = [Knowing(p, value_partial_information(benefit, draws[p][1:])) for p in places]
    known += [_pilot(draws, benefit, machine) for machine in machines]
    known.sort(key=lambda item: -item.perfect.value)
    known = [
        _tested(study, draws, benefit, item, spread) if rank < _MOST_TESTS else item
        for rank, item in enumerate(known)
    ]
    return DecisionValue(
        machines=tuple(machines),
        benefit=benefit,
        chance=tuple(float(x) for x in chance_best(benefit)),
        today=machines[int(benefit.mean(axis=0).argmax())],
        everything=value_perfect_information(benefit),
        knowing=tuple(known),
        noise=_noise(benefit, draws.draws.seed),
    )


def _noise(benefit: FloatArray, seed: int) -> float:
    generator = np.random.default_rng(seed)
    found = [
        value_partial_information(benefit, generator.permutation(len(benefit)).astype(float)).value
        for _ in range(_SHUFFLES)
    ]
    return max(found)


def _pilot(draws: StudyDraws, benefit: FloatArray, machine: str) -> Knowing:
    """A pilot tells what is the machine's own and, since it presses this sludge, the sludge's."""
    scores = [draws.machine_score(figure, machine)[1:] for figure in PILOTED]
    return Knowing(
        f"~pilot.{machine}", value_partial_information(benefit, np.stack(scores, axis=1))
    )


def _tested(
    study: Study,
    draws: StudyDraws,
    benefit: FloatArray,
    item: Knowing,
    spread: Mapping[str, float],
) -> Knowing:
    if item.place.startswith("~pilot."):
        return item
    name, truth, scale = _measured(study, draws, item.place, spread)
    if name not in _tests() or scale <= 0.0 or item.perfect.value <= 0.0:
        return item
    row = _tests()[name]
    # The same simulated errors for every number of replicates: differences are not chance.
    found = {
        count: value_sample_information(
            benefit,
            truth,
            row["repeatability"] / scale,
            count,
            row["bias"] / scale,
            draws.draws.seed,
            4,
        )
        for count in _REPLICATES
    }
    values = tuple((count, worth.value) for count, worth in found.items())
    most = max(worth for _, worth in values)
    if most <= 0.0:
        return item
    enough = next(count for count, worth in values if worth >= _ENOUGH * most)
    error = found[enough].standard_error
    return Knowing(item.place, item.perfect, row["test"], values, enough, error)


def _measured(
    study: Study, draws: StudyDraws, place: str, spread: Mapping[str, float]
) -> tuple[str, FloatArray, float]:
    """Name of what is measured, its true value in each sample, and the scale of its errors."""
    if place.startswith("~"):
        # A bench test sees the sludge's share of the deviation, as a score of unit spread.
        name = place.removeprefix("~")
        return name, draws[place][1:], np.sqrt(COMMON_SHARE) * spread.get(name, 0.0)
    point = abs(float(draws[place][0]))
    given = study.given(place)
    return (given.name if given else ""), draws[place][1:] / (point or 1.0), 1.0
