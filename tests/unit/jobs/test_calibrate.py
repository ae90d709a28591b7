"""Machine parameters from trial runs: recovered, checked, refused, and told honestly."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.unit.jobs.press_cases import made_up, narrow_law, trial_of

from cakewright.errors import DataError, DisagreementError
from cakewright.jobs.calibrate import CalibrationFindings, calibrate, settled
from cakewright.jobs.contradictions import _repeats
from cakewright.jobs.fitted import (
    BUILT_ON,
    FittedPress,
    chosen_draws,
    drawn_parameters,
    from_line,
    joint_places,
)
from cakewright.jobs.next_trial import Target
from cakewright.jobs.trial import Trial
from cakewright.machines import Kind
from cakewright.machines.press_priors import parameter_priors
from cakewright.quantities import FloatArray, Mark
from cakewright.statistics.bayes import Posterior, check_agreement
from cakewright.storage.press_parameters import parse_press_parameters, press_parameters_toml

HIDDEN = {"grip": 0.4, "side_ratio": -0.6, "fines_factor": 1.2}
DUTY = Target(3 / 60, 4e4, 8 / 3600, 0.012, 0.011, 293.15, "the duty")


@pytest.fixture(scope="module")
def found() -> CalibrationFindings:
    """Seven made-up runs, with their duty."""
    return calibrate(
        made_up(HIDDEN, 5), "2026-05-04", target=DUTY, mark=Mark.INVENTED, with_check=False
    )


def test_hidden_machine_lies_in_the_posterior(found: CalibrationFindings) -> None:
    """Each hidden score lies within three standard deviations of its posterior mean."""
    names = found.trial.names
    hidden = np.array([HIDDEN.get(name, 0.0) for name in names])
    away = (hidden - found.draws.mean(axis=0)) / found.draws.std(axis=0)
    assert np.all(np.abs(away) < 3.0), dict(zip(names, away, strict=True))


def test_bands_narrow_about_the_readings(found: CalibrationFindings) -> None:
    """Cake bands shrink to less than half, and no honest reading contradicts the others."""
    cakes = [c for c in found.checks if c.output == "cake_solids"]
    for check in cakes:
        assert check.after[2] - check.after[0] < 0.5 * (check.before[2] - check.before[0])
    assert found.contradictions == ()
    assert found.chance > 1e-3


def test_fines_are_learnt_and_renewals_are_not(found: CalibrationFindings) -> None:
    """Captures tell of fines; nothing in these runs tells how often the face is renewed."""
    left = {item.name: item.left for item in found.narrowed}
    assert left["fines_factor"] < 0.7
    assert left["renewals"] > 0.8


def test_next_trials_are_ranked_and_never_widen(found: CalibrationFindings) -> None:
    """The best candidate comes first and every one narrows the duty's cake at least a little."""
    spreads = [trial.spread_after for trial in found.next_trials]
    assert len(spreads) == 5
    assert spreads == sorted(spreads)
    assert all(0.0 < trial.narrowing < 1.0 for trial in found.next_trials)


def test_parameters_survive_their_file(found: CalibrationFindings) -> None:
    """The saved file reads back as the same posterior, mark, date and law."""
    again = parse_press_parameters(press_parameters_toml(found.fitted))
    assert again.names == found.fitted.names
    assert again.mean == pytest.approx(found.fitted.mean)
    assert again.covariance == pytest.approx(found.fitted.covariance, abs=1e-8)
    assert again.draws == pytest.approx(found.fitted.draws, rel=1e-5)
    assert again.seen is not None
    assert found.fitted.seen is not None
    assert again.seen.observed == found.fitted.seen.observed
    assert again.seen.left == pytest.approx(found.fitted.seen.left, rel=1e-4, abs=1e-6)
    assert (again.mark, again.date, again.law) == (Mark.INVENTED, "2026-05-04", found.fitted.law)


def _scores(count: int) -> dict[str, FloatArray]:
    rng = np.random.default_rng(5)
    names = [f"~press.{n}" for n in parameter_priors(Kind.MULTI_DISC_SCREW_PRESS)]
    return {key: rng.standard_normal(count) for key in (*names, *(f"~law.{i}" for i in range(14)))}


def test_next_study_draws_from_the_posterior(found: CalibrationFindings) -> None:
    """Draws of a fitted parameter have the posterior's mean and spread; others keep the prior."""
    scores = _scores(4000)
    kind = Kind.MULTI_DISC_SCREW_PRESS
    drawn = drawn_parameters(kind, scores.__getitem__, found.fitted, None)
    prior = drawn_parameters(kind, scores.__getitem__, None, None)
    at = found.fitted.names.index("fines_factor")
    lines = np.log(drawn["fines_factor"])
    spread = np.sqrt(found.fitted.covariance[at, at])
    assert lines.mean() == pytest.approx(found.fitted.mean[at], abs=4 * spread / np.sqrt(4000))
    assert lines.std() == pytest.approx(spread, rel=0.05)
    assert np.array_equal(drawn["friction"], prior["friction"])
    other = drawn_parameters(
        Kind.SCREEN_DRUM_SCREW_PRESS, scores.__getitem__, found.fitted, narrow_law()
    )
    assert np.array_equal(other["grip"], parameter_priors(kind)["grip"].at(scores["~press.grip"]))
    assert float(from_line(0.0, "log")) == 1.0


def test_a_file_of_the_first_format_is_read_and_says_so(found: CalibrationFindings) -> None:
    """Mean and covariance alone: a normal stands for the draws, and a note says why."""
    text = press_parameters_toml(replace(found.fitted, draws=np.empty((0, 0)), seen=None))
    old = parse_press_parameters(text.replace("press parameters 2", "press parameters 1"))
    assert old.draws.size == 0
    assert any("earlier release" in note for note in old.notes)
    broken = press_parameters_toml(found.fitted).replace('rows = """\n', 'rows = """\nodd ')
    with pytest.raises(DataError, match="draws"):
        parse_press_parameters(broken)


