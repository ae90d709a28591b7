"""How far the evidence carries, in words: share of draws that answer, what moved beyond a band."""

from __future__ import annotations

from cakewright.jobs.finding_parts import Moved
from cakewright.jobs.findings import Findings
from cakewright.quantities import house_name, house_names
from cakewright.reports.numbers import Units, number_text, quantity_text

MOVED = "Tests and expectation part: look before relying on it"

__all__ = ["MOVED", "answered_words", "moved_words"]

# The cheapest test that decides whether a parameter of the law is what the tests say.
_TESTS = {
    "local_resistance": "filter a fresh sample once more at the same pressure and dose",
    "resistance_exponent": "filter a fresh sample at a second pressure",
    "medium_resistance": "filter clean water through the same cloth",
    "optimum_dose": "three jars about the best dose",
    "dose_curvature": "three jars about the best dose",
    "dose_gain": "one jar without polymer",
    "fines_share": "solids of the filtrate of one jar",
    "fines_curvature": "solids of the filtrate of three jars",
    "solids_density": "ash of the dried sample",
}
_CAKE = "press one cake of a fresh sample at the pressure of the machine, to rest"
_RUN = "repeat one run on a day of its own, and press a cake of that day's sludge beside it"


def answered_words(findings: Findings) -> str:
    """The share of draws that have a cake, or nothing where no path was followed."""
    answered = findings.decision.answered
    if answered is None:
        return ""
    basis = "by the tests" if answered.tested else "by the prior of the class"
    return (
        f"{number_text(100.0 * answered.share, 0)} % of the draws have a cake at this load and "
        f"setting ({basis}); bands of the press are of those"
    )


def moved_words(findings: Findings, units: Units = Units.SI) -> tuple[str, ...]:
    """Each figure that left its band: how far, the likeliest reasons, the cheapest test."""
    return tuple(_moved(one, units) for one in findings.decision.moved)


def _moved(one: Moved, units: Units) -> str:
    what = "the bench tests" if one.evidence == "tests" else "the trial runs"
    before = "the prior of the class" if one.evidence == "tests" else "the law of the tests"
    band = " to ".join(quantity_text(one.name, v, units) for v in (one.low, one.high))
    label = house_name(one.name).label
    now = (
        "leave no cake"
        if one.value is None
        else (f"put {label} at {quantity_text(one.name, one.value, units)}")
    )
    reasons = ["the tests are of another class of sludge"] if one.other_class else []
    reasons += [_shift(name, z) for name, z in one.shifts]
    why = "; ".join(reasons) or "no single parameter moved far: they add up"
    test = _RUN if one.evidence == "runs" else _CAKE
    if one.evidence == "tests" and one.shifts:
        test = _TESTS.get(one.shifts[0][0], _CAKE)
    return (
        f"{what} {now}, outside the 95 % band of {before} ({label} {band}). Likeliest reasons: "
        f"{why}. Cheapest to decide: {test}"
    )


def _shift(name: str, z: float) -> str:
    label = house_name(name).label if name in house_names() else name.replace("_", " ")
    return f"{label} {abs(z):.1f} standard deviations {'above' if z > 0 else 'below'} expected"
