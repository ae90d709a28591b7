"""Trials made up from hidden machines: their scores lie in the bands as often as stated."""

from __future__ import annotations

import numpy as np
import pytest
from tests.unit.jobs.press_cases import made_up, trial_of

from cakewright.errors import DisagreementError
from cakewright.jobs.calibrate import calibrate

_NAMES = ("grip", "side_ratio", "conveying", "fines_factor", "extrusion")


@pytest.mark.nightly
def test_hidden_scores_are_covered() -> None:
    """Of 3 trials x 8 scores, 80 % bands hold at least 14 (binomial: fewer once in 260 times)."""
    rng = np.random.default_rng(21)
    inside: list[bool] = []
    while len(inside) < 24:
        scores = {name: 0.7 * float(rng.standard_normal()) for name in _NAMES}
        trial = made_up(scores, int(rng.integers(1 << 30)))
        if len(trial.runs) < 5:
            continue
        try:
            found = calibrate(trial_of(list(trial.runs)), "made up", with_check=False)
        except DisagreementError:
            continue
        low, high = np.quantile(found.draws, (0.1, 0.9), axis=0)
        hidden = np.array([scores.get(name, 0.0) for name in trial.names])
        inside += ((hidden > low) & (hidden < high)).tolist()
    assert sum(inside) >= 14
