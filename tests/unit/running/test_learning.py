"""What a fleet learns, and what it does not give away."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from cakewright.errors import DataError
from cakewright.running.expectation import expected_response
from cakewright.running.investigate import conditions_of, responses_of
from cakewright.running.learning import Contribution, contribution, pool_fleet, pool_parameter
from cakewright.running.practice_plant import invented_shifts
from cakewright.running.reconcile import reconcile_shifts


def _contribution(seed: int) -> Contribution:
    table = invented_shifts(None, seed=seed, shifts=240).table
    balance = reconcile_shifts(table)
    rows = np.ones(table.size, dtype=bool)
    return contribution("frame", conditions_of(table, balance), responses_of(table, balance), rows)


CONTRIBUTIONS = [_contribution(seed) for seed in range(300, 306)]


def test_equal_sites_pool_to_their_mean() -> None:
    """Sites that agree give their weighted mean, with little scatter between them."""
    got = pool_parameter(np.array([1.0, 1.02, 0.98, 1.0]), np.full(4, 0.05), scale=0.2)
    assert got.mean == pytest.approx(1.0, abs=0.01)
    assert got.between < 0.1
    assert got.error < 0.06


def test_different_sites_keep_their_difference() -> None:
    """Sites that plainly differ are hardly drawn to the mean, and a new site is left wide."""
    value = np.array([0.0, 1.0, 2.0, 3.0])
    got = pool_parameter(value, np.full(4, 0.05), scale=1.0)
    assert got.drawn == pytest.approx(value, abs=0.05)
    assert got.between > 1.0


def test_a_vague_site_borrows_from_the_fleet() -> None:
    """A site that saw little is drawn to the mean and becomes surer."""
    got = pool_parameter(np.array([1.0, 1.1, 0.9, 5.0]), np.array([0.1, 0.1, 0.1, 3.0]), scale=0.2)
    assert abs(got.drawn[3] - 1.0) < 1.0
    assert got.drawn_error[3] < 1.0


def test_pooling_covers_the_truth() -> None:
    """Over many made-up fleets the new-site band holds the next site about as often as it says."""
    rng = np.random.default_rng(4)
    inside = 0
    for _ in range(300):
        truth = 0.5 + 0.1 * rng.standard_normal(7)
        seen = truth[:6] + 0.05 * rng.standard_normal(6)
        got = pool_parameter(seen, np.full(6, 0.05), scale=0.2)
        deviation = np.hypot(got.error, got.between)
        inside += abs(truth[6] - got.mean) < 1.2816 * deviation
    assert 0.75 < inside / 300 < 0.95


def test_a_fleet_sharpens_the_next_watch() -> None:
    """A new site starts from a narrower belief in the fleet's slopes than from the table."""
    prior = pool_fleet(CONTRIBUTIONS)
    fleet = prior.slope("cake_solids", "screw_speed")
    table = expected_response().slope("cake_solids", "screw_speed")
    assert prior.sites == 6
    assert fleet.spread < table.spread
    assert fleet.slope == pytest.approx(-0.16, abs=0.06)  # the invented plant's own
    assert "fleet of 6" in fleet.source


def test_nothing_names_a_site() -> None:
    """A contribution holds frame, numbers and a digest; the fleet holds no site at all."""
    one = CONTRIBUTIONS[0]
    assert set(Contribution.__slots__) == {"frame", "parameters", "shifts", "token"}
    prior = pool_fleet(CONTRIBUTIONS)
    assert all(p.sites >= 3 for p in prior.parameters.values())
    assert one.token not in repr(prior.parameters)


def test_few_sites_are_not_given_out() -> None:
    """Two sites, or one site three times, are refused."""
    with pytest.raises(DataError, match="at least 3"):
        pool_fleet(CONTRIBUTIONS[:2])
    with pytest.raises(DataError, match="1 different sites"):
        pool_fleet([CONTRIBUTIONS[0]] * 3)


def test_frames_are_not_mixed() -> None:
    """Contributions of two frames are refused."""
    other = replace(CONTRIBUTIONS[3], frame="other")
    with pytest.raises(DataError, match="frame, other"):
        pool_fleet([*CONTRIBUTIONS[:3], other])


def test_a_site_gives_only_what_its_log_says() -> None:
    """A setting that never moved gives an estimate so wide that it weighs nothing."""
    table = invented_shifts(None, seed=320, shifts=240).table
    mean = {**table.mean, "screw_speed": np.full(table.size, 0.02)}
    still = type(table)(
        table.start, table.span, table.run_time, table.seen_time, table.starts, mean, table.coverage
    )
    balance = reconcile_shifts(still)
    rows = np.ones(table.size, dtype=bool)
    one = contribution("frame", conditions_of(still, balance), responses_of(still, balance), rows)
    moved = CONTRIBUTIONS[0].parameters["cake_solids.screw_speed"][1]
    assert one.parameters["cake_solids.screw_speed"][1] > 10 * moved
