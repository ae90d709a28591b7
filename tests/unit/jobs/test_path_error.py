"""Error of the path: learnt near what was tried, its prior far away, common errors kept common."""

from __future__ import annotations

import numpy as np
import pytest

from cakewright.jobs.erring import UNTRIED, Erring
from cakewright.jobs.fitted import FittedPress
from cakewright.jobs.path_error import (
    COORDINATES,
    Seen,
    coordinates,
    covariance_of,
    error_table,
    field_between,
)
from cakewright.machines import Kind
from cakewright.quantities import FloatArray

RUNS = 6
DAYS = ("1", "1", "1", "2", "2", "2")
OBSERVED = tuple((run, "cake_solids") for run in range(RUNS))
ROW = error_table()["cake_solids"]
PRIOR = float(np.hypot(ROW["level"], ROW["field"]))


def _places(*speeds: float) -> FloatArray:
    fixed = dict.fromkeys(COORDINATES[1:], 1.0)
    return coordinates(speed=np.array(speeds), **fixed)


TRIED = _places(1.0, 1.2, 1.5, 1.8, 2.2, 2.5)


def test_foretold_errors_are_as_wide_as_they_say() -> None:
    """Fields, days, trials and readings drawn apart from the job: standardised misses have unit
    spread, near the runs and far from them."""
    rng = np.random.default_rng(3)
    row, tests = error_table()["cake_solids"], 4000
    ahead = _places(1.6, 4.0, 12.0)
    both = np.concatenate([TRIED, ahead])
    root = np.linalg.cholesky(field_between(both, both) + 1e-9 * np.eye(len(both)))
    field = row["field"] * rng.standard_normal((tests, len(both))) @ root.T
    field += row["level"] * rng.standard_normal((tests, 1))
    read = field[:, :RUNS] + row["run"] * rng.standard_normal((tests, RUNS))
    read += row["day"] * np.repeat(rng.standard_normal((tests, 2)), 3, axis=1)
    common = np.hypot(row["trial"], row["batch"])
    read += common * rng.standard_normal((tests, 1)) + 0.03 * rng.standard_normal((tests, RUNS))
    seen = Seen(TRIED, DAYS, OBSERVED, np.full(RUNS, 0.03), read)
    for at in range(3):
        wide = np.repeat(ahead[at : at + 1], tests, axis=0)
        mean, sd = seen.error_at("cake_solids", wide, np.arange(tests))
        z = (field[:, RUNS + at] - mean) / sd
        assert z.mean() == pytest.approx(0.0, abs=0.06)
        assert z.std() == pytest.approx(1.0, abs=0.05)


def test_bands_grow_with_distance_to_the_prior() -> None:
    """Between the runs the error is known best; at ten times the speed its level alone is."""
    seen = Seen(TRIED, DAYS, OBSERVED, np.full(RUNS, 0.02), np.zeros((1, RUNS)))
    pick = np.zeros(4, dtype=int)
    sd = seen.error_at("cake_solids", _places(1.6, 3.0, 6.0, 20.0), pick)[1]
    assert np.all(np.diff(sd) > 0.0)
    assert sd[0] < 0.5 * PRIOR
    assert ROW["field"] < sd[-1] < PRIOR
    other = seen.error_at("cake_solids", _places(1.6), pick[:1], 0.5)[1]
    assert sd[0] < other[0] < PRIOR


def test_what_is_common_does_not_average_out() -> None:
    """A hundred runs of one day at one setting: their mean stays as uncertain as day and trial."""
    places, count = np.repeat(_places(1.0), 100, axis=0), 100
    observed = tuple((run, "cake_solids") for run in range(count))
    whole = covariance_of(places, ("1",) * count, observed, np.full(count, 0.03))
    row = error_table()["cake_solids"]
    common = (
        row["level"] ** 2
        + row["field"] ** 2
        + row["day"] ** 2
        + row["trial"] ** 2
        + row["batch"] ** 2
    )
    assert whole.mean() == pytest.approx(common, rel=0.02)


def test_outputs_err_apart() -> None:
    """Cake and capture of one run share no error of the model."""
    whole = covariance_of(
        TRIED[:1], ("",), ((0, "cake_solids"), (0, "capture")), np.array([0.03, 0.012])
    )
    assert whole[0, 1] == 0.0


def test_what_no_run_was_like_is_said_with_what_was_found_there() -> None:
    """Between the runs nothing is said; far from them, or on another frame, how often it passed."""
    seen = Seen(TRIED, DAYS, OBSERVED, np.full(RUNS, 0.02), np.zeros((1, RUNS)))
    kind = Kind.MULTI_DISC_SCREW_PRESS
    fitted = FittedPress(kind, "a", ("grip",), np.zeros(1), np.eye(1), RUNS, "", "", seen=seen)

    def words(frame: str, speed: float) -> str:
        score = lambda _: np.zeros(1)  # noqa: E731
        return Erring(kind.value, frame, fitted, None, score, score).untried(_places(speed))

    found = error_table()["passed_of_90"]
    assert words("a", 1.6) == ""
    for far, where in ((words("a", 20.0), "beyond"), (words("b", 1.6), "frame")):
        assert far.startswith(UNTRIED)
        assert f"passed {100 * found[where]:.0f} % of later tests" in far
