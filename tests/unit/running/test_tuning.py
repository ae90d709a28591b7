"""Designed trials and the best setting."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from cakewright.errors import DataError, OutOfRangeError
from cakewright.quantities import FloatArray
from cakewright.running.indicators import Prices
from cakewright.running.set_point import BestSetting, Keep, best_setting, disposal_cost
from cakewright.running.tuning import (
    Factor,
    Response,
    analyse_response,
    next_best_run,
    plan_trials,
)

FACTORS = (Factor("screw_speed", 0.01, 0.03), Factor("polymer_dose", 0.006, 0.014))
PRICES = Prices(polymer=4.0, cake=0.09)


def _settings(seed: int = 1) -> dict[str, FloatArray]:
    plan = plan_trials(FACTORS, seed=seed)
    return {f.key: np.array([t.settings[f.key] for t in plan.trials]) for f in FACTORS}


def _cake(settings: dict[str, FloatArray]) -> FloatArray:
    """A made-up press: slower is drier, dose helps up to 10 g/kg."""
    dose = (settings["polymer_dose"] - 0.010) / 0.004
    speed = (settings["screw_speed"] - 0.02) / 0.01
    return np.asarray(0.19 - 0.01 * speed - 0.008 * dose**2)


def test_no_trial_leaves_the_safe_limits() -> None:
    """Corner and axial runs alike stay within the limits, and touch them."""
    for count in (1, 2, 3, 4):
        factors = tuple(Factor(f"f{i}", 1.0, 3.0) for i in range(count))
        values = np.array([list(t.settings.values()) for t in plan_trials(factors).trials])
        assert values.min() == pytest.approx(1.0)
        assert values.max() == pytest.approx(3.0)


def test_centre_runs_frame_and_divide_the_plan() -> None:
    """The first and last run are at the centre and no stretch without one is long."""
    kinds = [t.kind for t in plan_trials(FACTORS, centres=5).trials]
    centres = [i for i, kind in enumerate(kinds) if kind == "centre"]
    assert (centres[0], centres[-1], len(centres)) == (0, len(kinds) - 1, 5)
    assert max(b - a for a, b in pairwise(centres)) <= 4


def test_order_is_drawn() -> None:
    """Another seed gives another order of the same runs."""
    one, two = plan_trials(FACTORS, seed=1), plan_trials(FACTORS, seed=2)
    assert [t.coded for t in one.trials] != [t.coded for t in two.trials]
    assert sorted(t.coded for t in one.trials) == sorted(t.coded for t in two.trials)


def test_limits_must_rise() -> None:
    """Limits the wrong way round are refused."""
    with pytest.raises(OutOfRangeError, match="must be positive and rise"):
        plan_trials((Factor("screw_speed", 0.03, 0.01),))


def test_surface_finds_a_known_optimum() -> None:
    """Curvature in dose is found and its ridge lies at the made-up optimum."""
    settings = _settings()
    rng = np.random.default_rng(0)
    y = _cake(settings) + 0.0005 * rng.standard_normal(len(settings["screw_speed"]))
    got = analyse_response(FACTORS, settings, "cake_solids", y)
    assert got.surface.curvature[1, 1] == pytest.approx(-0.008, abs=0.001)
    assert got.surface.slopes[0] == pytest.approx(-0.01, abs=0.001)
    assert got.curvature_chance < 0.05
    assert got.lack is None or got.lack.chance > 0.01


def test_lack_of_fit_shows_a_cliff() -> None:
    """A response that breaks off cannot pass for a smooth surface."""
    settings = _settings()
    rng = np.random.default_rng(0)
    cliff = np.where(settings["polymer_dose"] < 0.0075, -0.05, 0.0)
    cliff = cliff + np.where(settings["screw_speed"] > 0.0265, -0.05, 0.0)
    y = _cake(settings) + cliff + 0.0003 * rng.standard_normal(len(cliff))
    got = analyse_response(FACTORS, settings, "cake_solids", y)
    assert got.lack is not None
    assert got.lack.chance < 0.01


def test_too_few_runs() -> None:
    """Half a plan is not enough and says how many runs are."""
    settings = {key: value[:6] for key, value in _settings().items()}
    with pytest.raises(DataError, match="6 usable runs"):
        analyse_response(FACTORS, settings, "cake_solids", _cake(settings))


def _responses(noise: float, seed: int = 0) -> dict[str, Response]:
    settings = _settings()
    rng = np.random.default_rng(seed)
    cake = _cake(settings) + noise * rng.standard_normal(len(settings["screw_speed"]))
    dose = (settings["polymer_dose"] - 0.010) / 0.004
    capture = 0.95 + 0.02 * dose + noise * rng.standard_normal(len(cake))
    return {
        "cake_solids": analyse_response(FACTORS, settings, "cake_solids", cake),
        "capture": analyse_response(FACTORS, settings, "capture", capture),
    }


TODAY = {"screw_speed": 0.025, "polymer_dose": 0.013}


def _best(noise: float, least: float = 0.0, seed: int = 0) -> BestSetting:
    return best_setting(
        FACTORS, _responses(noise, seed), TODAY, disposal_cost(PRICES), (Keep("capture", least),)
    )


def test_best_setting_saves_what_the_truth_says() -> None:
    """With clear runs the saving is the true one, nearly sure, at the slow limit."""
    best = _best(0.0005)
    true = {k: np.array([v]) for k, v in TODAY.items()}
    now = 4.0 * 0.013 + 0.09 * (0.95 + 0.02 * 0.75) / _cake(true)[0]
    dose = best.settings["polymer_dose"]
    there = {"screw_speed": np.array([0.01]), "polymer_dose": np.array([dose])}
    then = 4.0 * dose + 0.09 * (0.95 + 0.02 * (dose - 0.010) / 0.004) / _cake(there)[0]
    assert best.on_limit == ("screw_speed",)
    assert best.saving.p50 == pytest.approx(now - then, rel=0.1)
    assert best.chance_of_saving > 0.99


def test_noisy_runs_promise_less() -> None:
    """The worse the runs, the wider the saving."""
    clear, vague = _best(0.0005), _best(0.01)
    assert vague.saving.p90 - vague.saving.p10 > 5 * (clear.saving.p90 - clear.saving.p10)


def test_capture_asked_for_costs_polymer() -> None:
    """A higher least capture moves the best setting to more polymer; too much is refused."""
    assert _best(0.0005, 0.96).settings["polymer_dose"] > _best(0.0005).settings["polymer_dose"]
    with pytest.raises(DataError, match="lower the capture asked for"):
        _best(0.0005, 0.999)


def test_next_run_sharpens_the_surface_most() -> None:
    """No other run lowers the variance at the target more, by trying them all."""
    settings = _settings()
    near = {"screw_speed": 0.012, "polymer_dose": 0.0125}
    chosen = next_best_run(FACTORS, settings, near)
    for factor in FACTORS:
        assert factor.low <= chosen[factor.key] <= factor.high

    def spread(run: dict[str, float]) -> float:
        from cakewright.running.tuning import surface_columns
        from cakewright.statistics.designs import coded

        low, high = np.array([f.low for f in FACTORS]), np.array([f.high for f in FACTORS])
        rows = np.column_stack([np.append(settings[f.key], run[f.key]) for f in FACTORS])
        x = surface_columns(coded(rows, low, high))
        at = surface_columns(coded(np.array([near[f.key] for f in FACTORS]), low, high))[0]
        return float(at @ np.linalg.inv(x.T @ x) @ at)

    best = spread(dict(chosen))
    rng = np.random.default_rng(3)
    for _ in range(50):
        other = {f.key: float(rng.uniform(f.low, f.high)) for f in FACTORS}
        assert best <= spread(other) * 1.001


def _loaded(noise: float = 0.0005) -> dict[str, Response]:
    """The made-up press with its throughput (faster passes more) and torque (slower is harder)."""
    settings, rng = _settings(), np.random.default_rng(3)
    speed = (settings["screw_speed"] - 0.02) / 0.01
    flow = 0.05 + 0.02 * speed + 0.05 * noise * rng.standard_normal(len(speed))
    torque = 0.5 - 0.2 * speed + noise * rng.standard_normal(len(speed))
    return _responses(noise) | {
        "dry_solids_flow": analyse_response(FACTORS, settings, "dry_solids_flow", flow),
        "screw_torque": analyse_response(FACTORS, settings, "screw_torque", torque),
    }


def test_throughput_and_torque_hold_the_optimum_back() -> None:
    """Free, the slow limit is best; 0.05 kg/s forbid speeds under 0.02, torque 0.6 under 0.015."""
    price = disposal_cost(PRICES)
    load = best_setting(FACTORS, _loaded(), TODAY, price, (Keep("dry_solids_flow", 0.05),))
    stop = best_setting(FACTORS, _loaded(), TODAY, price, (Keep("screw_torque", high=0.6),))
    assert load.settings["screw_speed"] == pytest.approx(0.02, abs=0.001)
    assert load.settings["screw_speed"] >= 0.02
    assert stop.settings["screw_speed"] == pytest.approx(0.015, abs=0.001)
    assert stop.held[0][1] >= 0.9


def test_what_is_kept_is_kept_together() -> None:
    """Two limits that each hold alone but nowhere together are refused, each chance named."""
    keeps = (Keep("dry_solids_flow", 0.06), Keep("screw_torque", low=0.5))
    with pytest.raises(DataError, match="dry solids flow 100 %, screw torque 100 %"):
        best_setting(FACTORS, _loaded(), TODAY, disposal_cost(PRICES), keeps)


def test_savings_of_polymer_and_haul() -> None:
    """Polymer saved is the difference of the doses; wet cake saved follows cake and capture."""
    best = _best(0.0005)
    less = TODAY["polymer_dose"] - best.settings["polymer_dose"]
    assert best.saved["polymer_dose"].p50 == pytest.approx(less)
    true = {k: np.array([v]) for k, v in TODAY.items()}
    there = {k: np.array([v]) for k, v in best.settings.items()}
    cake = [
        (0.95 + 0.02 * (x["polymer_dose"][0] - 0.010) / 0.004) / _cake(x)[0] for x in (true, there)
    ]
    assert best.saved["wet_cake"].p50 == pytest.approx(cake[0] - cake[1], rel=0.05)
    assert best.chance_saved["wet_cake"] > 0.99


def test_feed_of_the_coming_weeks_moves_cake_and_capture() -> None:
    """Cake 10 % wetter and twice the loss on the coming feed: both show at the best setting."""
    plain = _best(0.0005)
    shift = {"cake_solids": (np.log(0.9), 0.0), "loss": (np.log(2.0), 0.0)}
    moved = best_setting(
        FACTORS, _responses(0.0005), plain.settings, disposal_cost(PRICES), shift=shift
    )
    there = best_setting(FACTORS, _responses(0.0005), plain.settings, disposal_cost(PRICES))
    assert moved.expected["cake_solids"].p50 == pytest.approx(
        0.9 * there.expected["cake_solids"].p50, rel=0.02
    )
    assert 1 - moved.expected["capture"].p50 > 1.7 * (1 - there.expected["capture"].p50)


def test_every_day_of_trials_has_its_centre_run() -> None:
    """Days of at most three runs, one of them at the centre, so that days can be told apart."""
    factors = [Factor("screw_speed", 0.02, 0.06), Factor("plate_pressure", 2e4, 8e4)]
    plan = plan_trials(factors, per_day=3)
    for day in {trial.day for trial in plan.trials}:
        kinds = [trial.kind for trial in plan.trials if trial.day == day]
        assert kinds.count("centre") == 1
        assert len(kinds) <= 3
    assert [trial.order for trial in plan.trials] == list(range(1, len(plan.trials) + 1))
