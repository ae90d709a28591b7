"""The answer in plain text, for a terminal."""

from __future__ import annotations

from collections.abc import Iterator

from cakewright.jobs.findings import Findings
from cakewright.quantities import Figure, house_name
from cakewright.reports.choice_words import missed_words, reason_words, turning_words
from cakewright.reports.evidence_words import MOVED, answered_words, moved_words
from cakewright.reports.numbers import (
    Units,
    band_text,
    decimals_for,
    number_text,
    quantity_text,
    shown,
    shown_unit,
    unit_text,
)
from cakewright.reports.question_words import reason

__all__ = ["headline_text"]

_WIDTH = 96


def headline_text(findings: Findings, units: Units = Units.SI, questions: int = 3) -> str:
    """What was decided, each figure with its band and basis, what was rejected, what to ask."""
    decision = findings.decision
    parts = [findings.title, *_wrapped(decision.sentence, ""), ""]
    parts += _table(findings, units)
    parts += ["  (figures per tonne or ton are per mass of dry solids)"]
    parts += _setting(findings, units)
    if told := answered_words(findings):
        parts += _wrapped(f"{told}.", "  ")
    if not decision.meets:
        parts += ["", "No kind meets everything. This is the nearest; it misses"]
        parts += _listed(missed_words(findings, units))
    if decision.moved:
        parts += ["", MOVED, *_listed(moved_words(findings, units))]
    if decision.conflicts:
        parts += ["", "To be settled before it is built", *_listed(decision.conflicts)]
    parts += ["", "Because", *_listed(reason_words(findings, units))]
    if decision.runner_up:
        parts += ["What would turn it", *_listed(turning_words(findings, units))]
    if decision.rejected:
        parts += ["Rejected", *_listed(decision.rejected)]
    parts += ["Holds as long as", *_listed(decision.conditions)]
    if findings.questions:
        parts.append("Ask or test next")
        asked = findings.questions[:questions]
        reasons = [reason(q, units, findings.currency, findings.price_year) for q in asked]
        lines = [f"{q.name}: {why}. {q.ask}" for q, why in zip(asked, reasons, strict=True)]
        parts += _listed(lines, numbered=True)
    if findings.line_missing:
        parts += ["", findings.line_missing]
    if findings.invented:
        parts += ["", "This study is invented: no real site, person or price."]
    return "\n".join(parts)


def _table(findings: Findings, units: Units) -> Iterator[str]:
    figures = findings.decision.headline
    width = max((len(house_name(figure.name).label) for figure in figures), default=0) + 1
    for figure in figures:
        yield "  " + _row(figure, units, findings.currency, width)


def _setting(findings: Findings, units: Units) -> Iterator[str]:
    """Where the chosen screw press is run, and how far its nearest limit is."""
    press = findings.press
    if press is None:
        return
    settings = (
        ("screw_speed", press.speed),
        ("back_pressure", press.back_pressure),
        ("polymer_dose", press.dose),
    )
    told = ", ".join(quantity_text(name, value, units) for name, value in settings)
    basis = "" if press.tested else " (by the prior of the class)"
    yield from _wrapped(f"Run at {told}; {press.binding_words}{basis}.", "  ")


def _row(figure: Figure, units: Units, currency: str, width: int) -> str:
    entry = house_name(figure.name)
    band = figure.band
    digits = decimals_for(figure.name, (figure.point, band.p10, band.p90), units)
    value = number_text(shown(figure.name, figure.point, units), digits)
    unit = unit_text(shown_unit(figure.name, units), currency)
    basis = " ".join(x for x in (figure.basis.value, figure.mark.value) if x)
    spread = band_text(figure.name, band, units, digits)
    return f"{entry.label:<{width}}{value:>9} {unit:<8} {spread:<16} {basis}".rstrip()


def _listed(texts: object, *, numbered: bool = False) -> Iterator[str]:
    for index, text in enumerate(texts if isinstance(texts, (list, tuple)) else (), start=1):
        bullet = f"{index}." if numbered else "-"
        yield from _wrapped(str(text), f"  {bullet} ")


def _wrapped(text: str, lead: str) -> list[str]:
    import textwrap

    hang = " " * len(lead)
    return textwrap.wrap(text, _WIDTH, initial_indent=lead, subsequent_indent=hang)
