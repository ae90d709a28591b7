"""Earlier runs as the prior of the next ones: scores to parameters and back, what is refused."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.unit.jobs.press_cases import made_up, narrow_law

from cakewright.errors import DataError
from cakewright.jobs.calibration_findings import fitted_of, narrowed_of, words_of
from cakewright.jobs.fitted import FittedPress, law_key, to_line
from cakewright.jobs.learn_press import press_contribution
from cakewright.jobs.trial_prior import believed
from cakewright.machines import Kind
from cakewright.machines.press_priors import parameter_priors
from cakewright.quantities import FloatArray, Mark
from cakewright.statistics.bayes import Posterior

HIDDEN = {"grip": 0.4, "side_ratio": -0.6, "fines_factor": 1.2}
KIND = Kind.MULTI_DISC_SCREW_PRESS
NAMES = ("grip", "conveying", "friction")


def _earlier(law: str = "") -> FittedPress:
    """Three parameters, friction among them, that move together, and the law's scores with them."""
    size = len(NAMES) + (narrow_law().centre.size if law else 0)
    rng = np.random.default_rng(2)
    root = 0.4 * np.eye(size) + 0.05 * rng.standard_normal((size, size))
    return FittedPress(
        KIND, "disc 200 x 1", NAMES, rng.standard_normal(size) * 0.3, root @ root.T, 6,
        "2026-01-02", "made up", law, mark=Mark.INVENTED,
    )  # fmt: skip


def _lines(found: dict[str, FloatArray], names: tuple[str, ...]) -> FloatArray:
    priors = parameter_priors(KIND)
    return np.stack([[to_line(float(v), priors[n].line) for v in found[n]] for n in names])


@pytest.mark.parametrize("same", [True, False])
def test_unit_scores_give_what_earlier_runs_left(same: bool) -> None:
    """Mean and covariance of the earlier runs; the law's part only on the very same law."""
    law = narrow_law()
    before = _earlier(law_key(law))
    other = law if same else replace(law, covariance=2.0 * law.covariance)
    unit = np.random.default_rng(1).standard_normal((20000, 3 + law.centre.size))
    found = believed(KIND, NAMES, other, before, unit[:, :3], unit[:, 3:])
    drawn = _lines(dict(found.machine), NAMES)
    if same:
        drawn = np.concatenate([drawn, found.law.T])
    else:
        assert np.array_equal(found.law, unit[:, 3:])
    size = len(drawn)
    assert np.allclose(drawn.mean(axis=1), before.mean[:size], atol=0.02)
    assert np.allclose(np.cov(drawn), before.covariance[:size, :size], atol=0.02)


def test_what_earlier_runs_learnt_is_kept_without_a_reading_of_power() -> None:
    """Friction stays among the fitted, and what no run learnt at that of the class."""
    trial = replace(made_up(HIDDEN, 5), before=_earlier())
    assert "friction" in trial.names
    assert "friction" not in made_up(HIDDEN, 5).names
    assert "idle_shear" not in trial.names
    unit = np.zeros((5, trial.size))
    found = trial.believed(unit, np.zeros((5, trial.law_size))).machine
    before = trial.before
    assert before is not None
    assert np.allclose(_lines(dict(found), NAMES), before.mean[:, None])
    assert np.allclose(found["idle_shear"], parameter_priors(KIND)["idle_shear"].typical)


def test_runs_that_teach_nothing_leave_the_prior() -> None:
    """Draws of the prior written out as a posterior are the earlier runs again, and say so."""
    trial = replace(made_up(HIDDEN, 5), before=_earlier())
    size = trial.size + trial.law_size
    told = Posterior(np.random.default_rng(7).standard_normal((20000, size)), 1e4, 1.0, "prior")
    fitted, narrowed = fitted_of(trial, told, "2026-05-04", Mark.NONE), narrowed_of(trial, told)
    at = [fitted.names.index(n) for n in NAMES]
    before = trial.before
    assert before is not None
    assert np.allclose(fitted.mean[at], before.mean, atol=0.02)
    assert np.allclose(fitted.covariance[np.ix_(at, at)], before.covariance, atol=0.02)
    assert all(one.left == pytest.approx(1.0, abs=0.04) for one in narrowed)
    assert fitted.mark is Mark.INVENTED
    assert fitted.runs == 6 + sum(run.ran for run in trial.runs)
    assert any("6 earlier runs" in word for word in words_of(trial, narrowed))
    with pytest.raises(DataError, match="built on earlier runs"):
        press_contribution(fitted)
