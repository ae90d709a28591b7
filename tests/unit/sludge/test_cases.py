"""The cases of a line: one sludge, one rate, different hours."""

from __future__ import annotations

import numpy as np
import pytest

from cakewright.errors import OutOfRangeError
from cakewright.sludge import CaseKey, load_cases

DRY, WET = 100.0 / 3600, 8.0 / 3600


def test_weeks_hold_the_same_sludge_whatever_the_hours() -> None:
    """Rate times hours gives back the mean week, the peak week and the promise's peak week."""
    cases = load_cases(DRY, WET, 1 / 3, 5.0, 1.3, 0.2).with_promise(0.2)
    for key, factor in ((CaseKey.RUNNING, 1.0), (CaseKey.DESIGN, 1.3), (CaseKey.PROMISED, 1.3)):
        assert float(cases[key].weekly_solids[0]) == pytest.approx(factor * DRY, rel=1e-12)
        assert float(cases[key].weekly_volume[0]) == pytest.approx(factor * WET, rel=1e-12)


def test_one_rate_and_never_more_hours_than_given() -> None:
    """A quick press sets the rate; a slow one leaves it to the peak week in the hours given."""
    quick = load_cases(DRY, WET, 1 / 3, 5.0, 1.3, 0.2)
    assert quick.design.dry_solids_flow == pytest.approx(quick.running.dry_solids_flow)
    assert float(quick.design.hours_per_day[0]) == pytest.approx(0.26)
    slow = load_cases(DRY, WET, 1 / 3, 5.0, 1.3, 1 / 3)
    assert float(slow.design.hours_per_day[0]) == pytest.approx(1 / 3)
    assert slow.design.dry_solids_flow == pytest.approx(1.3 * slow.running.dry_solids_flow)


def test_worst_week_is_the_heaviest_but_one_in_ten() -> None:
    """Of a hundred drawn loads the worst week carries the 90 % point, at the same rate."""
    drawn = np.concatenate(([100.0], np.linspace(50.0, 150.0, 101))) / 3600
    cases = load_cases(drawn, drawn / 10, 1 / 3, 5.0, 1.2, 1 / 4)
    assert float(cases.worst_week.weekly_solids[0]) == pytest.approx(1.2 * 140 / 3600)
    assert cases.worst_week.dry_solids_flow == pytest.approx(cases.design.dry_solids_flow)


@pytest.mark.parametrize(
    "given",
    [(0.0, WET, 0.3, 5.0), (DRY, WET, 0.0, 5.0), (DRY, WET, 0.3, 8.0), (DRY, WET, 0.3, 5.0, 0.9)],
)
def test_loads_without_meaning_are_refused(given: tuple[float, ...]) -> None:
    """No sludge, no hours, more days than a week has, a peak below the mean."""
    with pytest.raises(OutOfRangeError, match="allowed"):
        load_cases(*given)
