"""The start of the pressing zone: met to rounding, of high order, found for every prior draw."""

from __future__ import annotations

import numpy as np
from tests.unit.machines.press_case import FRAME, LOAD, SCREW, SETTING, SLUDGE, draws_of

from cakewright.machines.pressing_path import PathResult, PathStatus, checked_inputs
from cakewright.machines.screw.path import screw_path


def test_plate_condition_holds_at_the_reported_start() -> None:
    """Marched again from the start that is reported, the stress at the plate is the one asked."""
    from cakewright.machines.screw import program as screw_program

    draws = draws_of(256)
    answer = screw_path(*draws)
    columns = checked_inputs(*draws[:4])
    miss = screw_program.plate_miss(
        columns,
        draws[4].numbers(),
        np.nan_to_num(answer.details["pressing_start"]),
        how=screw_program.FINE,
        creeps=True,
    )
    assert answer.answered.sum() > 150
    assert np.max(np.abs(np.asarray(miss)[answer.answered])) < 1e-10


def test_answer_does_not_depend_on_its_batch() -> None:
    """A sample alone gives what it gives among others, to rounding."""
    draws = draws_of(256)
    together = screw_path(*draws)
    alone = screw_path(SLUDGE, LOAD, SETTING, SCREW, FRAME)
    first = int(np.flatnonzero(together.answered)[0])
    columns = checked_inputs(*draws[:4])
    from cakewright.machines.screw import program as screw_program

    one = {k: v[first : first + 1] for k, v in columns.items()}
    found = screw_program.answers(one, draws[4].numbers(), how=screw_program.FINE, creeps=True)
    assert np.isclose(float(found["cake_solids"][0]), together.cake_solids[first], rtol=1e-10)
    assert alone.status[0] == PathStatus.ANSWER


def _error(one: PathResult, best: PathResult) -> float:
    both = one.answered & best.answered
    error: float = np.median(np.abs(one.cake_solids[both] / best.cake_solids[both] - 1.0))
    return error


def test_order_of_the_extrapolated_path() -> None:
    """Half the cells and steps: the error of the cake grows by more than four, that is order 2."""
    from cakewright.machines.screw.root import Resolution

    draws = draws_of(32)
    best, fine, coarse = (
        screw_path(draws[0], draws[1], draws[2], draws[3], draws[4], Resolution(*how))
        for how in ((128, 192, 4, 4), (32, 48, 4, 4), (16, 24, 4, 4))
    )
    assert _error(fine, best) < 1e-4
    assert _error(coarse, best) / _error(fine, best) > 4.0


def test_every_prior_draw_ends_in_an_answer_or_a_cause() -> None:
    """10,000 draws of the prior: none unresolved, a finite number exactly where it is answered."""
    answer = screw_path(*draws_of(10_000))
    assert answer.counts()["unresolved"] == 0
    assert np.array_equal(np.isfinite(answer.cake_solids), answer.answered)
    assert sum(answer.counts().values()) == 10_000
    assert 0.5 < np.mean(answer.answered) < 0.95
