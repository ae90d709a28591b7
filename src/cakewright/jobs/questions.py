"""What to ask or test next: inputs ranked by how much each widens the headline."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from functools import cache
from importlib.resources import files

import numpy as np

from cakewright.jobs.draws import StudyDraws
from cakewright.jobs.findings import Question
from cakewright.quantities import Figure, house_name
from cakewright.statistics.sensitivity import first_order_indices
from cakewright.study import Study, fields

__all__ = ["questions_of"]

_FEWEST_SAMPLES = 100
_LEAST_SHARE = 0.02
# What a decision hangs on; power and wash water enter through the cost.
_DECIDING = ("cake_solids", "capture", "run_hours_per_day", "cost_specific")


def questions_of(
    study: Study, draws: StudyDraws, headline: Sequence[Figure], machine: str, most: int = 10
) -> tuple[Question, ...]:
    """Uncertain inputs by the largest share of any headline figure's variance each carries.

    Empty when there are too few samples to tell.
    """
    varying = [
        f
        for f in headline
        if f.name in _DECIDING and f.samples.size > _FEWEST_SAMPLES and np.ptp(f.samples[1:]) > 0
    ]
    places = [place for place in draws.draws.uncertain if _concerns(place, machine)]
    if not varying or not places:
        return ()
    inputs = np.stack([draws[place][1:] for place in places], axis=1)
    shares = np.stack([first_order_indices(inputs, f.samples[1:]).first for f in varying])
    merged = _merged(places, shares)
    ranked = sorted(merged.items(), key=lambda item: -item[1].max())
    kept = [(place, share) for place, share in ranked if share.max() >= _LEAST_SHARE][:most]
    return tuple(
        _question(study, rank, place, share, varying)
        for rank, (place, share) in enumerate(kept, start=1)
    )


def _concerns(place: str, machine: str) -> bool:
    """A study value, a score common to all machines, or one of the chosen machine."""
    return (
        not (place.startswith("~") and "." in place)
        or place.endswith((machine, ".law"))
        or place.startswith(("~law.", "~press."))
    )


def _merged(places: Sequence[str], shares: np.ndarray) -> dict[str, np.ndarray]:
    """Common and own score of one published band are one question; so are all law scores."""
    found: dict[str, np.ndarray] = {}
    for place, share in zip(places, shares.T, strict=True):
        key = place.split(".")[0] if place.startswith("~") else place
        found[key] = found.get(key, np.zeros(len(share))) + np.clip(share, 0.0, 1.0)
    return found


def _question(
    study: Study, rank: int, place: str, share: np.ndarray, headline: Sequence[Figure]
) -> Question:
    widest = int(np.argmax(share))
    on = house_name(headline[widest].name).label
    label, ask = _words(study, place)
    percent = f"{100 * min(float(share[widest]), 1.0):.0f} %"
    return Question(
        rank=rank,
        name=label,
        where=place.removeprefix("~"),
        ask=ask,
        why=f"it carries {percent} of the variance of {on}",
        effect_on=headline[widest].name,
        share=min(float(share[widest]), 1.0),
    )


@cache
def _asks() -> Mapping[str, Mapping[str, str]]:
    text = files("cakewright.jobs").joinpath("data/asks.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


def _words(study: Study, place: str) -> tuple[str, str]:
    if place.startswith("~"):
        entry = _asks()[place.removeprefix("~")]
        return entry["label"], entry["ask"]
    parts = place.split(".")
    section = "origin" if len(parts) == 4 else parts[0]
    field = fields()[section][parts[-1]]
    label = house_name(field.name).label
    if parts[0] == "sludge":
        label = f"{label} of {study.word(f'sludge.{parts[1]}.name')}"
    ask = field.ask or f"Ask the site: {field.help[0].lower()}{field.help[1:]}"
    return label, f"{ask} Test: {field.test}." if field.test else ask
