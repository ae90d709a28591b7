"""Trial runs as a function of scores: rows kept apart, settings felt, unknown plates shared."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.unit.jobs.press_cases import made_up, trial_of


def test_a_batch_is_its_rows_one_by_one() -> None:
    """Scores of one row never leak into another: a batch equals its rows evaluated alone."""
    trial = made_up({}, 6)
    points = 0.5 * np.random.default_rng(2).standard_normal((4, trial.size))
    law = 0.3 * np.random.default_rng(3).standard_normal((4, trial.law_size))
    together = trial.predicted(points, law)
    alone = [trial.predicted(points[i : i + 1], law[i : i + 1])[0] for i in range(4)]
    assert together == pytest.approx(np.array(alone), rel=1e-9)
    assert np.ptp(together[:, 0]) > 1e-3


def test_side_ratio_dries_and_fines_cost_capture() -> None:
    """More stress on the face dries every cake; a higher fines factor loses solids."""
    trial = made_up({}, 6)
    base = np.zeros((1, trial.size))
    cakes = [k for k, (_, name) in enumerate(trial.observed) if name == "cake_solids"]
    captures = [k for k, (_, name) in enumerate(trial.observed) if name == "capture"]
    pressed, lost = base.copy(), base.copy()
    pressed[0, trial.names.index("side_ratio")] = 0.5
    lost[0, trial.names.index("fines_factor")] = 0.5
    rows = trial.predicted(np.concatenate([base, pressed, lost]))
    assert np.all(rows[1, cakes] > rows[0, cakes])
    assert np.all(rows[2, captures] < rows[0, captures])


def test_runs_of_one_plate_setting_share_its_pressure() -> None:
    """Without a read pressure a plate setting is one score; a higher one dries its runs only."""
    runs = list(made_up({}, 6).runs[:3])
    runs[0] = replace(runs[0], back_pressure=None, plate="hole 2")
    runs[1] = replace(runs[1], back_pressure=None, plate="hole 2")
    trial = trial_of(runs)
    assert trial.plates == ("hole 2",)
    assert trial.size == len(trial.names) + 1
    points = np.zeros((2, trial.size))
    points[0, -1], points[1, -1] = -0.5, 0.0
    low, high = trial.predicted(points)
    cakes = [k for k, (_, name) in enumerate(trial.observed) if name == "cake_solids"]
    assert np.all((high - low)[cakes[:2]] > 0.05)
    assert high[cakes[2]] == pytest.approx(low[cakes[2]], rel=1e-9)


def test_power_adds_the_friction_of_the_machine() -> None:
    """Friction, idle shear and drive efficiency are fitted only where power or torque was read."""
    run = made_up({}, 6).runs[0]
    powered = replace(run, readings={**run.readings, "power": (50.0, 4.0)})
    assert "friction" not in trial_of([run]).names
    assert "friction" in trial_of([powered]).names


def test_a_limit_pulls_however_far_beyond_it_a_run_lies() -> None:
    """Farther beyond a limit is always less likely: no fit may settle with all runs beyond one."""
    trial = made_up({}, 6)
    margin = np.array([0.5, 0.0, -0.5, -1.0, -2.0])
    chance = trial.chance_of_running(margin)
    assert chance[1] == pytest.approx(0.5)
    assert chance[0] == pytest.approx(1.0 - chance[2])
    # the tail of a logistic law of deviation 0.1: its logarithm falls by pi / sqrt(3) for each 0.1
    assert np.diff(np.log(chance[2:])) == pytest.approx(-np.array([5.0, 10.0]) * 1.8138, rel=1e-3)
