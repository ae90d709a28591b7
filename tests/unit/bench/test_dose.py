"""Dose response: optimum, flat region, cheapest dose, warnings, ranking."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.unit.bench.simulated import dose_test

from cakewright.bench import (
    by_response,
    coagulant_optimum,
    dose_test_fit,
    fit_dose_response,
    rank_polymers,
    reading_faults,
)
from cakewright.errors import OutOfRangeError

RNG = np.random.default_rng


def test_optimum_and_bowl_come_back() -> None:
    """With little noise optimum, curvature and gain are recovered."""
    fit = fit_dose_response(dose_test(6.5e-3, RNG(0), noise=0.005))
    assert fit.optimum == pytest.approx(6.5e-3, rel=0.01)
    assert np.exp(fit.theta[2]) == pytest.approx(2.5, rel=0.05)
    assert np.exp(fit.theta[3]) == pytest.approx(4.0, rel=0.05)
    assert fit.optimum_interval[0] < fit.optimum < fit.optimum_interval[1]


def test_flat_region_widens_with_noise_and_bounds_the_cheapest_dose() -> None:
    """More scatter, more doses that cannot be told from the best; its low end is the cheapest."""
    sharp = fit_dose_response(dose_test(6.5e-3, RNG(1), noise=0.05))
    blunt = fit_dose_response(dose_test(6.5e-3, RNG(1), noise=0.3))
    widths = [np.log(f.flat_region[1] / f.flat_region[0]) for f in (sharp, blunt)]
    assert widths[1] > 2 * widths[0]
    assert sharp.cheapest_dose == sharp.flat_region[0] < sharp.best_dose


def test_over_dosing_is_warned_of() -> None:
    """Past the optimum the response gets worse, and the sheet says from where."""
    fit = fit_dose_response(dose_test(6.5e-3, RNG(2), noise=0.05))
    assert fit.over_dose_hurts
    assert any("over-dosing hurts" in words for words in fit.warnings)


def test_optimum_beyond_the_doses_is_not_claimed() -> None:
    """A response still improving at the last dose asks for higher doses."""
    fit = fit_dose_response(dose_test(40e-3, RNG(3), noise=0.02))
    assert not fit.bracketed
    assert any("test higher doses" in words for words in fit.warnings)
    assert fit.best_dose == pytest.approx(12e-3)


def test_misread_jar_is_left_out() -> None:
    """One jar ten times off does not move the optimum and is named."""
    test = dose_test(6.5e-3, RNG(4), noise=0.03)
    values = test.columns["suction_time"].copy()
    values[9] = 400.0
    fit = fit_dose_response(replace(test, columns={**test.columns, "suction_time": values}))
    assert not fit.fit.used[9]
    assert any("reading 10 left out" in words for words in fit.warnings)
    assert fit.optimum == pytest.approx(6.5e-3, rel=0.05)


def test_suction_time_below_the_blank_is_refused() -> None:
    """A jar faster than clean water cannot be."""
    test = dose_test(6.5e-3)
    values = test.columns["suction_time"].copy()
    values[8] = 6.0
    with pytest.raises(OutOfRangeError, match="not above the water blank"):
        fit_dose_response(replace(test, columns={**test.columns, "suction_time": values}))


def test_larger_is_better_for_drained_volume() -> None:
    """Drained volume is turned over: its optimum is where most drains."""
    test = dose_test(6.5e-3, RNG(5), noise=0.01)
    net = test.columns["suction_time"] - 7.0
    columns = {"dose": test.columns["dose"], "drained": 1e-3 / np.sqrt(net)}
    fit = fit_dose_response(replace(test, columns=columns))
    assert fit.optimum == pytest.approx(6.5e-3, rel=0.03)
    clues = dose_test_fit(fit).clues
    assert clues is not None
    curvature = next(c for c in clues.clues if c.learns.name == "DOSE_CURVATURE")
    assert np.exp(curvature.value) == pytest.approx(2.5, rel=0.1)


def test_ranking_tells_the_better_and_the_cheaper() -> None:
    """The better polymer wins on response; a dear one loses on cost for the same result."""
    better = dose_test(6.5e-3, RNG(6), name="J1", polymer="A", best=9.0, price=9.0)
    equal = dose_test(6.5e-3, RNG(7), name="J2", polymer="B", best=9.0, price=3.0)
    worse = dose_test(6.5e-3, RNG(8), name="J3", polymer="C", best=18.0, price=1.0)
    rows = {
        r.name: r for r in rank_polymers([fit_dose_response(t) for t in (better, equal, worse)])
    }
    assert rows["A"].chance_best + rows["B"].chance_best > 0.99
    assert rows["C"].chance_best < 0.01
    assert rows["C"].dose_same is None
    assert rows["B"].chance_cheapest is not None
    assert rows["B"].chance_cheapest > 0.95
    assert sum(r.chance_best for r in rows.values()) == pytest.approx(1.0)


def test_equal_polymers_share_the_chance() -> None:
    """The same readings twice give each about half."""
    fits = [fit_dose_response(dose_test(6.5e-3, RNG(9), name=n, polymer=n)) for n in ("A", "B")]
    assert rank_polymers(fits)[0].chance_best == pytest.approx(0.5, abs=0.05)


def test_coagulant_optimum_is_found_between() -> None:
    """Best levels 9, 7.5, 7, 9 at 0, 5, 10, 20 kg/t have their optimum near 10."""
    fits = []
    for dose, best in ((0.0, 9.0), (5e-3, 7.5), (10e-3, 7.0), (20e-3, 9.0)):
        test = dose_test(6.5e-3, RNG(10), best=best, noise=0.02, name=f"K{dose}")
        numbers = {**test.numbers, "coagulant_dose": dose}
        words = {**test.words, "coagulant": "ferric chloride"}
        fits.append(fit_dose_response(replace(test, numbers=numbers, words=words)))
    found = coagulant_optimum(fits)
    assert found is not None
    assert found.inside
    assert found.best_dose == pytest.approx(10e-3, rel=0.2)
    assert coagulant_optimum(fits[:2]) is None
    assert fits[2].name == "A + ferric chloride 10 kg/t"


def test_two_responses_of_one_sheet_are_two_fits() -> None:
    """Side by side in one sheet: one test each, without the jars the other response alone read."""
    test = dose_test(6.5e-3, RNG(5), noise=0.03)
    drained = 1e-3 / np.sqrt(test.columns["suction_time"])
    drained[0] = np.nan
    both = by_response(replace(test, columns={**test.columns, "drained": drained}))
    assert [one.id for one in both] == ["J1-suction_time", "J1-drained"]
    assert [one.rows for one in both] == [18, 17]
    told = [str(fault) for one in both for fault in reading_faults(one)]
    assert not any("response" in words or "empty" in words for words in told)
    assert [fit_dose_response(one).response.key for one in both] == ["suction_time", "drained"]


def test_the_best_dose_lies_inside_its_own_interval() -> None:
    """Also when the optimum lies beyond the last dose tested."""
    fit = fit_dose_response(dose_test(40e-3, RNG(3), noise=0.02))
    low, high = fit.best_interval
    assert low <= fit.best_dose <= high
