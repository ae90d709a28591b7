"""What to ask or test next: inputs ranked by how much each widens the headline."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache

import numpy as np

from cakewright.jobs.draws import StudyDraws
from cakewright.jobs.finding_parts import Question
from cakewright.jobs.worth import PILOTED, DecisionValue, Knowing
from cakewright.machines import Kind, machine_types
from cakewright.quantities import Basis, Figure, Mark, house_name
from cakewright.quantities.tables import packaged_table
from cakewright.statistics.sensitivity import first_order_indices
from cakewright.study import Study, fields

__all__ = ["concerned", "questions_of", "score_label"]

_FEWEST_SAMPLES = 100
_LEAST_SHARE = 0.02
_LEAST_WORTH = 0.02
_MOST_PILOTS = 2
# Below this a share of variance is not worth a word beside what moves the choice.
_TOLD = 0.005
# What a decision hangs on; power and wash water enter through the cost.
_DECIDING = ("cake_solids", "capture", "run_hours_per_day", "cost_specific")


def concerned(draws: StudyDraws, machine: str) -> list[str]:
    """Uncertain places that can move the figures of one kind."""
    return [place for place in draws.draws.uncertain if _concerns(place, machine)]


def questions_of(
    study: Study,
    draws: StudyDraws,
    headline: Sequence[Figure],
    machine: str,
    value: DecisionValue | None = None,
    moving: Mapping[str, frozenset[str]] | None = None,
    most: int = 10,
) -> tuple[Question, ...]:
    """What to ask or test next: first what is worth most money, then what widens a figure most.

    ``moving`` are the places that can move each figure at all: others get no share of it, whatever
    few samples seem to say. Empty when there are too few samples to tell.
    """
    varying = [
        f
        for f in headline
        if f.name in _DECIDING and f.samples.size > _FEWEST_SAMPLES and np.ptp(f.samples[1:]) > 0
    ]
    places = concerned(draws, machine)
    if not varying or not places:
        return ()
    inputs = np.stack([draws[place][1:] for place in places], axis=1)
    shares = np.stack([first_order_indices(inputs, f.samples[1:]).first for f in varying])
    shares *= np.stack([_can_move(f.name, places, moving or {}) for f in varying])
    merged = _merged(places, shares)
    knowing = _worth_naming(value)
    none = np.zeros(len(varying))
    asked = {p: s for p, s in merged.items() if s.max() >= _LEAST_SHARE or p in knowing}
    asked |= {p: none for p in knowing if p not in asked}
    ranked = sorted(asked.items(), key=lambda item: _order(item[0], item[1], knowing))
    return tuple(
        _question(study, rank, place, share, varying, knowing.get(place))
        for rank, (place, share) in enumerate(ranked[:most], start=1)
    )


def _can_move(
    figure: str, places: Sequence[str], moving: Mapping[str, frozenset[str]]
) -> np.ndarray:
    """1 where a place can move a figure, else 0."""
    known = moving.get(figure)
    return np.array([1.0 if known is None or p in known else 0.0 for p in places])


def _worth_naming(value: DecisionValue | None) -> dict[str, Knowing]:
    """What is worth more than chance alone would show, and more than next to nothing of all."""
    if value is None:
        return {}
    least = max(_LEAST_WORTH * value.everything.value, value.noise)
    worthy = [item for item in value.knowing if item.perfect.value > least]
    pilots = [item for item in worthy if item.place.startswith("~pilot.")][:_MOST_PILOTS]
    return {x.place: x for x in worthy if x in pilots or not x.place.startswith("~pilot.")}


def _order(place: str, share: np.ndarray, knowing: Mapping[str, Knowing]) -> tuple[float, float]:
    item = knowing.get(place)
    return (-item.sample_worth if item else 0.0), -float(share.max())


def _concerns(place: str, machine: str) -> bool:
    """A study value, a score common to all machines, or one of the chosen machine."""
    return (
        not (place.startswith("~") and "." in place)
        or place.endswith((machine, ".law"))
        or place.startswith(("~law.", "~press."))
    )


def _merged(places: Sequence[str], shares: np.ndarray) -> dict[str, np.ndarray]:
    """Questions by what answers them.

    A bench test sees the sludge's common part of a band; the machine's own part of cake or capture
    is what a pilot of the kind tells. All law scores are one question, and so are the press's.
    """
    found: dict[str, np.ndarray] = {}
    for place, share in zip(places, shares.T, strict=True):
        key = _asked_by(place)
        found[key] = found.get(key, np.zeros(len(share))) + np.clip(share, 0.0, 1.0)
    return found


def _asked_by(place: str) -> str:
    if not place.startswith("~"):
        return place
    figure, _, machine = place.partition(".")
    if figure.removeprefix("~") in PILOTED and machine in [kind.value for kind in Kind]:
        return f"~pilot.{machine}"
    return figure


def _question(
    study: Study,
    rank: int,
    place: str,
    share: np.ndarray,
    headline: Sequence[Figure],
    item: Knowing | None,
) -> Question:
    widest = int(np.argmax(share))
    on = house_name(headline[widest].name).label
    label, ask = _words(study, place)
    part = min(float(share[widest]), 1.0)
    why = f"it carries {100 * part:.0f} % of the variance of {on}" if part > 0 else ""
    if part < _TOLD and item is not None:
        why = "it moves the choice between kinds"
    return Question(
        rank=rank,
        name=label,
        where=place.removeprefix("~"),
        ask=_with_replicates(ask, item),
        why=why,
        effect_on=headline[widest].name,
        share=part,
        worth=_worth(item),
        worth_error=2.0 * item.error if item else 0.0,
    )


def _with_replicates(ask: str, item: Knowing | None) -> str:
    if item is None or not item.by_replicates:
        return ask
    number = item.replicates
    words = "one result" if number == 1 else f"{number} independent results"
    verb = "gives" if number == 1 else "give"
    told = f"{words[0].upper()}{words[1:]} of this {verb} most of what it can tell."
    return f"{ask.rstrip('. ')}. {told}"


def _worth(item: Knowing | None) -> Figure | None:
    if item is None:
        return None
    if item.by_replicates:
        note = f"by {item.replicates} x {item.test}; known perfectly: {item.perfect.value:.3g}"
    else:
        note = "known perfectly; a real answer is worth less"
    error = 2.0 * item.error
    return Figure(
        "decision_worth",
        np.array([item.sample_worth]),
        Basis.ASSUMED,
        Mark.JUDGEMENT,
        "OWN",
        f"{note}; sampling error ± {error:.2g}",
    )


@cache
def _asks() -> Mapping[str, Mapping[str, str]]:
    return packaged_table("cakewright.jobs", "data", "asks.toml")


def score_label(place: str) -> str:
    """Words of a score: the sludge's common part, or the part a kind of machine has of its own."""
    key, _, machine = place.removeprefix("~").partition(".")
    label = _asks()[key]["label"] if key in _asks() else house_name(key).label
    if not machine or Kind(machine) not in machine_types():
        return label
    what = house_name(key).label if key in _HOUSE else label
    return f"{what}, {machine_types()[Kind(machine)].label} alone"


_HOUSE = ("cake_solids", "capture", "polymer_dose", "specific_energy", "wash_water_specific")


def _words(study: Study, place: str) -> tuple[str, str]:
    if place.startswith("~pilot."):
        kind = machine_types()[Kind(place.removeprefix("~pilot."))]
        entry = _asks()["pilot"]
        return entry["label"].format(kind=kind.label), entry["ask"].format(kind=kind.label)
    if place.startswith("~"):
        entry = _asks()[place.removeprefix("~")]
        return entry["label"], entry["ask"]
    parts = place.split(".")
    section = "origin" if len(parts) == 4 else parts[0]
    field = fields()[section][parts[-1]]
    label = house_name(field.name).label
    if parts[0] == "sludge":
        label = f"{label} of {study.word(f'sludge.{parts[1]}.name')}"
    # An abbreviation at the start (VSS, BOD) keeps its capitals.
    first = field.help[:2].lower() if field.help[1:2].islower() else field.help[:2]
    ask = field.ask or f"Ask the site: {first}{field.help[2:]}"
    return label, f"{ask} Test: {field.test}." if field.test else ask
