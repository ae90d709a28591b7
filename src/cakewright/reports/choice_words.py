"""Words for what nearly won, what would turn the answer, and what a nearest answer misses."""

from __future__ import annotations

from collections.abc import Iterator

from cakewright.jobs.findings import Decision, Findings, Flip, Miss
from cakewright.quantities import house_name
from cakewright.reports.numbers import Units, quantity_text

__all__ = ["conditioning_words", "missed_words", "reason_words", "turning_words"]

_CHANGE = {
    "ask": "ask for no more than {enough}",
    "feed": "bring the {label} of the feed to {enough}",
    "frames": "allow {enough} machines (machines.most), run longer hours, or offer larger frames",
    "duty": "bring it to {enough}",
    "kind": "another kind of machine, or a feed with {label} of {enough}",
}


def reason_words(findings: Findings, units: Units) -> tuple[str, ...]:
    """Why, with the figures that decide where the trade would expect another answer."""
    return (*findings.decision.because, *_trade(findings, units))


def _money(findings: Findings, units: Units, value: float) -> str:
    return quantity_text("cost_specific", abs(value), units, findings.currency)


def _trade(findings: Findings, units: Units) -> Iterator[str]:
    view = findings.decision.trade
    if view is None:
        return
    why = " and ".join(view.why)
    if view.expected:
        label, apart = view.expected[0]
        word = "dearer" if apart > 0.0 else "cheaper"
        parts = ", ".join(
            f"{name} {'+' if value > 0.0 else '−'}{_money(findings, units, value)}"
            for name, value in view.parts
        )
        cakes = ""
        if view.cake is not None:
            first, second = (quantity_text("cake_solids", x, units) for x in view.cake)
            cakes = f"; cake {first} against {second}"
        yield (
            f"On {why} the trade expects the {label} (common practice, no source). What decides "
            f"here: it is {_money(findings, units, apart)} {word}, care and missed targets counted "
            f"({parts}){cakes}"
        )
    if view.against:
        yield (
            f"On {why} the trade would not take the {view.against} (common practice, no source): "
            "ask for a trial before buying"
        )


def turning_words(findings: Findings, units: Units) -> tuple[str, ...]:
    """The runner-up, and by how much which input must move for it to be ahead."""
    return tuple(_turning(findings, units))


def _turning(findings: Findings, units: Units) -> Iterator[str]:
    decision = findings.decision
    next_one = decision.runner_up
    if next_one is None:
        return
    yield (
        f"the next is the {next_one.label}: {_money(findings, units, next_one.dearer)} dearer, "
        f"care and missed targets counted; it is ahead in {100 * next_one.chance_cheaper:.0f} % of "
        "the cases"
    )
    for flip in decision.flips:
        yield f"it would be ahead if {_flip(flip, findings, units)}, all else as it is"
    if not decision.flips:
        yield (
            "no single price or distance would turn that within a factor of four, nor a cake "
            "within a factor of 1.6"
        )


def _flip(flip: Flip, findings: Findings, units: Units) -> str:
    subject = flip.place if flip.place.startswith("cake of") else house_name(flip.name).label
    now, then = (
        quantity_text(flip.name, value, units, findings.currency) for value in (flip.now, flip.then)
    )
    word = "rose" if flip.then > flip.now else "fell"
    return f"the {subject} {word} from {now} to {then}"


def missed_words(findings: Findings, units: Units) -> tuple[str, ...]:
    """What the nearest answer misses and what would make it an answer; empty where it meets all."""
    decision = findings.decision
    return tuple(_miss(miss, decision, units) for miss in decision.misses)


def _miss(miss: Miss, decision: Decision, units: Units) -> str:
    text = miss.text.rstrip(".")
    got, limit = (_amount(miss.name, x, units) for x in (miss.value, miss.limit))
    said = f"{text}: {got}, limit {limit}"
    if miss.enough is None:
        return said
    label = house_name(miss.name).label
    enough = _amount(miss.name, miss.enough, units)
    return (
        f"{said}. To make it an answer: {_CHANGE[miss.change].format(label=label, enough=enough)}"
    )


def _amount(name: str, value: float, units: Units) -> str:
    return f"{value:.0f}" if name == "count" else quantity_text(name, value, units)


def conditioning_words(findings: Findings, units: Units) -> tuple[str, ...]:
    """Which conditioning each kind was compared with, and what else it was tried with."""
    return tuple(
        f"{o.label}: {o.conditioning}{_others(findings, units, i)}"
        for i, o in enumerate(findings.options)
        if o.conditioning
    )


def _others(findings: Findings, units: Units, index: int) -> str:
    told = []
    for one in findings.options[index].recipes:
        if one.cost is None or one.cake_solids is None:
            continue
        cake = quantity_text("cake_solids", one.cake_solids, units)
        cost = _money(findings, units, one.cost)
        told.append(f"{one.label}: cake {cake} as weighed, {cost}, {one.answer.value}")
    return f" ({'; '.join(told)})" if len(told) > 1 else ""