def test_samples_are_paired_with_every_draw(found: CalibrationFindings) -> None:
    """Every draw is used as often, draws go with the scores, and the point is their mean."""
    scores = _scores(513)
    pick = chosen_draws(found.fitted, scores.__getitem__, with_law=False)
    assert pick[0] == -1
    count = len(found.fitted.draws)
    assert np.array_equal(np.sort(pick[1 : count + 1]), np.arange(count))
    places = joint_places(found.fitted, scores.__getitem__, with_law=False)
    at = found.fitted.names.index("fines_factor")
    assert np.corrcoef(places[1:, at], scores["~press.fines_factor"][1:])[0, 1] > 0.3
    assert places[0] == pytest.approx(found.fitted.mean[: len(found.fitted.names)])


@pytest.mark.nightly
def test_runs_in_two_parts_teach_what_they_teach_together(found: CalibrationFindings) -> None:
    """Half the runs, then the other half on top of them, against all at once."""
    whole = made_up(HIDDEN, 5)
    parts = [replace(whole, runs=tuple(whole.runs[at::2])) for at in (0, 1)]

    def fitted(trial: Trial) -> FittedPress:
        return calibrate(trial, "2026-05-04", with_check=False).fitted

    second = fitted(replace(parts[1], before=fitted(parts[0])))
    together = found.fitted
    assert second.runs == together.runs
    assert second.notes[-1].startswith(BUILT_ON)
    size = len(together.names)
    spread = np.sqrt(np.diag(together.covariance))[:size]
    assert np.all(np.abs(second.mean - together.mean)[:size] < 0.5 * spread)
    ratio = np.sqrt(np.diag(second.covariance))[:size] / spread
    assert np.all((ratio > 0.75) & (ratio < 1.33)), ratio


def test_one_run_says_what_it_cannot_tell() -> None:
    """A single run is fitted, and the words say that it fixes one combination only."""
    trial = made_up(HIDDEN, 5)
    found = calibrate(trial_of([trial.runs[1]]), "2026-05-04", with_check=False)
    assert any("one run only" in text for text in found.words)
    assert not any("foretell" in text for text in found.contradictions)
    assert min(item.left for item in found.narrowed) > 0.3


def test_a_contradictory_run_is_named() -> None:
    """A run whose cake is read half as wet again stands out by name; the others do not."""
    trial = made_up(HIDDEN, 5)
    odd = trial.runs[2]
    cake, sd = odd.readings["cake_solids"]
    wrong = replace(odd, readings={**odd.readings, "cake_solids": (1.5 * cake, sd)})
    runs = [wrong if run.name == odd.name else run for run in trial.runs[:5]]
    found = calibrate(trial_of(runs), "2026-05-04", with_check=False)
    worst = max(found.checks, key=lambda check: abs(check.odd))
    assert (worst.run, worst.output) == (odd.name, "cake_solids")
    assert any(text.startswith(f"run {odd.name}: cake solids") for text in found.contradictions)


def test_no_run_and_doubled_names_are_refused() -> None:
    """A trial without runs, or with one name twice, is refused with every fault."""
    run = made_up(HIDDEN, 5).runs[0]
    with pytest.raises(DataError, match="one run or more"):
        calibrate(trial_of([]), "2026-05-04")
    with pytest.raises(DataError, match="the name twice"):
        calibrate(trial_of([run, run]), "2026-05-04")
    with pytest.raises(DataError, match="no reading"):
        calibrate(trial_of([replace(run, readings={})]), "2026-05-04")


def test_methods_that_disagree_are_not_reported() -> None:
    """Two posteriors half a spread apart are refused by name."""
    rng = np.random.default_rng(1)
    one = Posterior(rng.standard_normal((2000, 1)), 2000.0, 1.0, "weighted draws")
    two = Posterior(0.6 + rng.standard_normal((2000, 1)), 2000.0, 1.0, "walkers")
    with pytest.raises(DisagreementError, match="grip"):
        check_agreement(one, two, ["grip"])


def test_two_runs_at_one_setting_that_contradict_are_named() -> None:
    """The same settings, cakes 40 % apart: no machine gives both, and both runs are named."""
    run = made_up(HIDDEN, 5).runs[1]
    cake, sd = run.readings["cake_solids"]
    again = replace(run, name="again", readings={"cake_solids": (1.4 * cake, sd)})
    assert _repeats(trial_of([run, replace(run, name="twin")]), 0.02) == []
    (words,) = _repeats(trial_of([run, again]), 0.02)
    assert words.startswith(f"runs {run.name} and again were run at the same settings")


def test_two_methods_a_little_apart_are_pooled() -> None:
    """Pooled draws are as wide as both need; agreeing ones stay as they are; far ones refuse."""
    rng = np.random.default_rng(3)
    narrow = Posterior(rng.normal(0.0, 1.0, (400, 1)), 300, 1.0, "narrow")
    same = Posterior(rng.normal(0.0, 1.0, (500, 1)), 300, 1.01, "same")
    wide = Posterior(rng.normal(0.2, 2.2, (500, 1)), 300, 1.01, "wide")
    far = Posterior(rng.normal(3.0, 1.0, (500, 1)), 300, 1.01, "far")
    assert settled(narrow, same, ["x"])[0] is narrow
    pooled, told = settled(narrow, wide, ["x"])
    assert "differ on x" in told
    assert narrow.deviation < pooled.deviation < wide.deviation
    assert len(pooled.draws) == 800
    with pytest.raises(DisagreementError, match="x"):
        settled(narrow, far, ["x"])
