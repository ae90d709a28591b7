"""What to ask next, in the words of every surface: what it is worth, or what it widens."""

from __future__ import annotations

from cakewright.jobs.findings import Question
from cakewright.quantities import house_name
from cakewright.reports.numbers import Units, quantity_text

__all__ = ["reason", "rounded_worth"]

_TOLD = 0.005


def rounded_worth(value: float) -> float:
    """Two significant figures: a worth is no better known."""
    return float(f"{value:.2g}")


def reason(question: Question, units: Units, currency: str, year: int) -> str:
    """Why it is worth asking: money where it is known, and the figure it widens most."""
    parts = []
    if question.worth is not None and question.worth.exists:
        worth = rounded_worth(question.worth.point)
        told = quantity_text("decision_worth", worth, units, currency)
        parts.append(f"worth {told} of {year} over the life")
    if question.share >= _TOLD:
        label = house_name(question.effect_on).label
        parts.append(f"carries {100 * question.share:.0f} % of the variance of {label}")
    return ", ".join(parts) or question.why.rstrip(".")
