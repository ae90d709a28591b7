"""Draws: order, seed, correlation, convergence, and what is refused."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from cakewright.errors import OutOfRangeError, UnknownNameError
from cakewright.statistics.marginals import (
    constant_marginal,
    normal_marginal,
    two_piece_marginal,
)
from cakewright.statistics.sampling import (
    Design,
    correlation_matrix,
    draw,
    percentile_convergence,
    score_correlation,
    unit_cube,
)

THREE = {
    "a": normal_marginal(1.0, 0.2),
    "b": two_piece_marginal(2.0, 3.0, 7.0, lower=0.0),
    "c": constant_marginal(5.0),
    "d": two_piece_marginal(3.0, 4.0, 6.0, lower=0.0),
}


def test_point_case_comes_first_and_constants_take_no_dimension() -> None:
    """Element 0 is the typical value of every input; a constant stays constant."""
    got = draw(THREE, count=64)
    assert [got[name][0] for name in THREE] == [1.0, 3.0, 5.0, 4.0]
    assert got.uncertain == ("a", "b", "d")
    assert got.cube.shape == (64, 3)
    assert np.all(got["c"] == 5.0)
    assert all(got[name].shape == (65,) for name in THREE)


def test_no_samples_is_the_point_case_alone() -> None:
    """A count of zero evaluates the point case only."""
    assert draw(THREE, count=0)["b"].tolist() == [3.0]


def test_seed_decides_the_draws_and_is_shown() -> None:
    """Same seed, same numbers; another seed, others; the statement names it."""
    first, again, other = (draw(THREE, 64, seed=s) for s in (1, 1, 2))
    assert np.array_equal(first["b"], again["b"])
    assert not np.array_equal(first["b"], other["b"])
    assert "seed 1" in first.statement
    assert "64 samples in 8 independent blocks" in first.statement


@pytest.mark.parametrize("design", list(Design))
def test_cube_fills_every_stratum(design: Design) -> None:
    """Sobol and Latin points put one point in each of n slices of every coordinate."""
    cube = unit_cube(128, 3, seed=5, design=design)
    slices = [len(set(np.floor(column * 128).astype(int))) for column in cube.T]
    assert (slices == [128, 128, 128]) == (design is not Design.RANDOM)
    assert np.all((cube > 0) & (cube < 1))


def test_blocks_are_independent_scrambles() -> None:
    """Each block is complete in itself and differs from the others."""
    cube = unit_cube(256, 2, seed=5, replicates=4)
    blocks = cube.reshape(4, 64, 2)
    for block in blocks:
        assert len(set(np.floor(block[:, 0] * 64).astype(int))) == 64
    assert not np.array_equal(blocks[0], blocks[1])


def test_correlation_is_the_one_asked_for() -> None:
    """Normal inputs get the correlation itself, others the rank correlation it implies."""
    got = draw(THREE, 4096, correlation={("a", "b"): 0.6, ("a", "d"): -0.3})
    rank = stats.spearmanr(got["a"][1:], got["b"][1:]).statistic
    assert score_correlation(rank) == pytest.approx(0.6, abs=0.01)
    logs = np.corrcoef(got["a"][1:], np.log(got["d"][1:]))[0, 1]
    assert logs == pytest.approx(-0.3, abs=0.01)


def test_correlation_keeps_the_marginals() -> None:
    """Percentiles of a correlated input are still the ones given."""
    got = draw(THREE, 4096, correlation={("a", "b"): 0.8})
    band = np.quantile(got["b"][1:], [0.1, 0.5, 0.9])
    np.testing.assert_allclose(band, [2.0, 3.0, 7.0], rtol=0.01)


def test_contradicting_correlations_are_named() -> None:
    """The smallest eigenvalue and the guilty pairs stand in the message."""
    pairs = {("a", "b"): 0.9, ("b", "d"): 0.9, ("a", "d"): -0.9}
    with pytest.raises(OutOfRangeError, match=r"smallest eigenvalue -0\.8.*\(a, b\) = 0\.9"):
        draw(THREE, 64, correlation=pairs)


def test_innocent_pairs_are_not_blamed() -> None:
    """A pair that plays no part in the contradiction is not in the message."""
    names = ["a", "b", "c", "e", "f"]
    pairs = {("e", "f"): 0.95, ("a", "b"): 0.9, ("b", "c"): 0.9, ("a", "c"): -0.5}
    with pytest.raises(OutOfRangeError) as error:
        correlation_matrix(names, pairs)
    assert "(e, f)" not in str(error.value)
    assert "(a, c)" in str(error.value)


@pytest.mark.parametrize(
    ("pairs", "text"),
    [
        ({("a", "b"): 1.0}, "strictly between"),
        ({("a", "a"): 0.5}, "two different inputs"),
        ({("a", "b"): 0.5, ("b", "a"): 0.4}, "twice"),
    ],
)
def test_impossible_pairs_are_refused(pairs: dict[tuple[str, str], float], text: str) -> None:
    """A correlation of one, of an input with itself, or given twice is refused."""
    with pytest.raises(OutOfRangeError, match=text):
        correlation_matrix(["a", "b"], pairs)


def test_correlating_a_constant_is_refused() -> None:
    """A pair with an input that has no spread is named."""
    with pytest.raises(UnknownNameError, match="'c' is not an uncertain input"):
        draw(THREE, 64, correlation={("a", "c"): 0.5})
    with pytest.raises(UnknownNameError, match="was not drawn"):
        draw(THREE, 64)["zz"]


def test_counts_that_do_not_fit_are_refused() -> None:
    """Samples that do not divide into blocks are refused, in drawing and in judging."""
    with pytest.raises(OutOfRangeError, match="multiple of blocks"):
        draw(THREE, 63)
    with pytest.raises(OutOfRangeError, match="two equal blocks"):
        percentile_convergence(np.arange(64.0), 8)


def test_stated_error_covers_the_true_error() -> None:
    """Over many seeds the true error of P90 lies within two stated standard errors mostly."""
    truth = stats.norm(3, 2).ppf(0.9)
    inside = 0
    for seed in range(40):
        got = draw({"x": normal_marginal(3, 2)}, 512, seed=seed)
        stated = percentile_convergence(got["x"], got.replicates, [0.9])
        inside += abs(stated.percentiles[0] - truth) < 3 * stated.standard_errors[0]
    assert inside >= 34


def test_more_samples_mean_a_smaller_stated_error() -> None:
    """Sixteen times the samples cut the stated error of the median by more than four."""
    few, many = (draw({"x": normal_marginal(3, 2)}, n) for n in (256, 4096))
    error = [percentile_convergence(d["x"], 8, [0.5]).standard_errors[0] for d in (few, many)]
    assert error[1] < error[0] / 4
    assert "P50" in percentile_convergence(few["x"], 8).statement


def test_latin_cube_is_the_general_librarys() -> None:
    """Point for point the hypercube the general library would draw from the same stream."""
    stream = np.random.SeedSequence(5).spawn(1)[0]
    asked = stats.qmc.LatinHypercube(3, rng=np.random.default_rng(stream)).random(50)
    assert unit_cube(50, 3, 5, Design.LATIN) == pytest.approx(asked, abs=1e-9)
