"""Suitability: does this kind of machine suit this feed and duty, and why."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

import numpy as np

from cakewright.machines.envelope import envelope
from cakewright.machines.interface import Answer, Duty, Kind, Performance, Verdict
from cakewright.machines.registry import data_of
from cakewright.quantities import Basis, Figure, Mark
from cakewright.sludge import Feed

__all__ = ["Limit", "Rule", "rules", "verdicts_tabled", "verdicts_target"]

_OF_FEED = {
    "total_solids": "total_solids",
    "ash_share": "ash",
    "oil_share": "oil",
    "fibre_share": "fibre",
    "grit_share": "grit",
    "chloride": "chloride",
    "ph": "ph",
    "dry_solids_flow": "dry_solids_flow",
}
CAKE_OWN = "cake_own_solids"
"""Sludge solids per wet cake: what a target counts that leaves the chemicals out."""
_TARGETS = {
    "cake_solids": "cake_target",
    "capture": "capture_target",
    "sound_level": "noise_limit",
}


@dataclass(frozen=True, slots=True)
class Limit:
    """One limit of a rule: SI number, the words said past it, and where it is from."""

    limit: float
    text: str
    basis: Basis
    source: str
    mark: Mark


@dataclass(frozen=True, slots=True)
class Rule:
    """One row of the table: quantity, side on which trouble lies, up to two limits."""

    machine: Kind
    key: str
    quantity: str
    above: bool
    suits: Limit
    care: Limit | None
    refuse: Limit | None

    def verdict(self, value: float) -> Verdict:
        """Answer for one value."""
        for answer, limit in (
            (Answer.DOES_NOT_SUIT, self.refuse),
            (Answer.WITH_CARE, self.care),
        ):
            if limit is not None and self._past(value, limit.limit):
                return self._said(answer, value, limit, limit.limit)
        nearest = next((x.limit for x in (self.care, self.refuse) if x is not None), value)
        return self._said(Answer.SUITS, value, self.suits, nearest)

    def _past(self, value: float, limit: float) -> bool:
        return value > limit if self.above else value < limit

    def _said(self, answer: Answer, value: float, said: Limit, limit: float) -> Verdict:
        return Verdict(
            rule=self.key,
            answer=answer,
            text=said.text,
            name=self.quantity,
            value=value,
            limit=limit,
            basis=said.basis,
            source=said.source,
            mark=said.mark,
        )


def _limit(entry: Mapping[str, Any] | None) -> Limit | None:
    if entry is None:
        return None
    return Limit(
        limit=float(entry.get("limit", np.inf)),
        text=entry["text"],
        basis=Basis(entry["basis"]),
        source=entry["source"],
        mark=Mark(entry["mark"]),
    )


@cache
def rules() -> tuple[Rule, ...]:
    """Every tabled rule, kind by kind."""
    return tuple(_rule(kind, row) for kind in Kind for row in _rows(kind))


def _rows(kind: Kind) -> tuple[Mapping[str, Any], ...]:
    return tuple(data_of(kind, "suitability.toml").get("rule", ()))


def _rule(kind: Kind, row: Mapping[str, Any]) -> Rule:
    suits = _limit(row["suits"])
    if suits is None:
        raise KeyError("suits")
    return Rule(
        machine=kind,
        key=row["key"],
        quantity=row["quantity"],
        above=row["side"] == "above",
        suits=suits,
        care=_limit(row.get("care")),
        refuse=_limit(row.get("refuse")),
    )


def verdicts_tabled(kind: Kind, feed: Feed, duty: Duty) -> tuple[Verdict, ...]:
    """Answers of every tabled rule for the point case."""
    return tuple(
        rule.verdict(_value(rule.quantity, feed, duty)) for rule in rules() if rule.machine is kind
    )


def verdicts(
    kind: Kind, feed: Feed, duty: Duty, performance: Performance | None = None
) -> tuple[Verdict, ...]:
    """Every rule's answer for the point case.

    What the kind reaches comes from ``performance`` where it is given with samples, else from the
    published envelope.
    """
    if performance is not None and duty.own_solids and CAKE_OWN in performance.figures:
        own = replace(performance[CAKE_OWN], name="cake_solids")
        performance = performance.replaced(own)
    typical, low, high = _three(kind, feed, duty, performance)
    return (*verdicts_tabled(kind, feed, duty), *verdicts_target(duty, typical, low, high))


def _three(
    kind: Kind, feed: Feed, duty: Duty, performance: Performance | None
) -> tuple[Performance, Performance, Performance]:
    names = [name for name, target in _TARGETS.items() if getattr(duty, target) is not None]
    figures = performance.figures.values() if performance else ()
    given = {f.name: f for f in figures if f.name in names and f.exists}
    spread = [figure for figure in given.values() if figure.samples.size > 1]
    lows = [replace(f, samples=np.array([f.band.p10])) for f in spread]
    highs = [replace(f, samples=np.array([f.band.p90])) for f in spread]
    # The envelope is asked only for what nobody gave: it is most of the work.
    loose = [name for name in names if name not in given]
    unspread = [name for name in names if all(f.name != name for f in spread)]
    return (
        envelope(kind, feed, duty, 0.5, loose).replaced(*given.values()),
        envelope(kind, feed, duty, 0.1, unspread).replaced(*lows),
        envelope(kind, feed, duty, 0.9, unspread).replaced(*highs),
    )


def _value(quantity: str, feed: Feed, duty: Duty) -> float:
    if quantity in _OF_FEED:
        return float(getattr(feed.mix, _OF_FEED[quantity])[0])
    return float(np.atleast_1d(np.asarray(getattr(duty, quantity), float))[0])


def verdicts_target(
    duty: Duty, typical: Performance, low: Performance, high: Performance
) -> tuple[Verdict, ...]:
    """Answers on what was asked for: cake, capture, noise; one each where the duty asks.

    ``low`` and ``high`` hold the 10 and 90 % points of each figure.
    """
    found = []
    for name, target, words in (
        ("cake_solids", duty.cake_target, _CAKE),
        ("capture", duty.capture_target, _CAPTURE),
    ):
        if target is not None:
            asked = float(np.atleast_1d(np.asarray(target, float))[0])
            must = name == "cake_solids" and duty.cake_condition
            found.append(_reaches(name, asked, typical[name], high[name], words, must=must))
    if duty.noise_limit is not None:
        found.append(_quiet(duty.noise_limit, typical["sound_level"], low["sound_level"]))
    return tuple(found)


_CAKE = (
    "cake wanted",
    "The cake wanted is typical for this kind on this sludge.",
    "The cake wanted is drier than typical and needs a good sludge: prove it by bench or pilot.",
    "The cake wanted is drier than nine in ten results of this kind on this sludge.",
)
CONDITION = "cake condition"
"""Rule of a cake that the outlet makes a condition."""
_MUST = (
    "The outlet turns wetter cake away, and this kind more likely than not makes it on this sludge."
)
_CAPTURE = (
    "capture wanted",
    "The capture wanted is typical for this kind on this sludge.",
    "The capture wanted is above typical: more polymer, less load, and a test.",
    "The capture wanted is above nine in ten results of this kind on this sludge.",
)


def _reaches(
    name: str,
    asked: float,
    typical: Figure,
    high: Figure,
    words: tuple[str, str, str, str],
    *,
    must: bool = False,
) -> Verdict:
    reached, best = typical.point, high.point
    if reached >= asked:
        answer, text = Answer.SUITS, words[1]
    elif must:
        answer, text = Answer.DOES_NOT_SUIT, _MUST
    elif best >= asked:
        answer, text = Answer.WITH_CARE, words[2]
    else:
        answer, text = Answer.DOES_NOT_SUIT, words[3]
    return Verdict(
        rule=CONDITION if must else words[0],
        answer=answer,
        text=text,
        name=name,
        value=reached,
        limit=asked,
        basis=typical.basis,
        source=typical.source or "JUDGEMENT",
        mark=typical.mark,
    )


def _quiet(limit: float, typical: Figure, low: Figure) -> Verdict:
    if typical.point <= limit:
        answer, text = Answer.SUITS, "Quiet enough at one metre; local law decides."
    elif low.point <= limit or typical.point <= limit + 10.0:
        answer, text = Answer.WITH_CARE, "Louder than asked: enclose it or keep people away."
    else:
        answer, text = Answer.DOES_NOT_SUIT, "Far louder than asked, even when enclosed."
    return Verdict(
        rule="noise",
        answer=answer,
        text=text,
        name="sound_level",
        value=typical.point,
        limit=limit,
        basis=typical.basis,
        source=typical.source or "JUDGEMENT",
        mark=typical.mark,
    )
