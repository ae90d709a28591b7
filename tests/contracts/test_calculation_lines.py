"""Every calculation line gives its result: from what is stored, and from the digits printed."""

from __future__ import annotations

import functools
import math

import numpy as np
import pytest

from cakewright import demo_study
from cakewright.errors import CakewrightError
from cakewright.jobs.findings import Findings
from cakewright.quantities import CalculationLine
from cakewright.quantities.formula import read_formula
from cakewright.reports.numbers import plain_text

DEMOS = ("soy", "valley", "reservoir")
RANDOM = 50
_PRINTED = 6


@functools.cache
def _demo(name: str) -> Findings:
    return demo_study(name).evaluate(samples=8, press=True).findings


@functools.cache
def _random(seed: int) -> Findings | None:
    """A demonstration with a third of its inputs moved; None where no line can be."""
    generator = np.random.default_rng(seed)
    study = demo_study(DEMOS[seed % 3])
    changes: dict[str, object] = {"sampling.samples": 0}
    inputs = [i for i in study.inputs if i["value"] and not i["default"]]
    for entry in generator.choice(np.array(inputs, dtype=object), len(inputs) // 3, replace=False):
        moved = f"{entry['value'] * generator.uniform(0.85, 1.15):.2f}"
        changes[str(entry["input"])] = f"{moved} {entry['unit']}"
    try:
        return study.with_inputs(changes).evaluate().findings
    except CakewrightError:
        return None


def _faults(lines: tuple[CalculationLine, ...]) -> list[str]:
    return [f"{line.key}: {why}" for line in lines if (why := _fault(line))]


def _fault(line: CalculationLine) -> str:
    if line.model:
        return "" if not line.formula else "has a formula and a model"
    formula = read_formula(line.formula, [t.symbol for t in line.terms])
    if formula is None:
        return f"{line.formula!r} is in words"
    value = formula.value({t.symbol: t.value for t in line.terms})
    if not math.isclose(value, line.result, rel_tol=1e-9, abs_tol=1e-300):
        return f"{line.formula} gives {value}, stored {line.result}"
    return ""


def _printed_fault(line: CalculationLine) -> str:
    formula = None if line.model else read_formula(line.formula, [t.symbol for t in line.terms])
    if formula is None:
        return ""
    value = formula.value({t.symbol: _read(t.value) for t in line.terms})
    # Three digits of the result are what a reader of the page checks against.
    return "" if math.isclose(value, line.result, rel_tol=5e-4) else f"{value} for {line.result}"


def _read(value: float) -> float:
    return float(f"{value:.{_PRINTED}g}")


@pytest.mark.parametrize("name", DEMOS)
def test_lines_of_demonstrations_recompute(name: str) -> None:
    """Each line of a demonstration gives its result from the numbers stored with it."""
    assert _faults(_demo(name).lines) == []


@pytest.mark.parametrize("name", DEMOS)
def test_lines_recompute_from_the_page(name: str) -> None:
    """The digits printed give the result printed."""
    lines = _demo(name).lines
    assert [f"{x.key}: {why}" for x in lines if (why := _printed_fault(x))] == []


@pytest.mark.parametrize("seed", range(RANDOM))
def test_lines_of_random_studies_recompute(seed: int) -> None:
    """The same holds where inputs are moved at random."""
    found = _random(seed)
    assert found is None or _faults(found.lines) == []


def test_most_random_studies_are_answered() -> None:
    """The random studies are real ones: most have an answer."""
    assert sum(_random(seed) is not None for seed in range(RANDOM)) > 0.7 * RANDOM


def test_numbers_are_printed_with_the_digits_tested() -> None:
    """The page shows as many digits of each number put in as the test reads."""
    assert plain_text(1.2345678, _PRINTED) == "1.23457"
