"""The expectation fitted to a baseline."""

from __future__ import annotations

import numpy as np
import pytest

from cakewright.errors import DataError
from cakewright.quantities import FloatArray
from cakewright.running.expectation import (
    CONDITIONS,
    RESPONSES,
    Slope,
    expected_response,
    fit_baseline,
)
from cakewright.sources import source

TRUE = {
    "feed_solids": 0.1, "solids_load": -0.1, "dose": 0.2, "screw_speed": -0.2,
    "plate_pressure": 0.1,
}  # fmt: skip
LEVEL = {
    "feed_solids": 0.02, "solids_load": 0.07, "dose": 0.009, "screw_speed": 0.02,
    "plate_pressure": 6e4,
}  # fmt: skip
Made = tuple[dict[str, FloatArray], dict[str, FloatArray]]


def _made(count: int, spread: float, seed: int = 0, moved: tuple[str, ...] = tuple(TRUE)) -> Made:
    rng = np.random.default_rng(seed)
    logs = {k: (0.2 if k in moved else 0.0) * rng.standard_normal(count) for k in TRUE}
    conditions = {k: LEVEL[k] * np.exp(v) for k, v in logs.items()}
    cake = np.log(0.19) + sum((TRUE[k] * v for k, v in logs.items()), np.zeros(count))
    return conditions, {"cake_solids": np.exp(cake + spread * rng.standard_normal(count))}


def test_finds_slopes_that_the_log_shows() -> None:
    """With settings that moved, the slopes are the made-up ones whatever the table believes."""
    conditions, responses = _made(400, 0.01)
    law = fit_baseline(conditions, responses, np.ones(400, dtype=bool)).laws["cake_solids"]
    assert law.parameters[1:] == pytest.approx(list(TRUE.values()), abs=0.02)
    assert law.scatter == pytest.approx(0.01, rel=0.2)


def test_leans_on_the_table_where_a_setting_never_moved() -> None:
    """A screw that always turned at one speed leaves its slope to the table, with its spread."""
    conditions, responses = _made(200, 0.02, moved=("feed_solids", "solids_load", "dose"))
    got = fit_baseline(conditions, responses, np.ones(200, dtype=bool))
    at = 1 + got.conditions.index("screw_speed")
    law, table = got.laws["cake_solids"], expected_response().slope("cake_solids", "screw_speed")
    assert law.parameters[at] == pytest.approx(table.slope, abs=1e-6)
    assert np.sqrt(law.covariance[at, at]) == pytest.approx(table.spread, rel=1e-6)


def test_band_holds_eight_in_ten() -> None:
    """New shifts fall inside the band about as often as it says."""
    conditions, responses = _made(150, 0.03, seed=1)
    law = fit_baseline(conditions, responses, np.ones(150, dtype=bool))
    fresh, seen = _made(3000, 0.03, seed=2)
    band = law.expected(fresh)["cake_solids"]
    inside = (seen["cake_solids"] > band.low()) & (seen["cake_solids"] < band.high())
    assert inside.mean() == pytest.approx(0.8, abs=0.04)


def test_too_short_a_baseline_is_refused() -> None:
    """Ten shifts cannot say what is usual."""
    conditions, responses = _made(10, 0.01)
    with pytest.raises(DataError, match="cake_solids 10"):
        fit_baseline(conditions, responses, np.ones(10, dtype=bool))


def test_table_is_complete_and_sourced() -> None:
    """Every response has a slope to every condition, with a spread and known sources."""
    for response in RESPONSES:
        for condition in CONDITIONS:
            one: Slope = expected_response().slope(response, condition)
            assert one.spread > 0
            for key in one.source.split():
                source(key)


def test_signs_follow_the_known_trends() -> None:
    """Slower screw and more back pressure dry the cake; load wets it; dose saves solids."""
    table = expected_response()
    assert table.slope("cake_solids", "screw_speed").slope < 0
    assert table.slope("cake_solids", "plate_pressure").slope > 0
    assert table.slope("cake_solids", "solids_load").slope < 0
    assert table.slope("loss", "dose").slope < 0
    assert table.slope("torque", "plate_pressure").slope > 0
