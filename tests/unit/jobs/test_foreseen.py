"""Runs and trends held against what was believed before any fit."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.unit.jobs.press_cases import made_up

from cakewright.jobs.calibration_density import Density, Mode, most_likely
from cakewright.jobs.foreseen import Foreseen, foreseen_of, unforeseen_words
from cakewright.jobs.trial import Trial


@pytest.fixture(scope="module")
def honest() -> tuple[Trial, Mode]:
    """Runs of a hidden machine within the prior."""
    trial = made_up({}, 5)
    return trial, most_likely(Density(trial))


def _told(found: tuple[Foreseen, ...], what: str) -> Foreseen:
    return next(one for one in found if one.what == what)


def test_honest_runs_were_foreseen(honest: tuple[Trial, Mode]) -> None:
    """Every run and every trend varied has its chance, and nothing is named."""
    found = foreseen_of(*honest)
    runs = [f"run {run.name}" for run in honest[0].runs]
    assert [one.what for one in found[: len(runs)]] == runs
    assert {"cake solids over speed", "capture over speed"} <= {one.what for one in found}
    assert all(one.chance is not None and 0.0 < one.could <= 1.0 for one in found)
    assert unforeseen_words(found) == ()


def test_a_cake_beyond_the_prior_is_named_run_by_run(honest: tuple[Trial, Mode]) -> None:
    """One cake read as 60 %: that run alone is beyond, and the words name it."""
    trial, mode = honest
    odd = replace(trial.runs[1], readings={**trial.runs[1].readings, "cake_solids": (0.6, 0.004)})
    wrong = replace(trial, runs=[trial.runs[0], odd, *trial.runs[2:]])
    found = foreseen_of(wrong, mode)
    beyond = _told(found, f"run {odd.name}").chance
    assert beyond is not None
    assert beyond < 1e-3
    told = [one for one in found if one.what.startswith("run") and one.what != f"run {odd.name}"]
    assert all(one.chance is not None and one.chance > 0.01 for one in told)
    assert any(odd.name in words for words in unforeseen_words(found))


def test_a_trend_turned_round_is_beyond_though_its_runs_may_not_be(
    honest: tuple[Trial, Mode],
) -> None:
    """Cakes that rise steeply with speed: the trend's chance falls far below what it was."""
    trial, mode = honest
    speed = np.array([run.speed for run in trial.runs])
    runs = [
        replace(run, readings={**run.readings, "cake_solids": (0.12 * n, 0.004)})
        for run, n in zip(trial.runs, (speed / speed.mean()) ** 1.5, strict=True)
    ]
    before = _told(foreseen_of(trial, mode), "cake solids over speed").chance
    after = _told(foreseen_of(replace(trial, runs=runs), mode), "cake solids over speed").chance
    assert before is not None
    assert after is not None
    assert after < 0.01 < before


def test_no_chance_is_told_where_hardly_a_draw_can_run(honest: tuple[Trial, Mode]) -> None:
    """With every draw beyond a limit the share is told and the chance is not."""
    trial, mode = honest
    found = foreseen_of(trial, replace(mode, prior_margins=mode.prior_margins - 10.0))
    assert all(one.could == 0.0 and one.chance is None for one in found)
    assert "no chance is told" in unforeseen_words(found)[0]
