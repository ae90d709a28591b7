"""Figures of the chosen machine: a dose that starves the sludge shows, and lines recompute."""

from __future__ import annotations

from functools import cache

import pytest

from cakewright.jobs.evaluate import evaluate
from cakewright.jobs.findings import Findings
from cakewright.quantities import CalculationLine
from cakewright.quantities.formula import read_formula
from cakewright.study import parse_study

ONLY = '[machines]\nkinds = ["{}"]\n\n[polymer]\ndose = "{} kg/t"\n\n[sampling]\nsamples = 0\n'
SLUDGE = """
cakewright = 1
title = "one sludge"
currency = "EUR"

[[sludge]]
name = "excess"
class = "was"
flow = "40 m3/d"
total_solids = "1.5 %"

"""


@cache
def _dosed(kind: str, dose: float) -> Findings:
    text = SLUDGE + ONLY.format(kind, dose)
    return evaluate(parse_study(text), with_press=False, with_decision=False)


def _figure(found: Findings, name: str) -> float:
    return next(f for f in found.decision.headline if f.name == name).point


@pytest.mark.parametrize("kind", ["multi_disc_screw_press", "belt_press"])
def test_starving_the_polymer_is_not_free(kind: str) -> None:
    """At 3 instead of 9 kg/t cake and capture fall."""
    starved, fed = _dosed(kind, 3.0), _dosed(kind, 9.0)
    assert _figure(starved, "cake_solids") < 0.95 * _figure(fed, "cake_solids")
    assert _figure(starved, "capture") < _figure(fed, "capture") - 0.05


def test_a_moved_figure_tells_its_terms() -> None:
    """The line of the cake holds the band and the effect of the dose, and gives the cake."""
    found = _dosed("multi_disc_screw_press", 3.0)
    line = _of(found, "performance.cake_solids")
    assert any("dose" in term.basis for term in line.terms)
    formula = read_formula(line.formula, [term.symbol for term in line.terms])
    assert formula is not None
    value = formula.value({term.symbol: term.value for term in line.terms})
    assert value == pytest.approx(line.result, rel=1e-9)
    assert not line.model


def _of(found: Findings, key: str) -> CalculationLine:
    return next(line for line in found.lines if line.key == key)
