"""The cycle of plate presses in a study: figures add up, the end is named with its distance."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pytest
from tests.unit.jobs.press_cases import with_law

from cakewright.jobs.evaluate import evaluate
from cakewright.jobs.findings import Findings
from cakewright.machines.prediction import Cycle
from cakewright.quantities import Basis
from cakewright.reports import Book, Units
from cakewright.reports.chapters.press_changes import every_kind, plate_cycles
from cakewright.reports.content import Paragraph, Table
from cakewright.storage.studies import read_study
from cakewright.study import Study

EXAMPLE = Path(__file__).parents[3] / "examples" / "reservoir.toml"


@pytest.fixture(scope="module")
def found() -> Findings:
    """A study with every kind on one narrow law."""
    return with_law()


def _cycles(found: Findings) -> dict[str, Cycle]:
    return {k.machine: k.cycle for k in found.kinds if k.cycle is not None}


def test_only_plate_presses_have_a_cycle(found: Findings) -> None:
    """Chamber and membrane press have one; the membrane press alone a squeeze."""
    cycles = _cycles(found)
    assert cycles.keys() == {"chamber_press", "membrane_press"}
    assert "squeeze_time" not in cycles["chamber_press"].figures
    assert "squeeze ended by" in cycles["membrane_press"].ended
    assert "squeeze" not in cycles["chamber_press"].ended


def test_times_add_up_and_fit_the_day(found: Findings) -> None:
    """Cycle is the sum of its times; whole cycles of the day never take longer than it runs."""
    for cycle in _cycles(found).values():
        point = {name: figure.point for name, figure in cycle.figures.items()}
        parts = point["filling_time"] + point.get("squeeze_time", 0.0) + point["technical_time"]
        assert np.isclose(parts, point["plate_cycle_time"])
        assert 60.0 < point["plate_cycle_time"] / 60.0 < 600.0
        ran = point["cycles_fitting"] * point["plate_cycle_time"]
        per_day = point["throughput_per_area"] * ran / 86400.0
        assert np.isclose(per_day, point["throughput_per_area_day"])
        assert np.isclose(sum(cycle.ends.values()), 1.0)


def test_times_are_not_told_as_tested(found: Findings) -> None:
    """The cake rests on the bench tests; times and throughput are assumed: the pump is judged."""
    for cycle in _cycles(found).values():
        for name, figure in cycle.figures.items():
            wanted = Basis.BENCH if name.startswith("cake") else Basis.ASSUMED
            assert figure.basis is wanted, name


def test_end_of_filling_is_told_with_the_distance_of_the_others(found: Findings) -> None:
    """One end is named and the two others say how far they were."""
    for cycle in _cycles(found).values():
        named = ("chamber full", "end flow", "longest filling time")
        assert sum(f"filling ended by: {name}" in cycle.ended for name in named) == 1
        told = cycle.ended.split(";")[0]
        assert told.count(",") == 1
        assert "% of" in told


@pytest.mark.parametrize(("units", "rate"), [(Units.SI, "kg/(m²·h)"), (Units.US, "lb/(ft²·h)")])
def test_report_shows_one_table_a_press(found: Findings, units: Units, rate: str) -> None:
    """Each cycle has its table, captioned with what ended it; none without plate presses."""
    tables = [b for b in plate_cycles(Book(found, units)) if isinstance(b, Table)]
    assert all(any(cell.text == rate for row in t.rows for cell in row) for t in tables)
    assert len(tables) == 2
    assert all("filling is ended by" in table.caption for table in tables)
    bare = dataclasses.replace(found, kinds=())
    assert plate_cycles(Book(bare, Units.SI)) == []


@pytest.fixture(scope="module")
def reservoir() -> Findings:
    """A study without a tested law whose one press is a membrane press."""
    return evaluate(_membranes(), with_decision=False)


def _membranes() -> Study:
    study = read_study(EXAMPLE)
    return dataclasses.replace(study, words={**study.words, "machines.kinds": ("membrane_press",)})


def test_a_plate_press_without_a_tested_law_has_its_cycle(reservoir: Findings) -> None:
    """By the prior of the class, assumed, beside the published band, and said so in the report."""
    (kind,) = reservoir.kinds
    assert kind.machine == reservoir.decision.machine == "membrane_press"
    assert not kind.tested
    assert kind.cycle is not None
    assert {f.basis for f in (*kind.figures.values(), *kind.cycle.figures.values())} == {
        Basis.ASSUMED
    }
    book = Book(reservoir, Units.SI)
    words = [b.text for b in every_kind(book) if isinstance(b, Paragraph)]
    hours = next(f for f in reservoir.decision.headline if f.name == "run_hours_per_day").point
    assert any("the whole shift" in text for text in words) == (kind.running > hours)
    assert any("stands beside it" in text and kind.words[1:] in text for text in words)
    assert len(plate_cycles(book)) == 2


def test_what_stands_beside_the_figures_moves_none(reservoir: Findings) -> None:
    """The same figures to the last digit with and without the press's physics."""
    bare = evaluate(_membranes(), with_press=False, with_decision=False)
    assert bare.kinds == ()
    for one, other in zip(reservoir.decision.headline, bare.decision.headline, strict=True):
        assert np.array_equal(one.samples, other.samples)


def test_a_plate_press_has_a_cake_in_the_hours_it_runs(reservoir: Findings) -> None:
    """At the catalogue's hours, or the whole shift where those are too few, there is a cake."""
    (kind,) = reservoir.kinds
    hours = next(f for f in reservoir.decision.headline if f.name == "run_hours_per_day").point
    assert kind.running >= hours
    assert 0.25 < kind.figures["cake_solids"].point < 0.6
    assert 0.25 < kind.answered <= 1.0
