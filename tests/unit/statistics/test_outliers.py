"""Outlier tests against simulation and against masking."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from cakewright.errors import OutOfRangeError
from cakewright.statistics import outliers as o


def test_false_alarm_rate_is_the_significance() -> None:
    """Normal readings are accused in 5 % of sets, and the upper end alone in 5 % too."""
    rows = np.random.default_rng(3).standard_normal((3000, 9))
    both = np.mean([o.grubbs_test(row).is_outlier for row in rows])
    upper = np.mean([o.grubbs_test(row, two_sided=False).is_outlier for row in rows])
    assert both == pytest.approx(0.05, abs=0.012)
    assert upper == pytest.approx(0.05, abs=0.012)


def test_upper_test_does_not_see_the_lower_end() -> None:
    """A low outlier is found by the two-sided test only."""
    x = np.r_[np.linspace(0, 1, 12), -30.0]
    assert o.grubbs_test(x).index == 12
    assert o.grubbs_test(x, two_sided=False).index == 11


def test_masked_pair_is_found_together() -> None:
    """Two outliers that hide one another from the single test are both found."""
    x = np.r_[np.random.default_rng(4).normal(10, 1, 12), 40.0, 41.0]
    assert not o.grubbs_test(x).is_outlier
    assert set(o.generalised_outliers(x, 4)) == {12, 13}
    assert o.generalised_outliers(x[:12], 3) == []


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (lambda: o.grubbs_test(np.ones(6)), "nothing can stand out"),
        (lambda: o.grubbs_test(np.array([1.0, 2.0])), "at least 3"),
        (lambda: o.grubbs_critical(8, 1.5), "strictly between"),
        (lambda: o.generalised_outliers(np.arange(6.0), 3), "under half"),
    ],
)
def test_unfit_readings_are_refused(call: Any, text: str) -> None:
    """Too few or equal readings are named."""
    with pytest.raises(OutOfRangeError, match=text):
        call()
