"""The joint fit: recovery, priors, contradictions, identifiability, next tests."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.unit.bench.simulated import clue_design, simulated_clues

from cakewright.bench import Clues, fit_law, rank_next_tests
from cakewright.bench.fit import Learns
from cakewright.bench.law_model import cake_solids_at, values_of
from cakewright.quantities import Basis, Mark
from cakewright.sludge.law import LAW_PARAMETERS
from cakewright.sludge.law_prior import prior_of_class

PRIOR = prior_of_class("was")
SHIFT = np.array([0.1, 0.3, -0.4, 0.1, 0.8, -0.1, 1.0, -0.2, 0.3, -0.2, -0.4, 0.5, -0.5, 0.6])


class _Still(np.random.Generator):
    """A generator whose normals are all zero: clues exactly on the law."""

    def __init__(self) -> None:
        super().__init__(np.random.PCG64(0))

    def standard_normal(self, size=None, *args, **kwargs):  # type: ignore[no-untyped-def]
        return np.zeros(size)


def test_exact_clues_pull_the_law_to_the_truth() -> None:
    """Clues without scatter: every told parameter moves most of the way from prior to truth."""
    truth = PRIOR.centre + SHIFT
    joint = fit_law("s", simulated_clues(truth, _Still(), clue_design()), PRIOR)
    for index, parameter in enumerate(joint.law.parameters):
        if parameter.learnt > 0.8:
            left = abs(joint.law.centre[index] - truth[index])
            assert left < 0.35 * abs(SHIFT[index]), parameter.name
    solids = [float(cake_solids_at(values_of(at), 1e5)) for at in (joint.law.centre, truth)]
    assert solids[0] == pytest.approx(solids[1], rel=0.01)


def test_without_tests_the_prior_stands() -> None:
    """No clue: the law is the class's prior, marked as such, nothing learnt."""
    joint = fit_law("s", [], PRIOR)
    assert joint.law.centre == pytest.approx(PRIOR.centre, abs=1e-6)
    assert np.diag(joint.law.covariance) == pytest.approx(np.diag(PRIOR.covariance), rel=1e-3)
    assert all(p.learnt < 0.01 for p in joint.law.parameters)
    assert joint.law.parameter("gel_point").mark is Mark.JUDGEMENT
    assert "not told by these tests" in joint.law.parameter("gel_point").note
    assert "density of dry solids" in joint.unknown[0]


def test_told_parameters_change_basis_and_name_their_tests() -> None:
    """A parameter that the tests told is bench-fitted and says by which."""
    drawn = simulated_clues(PRIOR.centre, np.random.default_rng(0), clue_design())
    law = fit_law("s", drawn, PRIOR, polymer="A", dose_window=(0.004, 0.016)).law
    exponent = law.parameter("yield_exponent")
    assert exponent.basis is Basis.BENCH
    assert "P1" in exponent.note
    assert "of the test cell, not of a machine" in law.parameter("medium_resistance").note
    assert (law.dose_low, law.dose_high, law.polymer) == (0.004, 0.016, "A")


def test_contradicting_test_is_named_and_widens_everything() -> None:
    """One filtration test thirty times off is named; all spreads grow."""
    design = clue_design()
    drawn = simulated_clues(PRIOR.centre, np.random.default_rng(1), design)
    good = fit_law("s", drawn, PRIOR)
    wrong = drawn[2]
    moved = tuple(
        replace(c, value=c.value + np.log(30.0)) if c.learns is Learns.RESISTANCE else c
        for c in wrong.clues
    )
    drawn[2] = Clues(wrong.test, wrong.kind, moved)
    bad = fit_law("s", drawn, PRIOR)
    assert [m.test for m in good.misfits if m.contradicts] == []
    assert wrong.test in [m.test for m in bad.misfits if m.contradicts]
    assert bad.inflation > 1.5
    index = list(LAW_PARAMETERS).index("local_resistance")
    assert bad.law.covariance[index, index] > good.law.covariance[index, index]


def test_single_pressure_leaves_a_pair_untold() -> None:
    """Resistance at one pressure alone cannot tell scale and growth apart: said in words."""
    one = tuple(block for block in clue_design() if block.test == "F1")
    drawn = simulated_clues(PRIOR.centre, np.random.default_rng(2), one)
    joint = fit_law("s", drawn, PRIOR)
    assert joint.law.parameter("resistance_exponent").learnt < 0.2
    assert any("resistance exponent" in words for words in joint.unknown)


def test_next_test_is_the_one_that_is_missing() -> None:
    """Without any pressed cake the first advice is to press cakes; with many, something else."""
    design = tuple(b for b in clue_design() if b.kind not in ("pressed_cake", "press_course"))
    drawn = simulated_clues(PRIOR.centre, np.random.default_rng(3), design)
    first = rank_next_tests(fit_law("s", drawn, PRIOR).law)[0]
    assert first.kind == "pressed_cake"
    assert first.spread_after[0] < 0.5 * first.spread_before[0]
    full = simulated_clues(PRIOR.centre, np.random.default_rng(3), clue_design())
    ranked = rank_next_tests(fit_law("s", full, PRIOR).law)
    assert [t.bits for t in ranked] == sorted((t.bits for t in ranked), reverse=True)
    assert ranked[0].bits < first.bits / 2


def test_added_bits_equal_the_shrinkage_of_the_covariance() -> None:
    """Bits from the clues' side equal half the log of the ratio of determinants of the law's."""
    from cakewright.bench.candidates import _after, _block, _rows

    law = PRIOR
    for row in _rows():
        after, bits = _after(law, _block(row, law))
        before = np.linalg.slogdet(law.covariance)[1]
        left = np.linalg.slogdet(after)[1]
        assert bits == pytest.approx((before - left) / (2 * np.log(2)), rel=1e-6)


def test_a_test_the_class_would_hardly_foretell_is_named() -> None:
    """Drawn from the class nothing surprises; a resistance ten thousand times higher does."""
    rng = np.random.default_rng(0)
    drawn = simulated_clues(PRIOR.centre, rng, clue_design())
    assert not any(m.surprises for m in fit_law("s", drawn, PRIOR).misfits)
    first = next(b for b in drawn if any(c.learns is Learns.RESISTANCE for c in b.clues))
    clues = tuple(
        replace(c, value=c.value + np.log(1e4)) if c.learns is Learns.RESISTANCE else c
        for c in first.clues
    )
    misfit = fit_law("s", [replace(first, clues=clues)], PRIOR).misfits[0]
    assert misfit.surprises
    assert misfit.strangest[0] == Learns.RESISTANCE.value
    assert misfit.strangest[1] > 3
