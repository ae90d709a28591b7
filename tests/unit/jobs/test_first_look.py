"""Gross misreadings are named by run and quantity before any sampler starts."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest
from tests.unit.jobs.press_cases import made_up, trial_of

from cakewright.errors import DisagreementError
from cakewright.jobs import calibrate as job
from cakewright.jobs.calibration_density import Density, most_likely
from cakewright.jobs.first_look import first_look, hard_runs, without_doubts
from cakewright.jobs.trial import Trial

HIDDEN = {"grip": 0.4, "side_ratio": -0.6, "fines_factor": 1.2}


@cache
def misread(factor: float) -> Trial:
    """Six runs, the cake of the third read wrong by a factor."""
    runs = list(made_up(HIDDEN, 5).runs[:6])
    cake, sd = runs[2].readings["cake_solids"]
    readings = {**runs[2].readings, "cake_solids": (factor * cake, factor * sd)}
    runs[2] = replace(runs[2], readings=readings)
    return trial_of(runs)


@pytest.mark.parametrize("factor", [2.5, 0.5])
def test_a_misread_cake_is_named_and_nothing_else(factor: float) -> None:
    """Run and quantity; without that reading nothing is doubted, and the run keeps its others."""
    trial = misread(factor)
    density = Density(trial)
    doubts = first_look(density, most_likely(density))
    assert [(one.run, one.output) for one in doubts] == [("R3", "cake_solids")]
    assert ("above" if factor > 1 else "below") in doubts[0].words
    rest = without_doubts(trial, doubts)
    assert "capture" in rest.runs[2].readings
    assert "cake_solids" not in rest.runs[2].readings


def test_honest_runs_are_not_doubted() -> None:
    """Scatter as the model allows it names nobody."""
    density = Density(made_up(HIDDEN, 5))
    assert first_look(density, most_likely(density)) == ()


def test_samplers_that_fail_say_which_runs_make_it_hard(monkeypatch: pytest.MonkeyPatch) -> None:
    """The error names the misreading, or else the runs least foretold by the others."""

    def stuck(*_: object, **__: object) -> None:
        raise DisagreementError("posterior: draws no longer move")

    monkeypatch.setattr(job, "tempered_population", stuck)
    with pytest.raises(DisagreementError, match=r"run R3: cake solids .* --without-odd"):
        job.calibrate(misread(2.5), "2026-05-04", with_check=False)
    density = Density(made_up(HIDDEN, 5))
    assert hard_runs(density, most_likely(density))
