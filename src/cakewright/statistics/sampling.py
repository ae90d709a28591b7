"""Draws over many uncertain numbers at once: quasi-random, correlated, the point case first."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

import numpy as np
from scipy import special

from cakewright.errors import OutOfRangeError, UnknownNameError
from cakewright.quantities import FloatArray
from cakewright.statistics.marginals import Marginal, quantile

__all__ = [
    "DEFAULT_SEED",
    "Convergence",
    "Design",
    "Draws",
    "correlation_matrix",
    "draw",
    "draws_on_cube",
    "percentile_convergence",
    "score_correlation",
    "unit_cube",
]

DEFAULT_SEED = 20_240_229
_EDGE = 2.0**-40
_NONE: Mapping[tuple[str, str], float] = MappingProxyType({})


class Design(StrEnum):
    """How the unit cube is filled."""

    SOBOL = "scrambled Sobol sequence"
    LATIN = "Latin hypercube"
    RANDOM = "plain random"


@dataclass(frozen=True, slots=True)
class Draws:
    """Values over samples for every name; element 0 of each is the point case.

    Elements 1.. are ``replicates`` independent blocks of equal length, one after the other.
    ``uncertain`` names the inputs with spread, in the order of the columns of ``cube``.
    """

    values: Mapping[str, FloatArray]
    uncertain: tuple[str, ...]
    cube: FloatArray
    seed: int
    replicates: int
    design: Design

    @property
    def count(self) -> int:
        """Number of samples, the point case not counted."""
        return int(self.cube.shape[0])

    def __getitem__(self, name: str) -> FloatArray:
        if name not in self.values:
            raise UnknownNameError(f"{name!r} was not drawn; drawn are {sorted(self.values)}")
        return self.values[name]

    @property
    def statement(self) -> str:
        """How the draws were made, in words, for every report."""
        return (
            f"{self.count} samples in {self.replicates} independent blocks, "
            f"{self.design.value}, seed {self.seed}"
        )


@dataclass(frozen=True, slots=True)
class Convergence:
    """Percentiles of a result with the standard error that the sampling leaves in them."""

    probabilities: tuple[float, ...]
    percentiles: FloatArray
    standard_errors: FloatArray
    replicates: int

    @property
    def statement(self) -> str:
        """The percentiles with their sampling error, in words."""
        parts = [
            f"P{100 * p:g} {x:.4g} ± {2 * e:.2g}"
            for p, x, e in zip(
                self.probabilities, self.percentiles, self.standard_errors, strict=True
            )
        ]
        return f"{', '.join(parts)} (± two standard errors from {self.replicates} blocks)"


def unit_cube(
    count: int,
    dimension: int,
    seed: int = DEFAULT_SEED,
    design: Design = Design.SOBOL,
    replicates: int = 1,
) -> FloatArray:
    r"""Points that fill the unit cube, strictly inside it.

    Parameters
    ----------
    count : int
        Number of points; a multiple of ``replicates``; blocks of a power of two are best. [1]
    dimension : int
        Number of coordinates; >= 0. [1]
    seed : int
        Seed; the same seed gives the same points. [1]
    design : Design
        How the cube is filled. [object]
    replicates : int
        Number of independently scrambled blocks. [1]

    Returns
    -------
    unit_cube : ndarray, shape (count, dimension)
        The points. [1]

    Raises
    ------
    OutOfRangeError
        If the count is not a positive multiple of the replicates.

    References
    ----------
    .. [1] OWN, wraps the general library's sequences.

    Examples
    --------
    >>> unit_cube(8, 2).shape
    (8, 2)
    """
    if replicates < 1 or count < 1 or count % replicates:
        raise OutOfRangeError(
            f"unit cube: got {count} samples in {replicates} blocks; "
            "count must be a positive multiple of blocks; try 4096 in 8"
        )
    streams = np.random.SeedSequence(seed).spawn(replicates)
    size = count // replicates
    blocks = [_block(size, dimension, np.random.default_rng(s), design) for s in streams]
    return np.clip(np.concatenate(blocks), _EDGE, 1 - _EDGE)


def _block(size: int, dimension: int, generator: np.random.Generator, design: Design) -> FloatArray:
    if dimension == 0 or design is Design.RANDOM:
        return generator.random((size, dimension))
    if design is Design.LATIN:
        return _latin(size, dimension, generator)
    from scipy.stats import qmc

    sobol = qmc.Sobol(dimension, scramble=True, bits=32, rng=generator)
    # A whole power of two is drawn and cut, so that odd counts need no warning.
    return np.asarray(sobol.random_base2((size - 1).bit_length())[:size])


def _latin(size: int, dimension: int, generator: np.random.Generator) -> FloatArray:
    """Latin hypercube, point for point that of the general library.

    That library takes longer to load than the whole study to sample.
    """
    (own,) = generator.spawn(1)
    within = own.uniform(size=(size, dimension))
    strata = np.tile(np.arange(1, size + 1), (dimension, 1))
    for row in strata:
        own.shuffle(row)
    return np.asarray((strata.T - within) / size)


def correlation_matrix(names: Sequence[str], pairs: Mapping[tuple[str, str], float]) -> FloatArray:
    r"""Correlation matrix from its pairs, checked to be possible.

    Parameters
    ----------
    names : sequence of str
        Names in the order of rows and columns. [object]
    pairs : mapping of pair of str to float
        Correlation of each correlated pair; strictly between -1 and 1; the rest are 0. [1]

    Returns
    -------
    correlation_matrix : ndarray, shape (n, n)
        Symmetric, positive definite. [1]

    Raises
    ------
    UnknownNameError
        If a pair names something that is not in ``names``.
    OutOfRangeError
        If a correlation is outside -1 to 1, a pair is given twice, or the matrix is not positive
        definite; names the smallest eigenvalue and the pairs that contradict one another.

    References
    ----------
    .. [1] OWN, definition.

    Examples
    --------
    >>> correlation_matrix(["a", "b"], {("a", "b"): 0.5}).tolist()
    [[1.0, 0.5], [0.5, 1.0]]
    """
    matrix = np.eye(len(names))
    place = {name: index for index, name in enumerate(names)}
    seen: set[frozenset[str]] = set()
    for (one, other), value in pairs.items():
        _check_pair(one, other, value, place, seen)
        matrix[place[one], place[other]] = matrix[place[other], place[one]] = value
    _check_definite(matrix, names)
    return matrix


def _check_pair(
    one: str, other: str, value: float, place: Mapping[str, int], seen: set[frozenset[str]]
) -> None:
    for name in (one, other):
        if name not in place:
            raise UnknownNameError(
                f"correlation ({one}, {other}): {name!r} is not an uncertain input; "
                f"those are {sorted(place)}; give it a spread or drop the pair"
            )
    if not -1 < value < 1 or one == other:
        raise OutOfRangeError(
            f"correlation ({one}, {other}): got {value:g}; it must join two different inputs "
            "and lie strictly between -1 and 1"
        )
    if frozenset((one, other)) in seen:
        raise OutOfRangeError(f"correlation ({one}, {other}) is given twice; keep one")
    seen.add(frozenset((one, other)))


def _check_definite(matrix: FloatArray, names: Sequence[str]) -> None:
    if not matrix.size:
        return
    eigenvalues, vectors = np.linalg.eigh(matrix)
    if eigenvalues[0] > 1e-10:
        return
    weakest = vectors[:, 0]
    pull = np.triu(matrix * np.outer(weakest, weakest), 1)
    order = np.dstack(np.unravel_index(np.argsort(pull, axis=None), pull.shape))[0]
    pairs = [f"({names[i]}, {names[j]}) = {matrix[i, j]:g}" for i, j in order[:3] if pull[i, j] < 0]
    raise OutOfRangeError(
        "correlations contradict one another: the matrix is not positive definite, smallest "
        f"eigenvalue {eigenvalues[0]:.3g}; it must be > 0; look at {', '.join(pairs)}: "
        "weaken one of them or add the correlation that links them"
    )


def score_correlation(rank_correlation: float | FloatArray) -> FloatArray:
    r"""Correlation of normal scores that gives a wanted rank correlation.

    .. math:: r = 2 \sin(\pi r_s / 6)

    Parameters
    ----------
    rank_correlation : float or ndarray
        Spearman's rank correlation; -1 to 1. [1]

    Returns
    -------
    score_correlation : ndarray
        Correlation to give to :func:`draw`. [1]

    References
    ----------
    .. [1] MEM, identity of the bivariate normal.

    Examples
    --------
    >>> round(float(score_correlation(0.5)), 4)
    0.5176
    """
    return np.asarray(2 * np.sin(np.pi * np.asarray(rank_correlation, dtype=float) / 6))


def draw(
    marginals: Mapping[str, Marginal],
    count: int = 4096,
    correlation: Mapping[tuple[str, str], float] = _NONE,
    seed: int = DEFAULT_SEED,
    replicates: int = 8,
    design: Design = Design.SOBOL,
) -> Draws:
    r"""Values of every input over samples, the point case first.

    Independent points of the unit cube become normal scores, are correlated by the Cholesky
    factor of the matrix (Gaussian copula), and pass through each marginal's quantile function.

    Parameters
    ----------
    marginals : mapping of str to Marginal
        Distribution of each input; constants take no dimension of the cube. [object]
    count : int
        Samples besides the point case; 0 gives the point case alone. [1]
    correlation : mapping of pair of str to float
        Correlation of normal scores of each correlated pair. [1]
    seed : int
        Seed, shown in :attr:`Draws.statement`. [1]
    replicates : int
        Independent blocks, from which the sampling error is judged. [1]
    design : Design
        How the cube is filled. [object]

    Returns
    -------
    draw : Draws
        Arrays of ``count + 1`` values. [object]

    Raises
    ------
    OutOfRangeError
        If the correlations contradict one another or the count does not fit the replicates.

    References
    ----------
    .. [1] OWN, Gaussian copula.

    Examples
    --------
    >>> from cakewright.statistics.marginals import normal_marginal
    >>> draw({"x": normal_marginal(3.0, 1.0)}, count=16)["x"][0]
    np.float64(3.0)
    """
    uncertain = _uncertain(marginals)
    matrix = correlation_matrix(uncertain, correlation)
    if count == 0:
        return draws_on_cube(marginals, np.empty((0, len(uncertain))), seed, 1, design)
    cube = unit_cube(count, len(uncertain), seed, design, replicates)
    return draws_on_cube(marginals, _correlated(cube, matrix), seed, replicates, design)


def draws_on_cube(
    marginals: Mapping[str, Marginal],
    cube: FloatArray,
    seed: int = DEFAULT_SEED,
    replicates: int = 1,
    design: Design = Design.SOBOL,
) -> Draws:
    r"""Values of every input on given points of the unit cube, the point case first.

    Parameters
    ----------
    marginals : mapping of str to Marginal
        Distribution of each input. [object]
    cube : ndarray, shape (n, d)
        Points strictly inside the unit cube, one column per input with spread. [1]
    seed : int
        Seed that made the cube, to be shown. [1]
    replicates : int
        Independent blocks in the cube. [1]
    design : Design
        How the cube was filled. [object]

    Returns
    -------
    draws_on_cube : Draws
        Arrays of ``n + 1`` values. [object]

    Raises
    ------
    OutOfRangeError
        If the cube has not one column per uncertain input.

    References
    ----------
    .. [1] OWN, inverse transform.

    Examples
    --------
    >>> from cakewright.statistics.marginals import normal_marginal
    >>> draws_on_cube({"x": normal_marginal(2.0, 1.0)}, np.array([[0.5]]))["x"].tolist()
    [2.0, 2.0]
    """
    uncertain = _uncertain(marginals)
    if cube.ndim != 2 or cube.shape[1] != len(uncertain):
        raise OutOfRangeError(
            f"draws: got a cube of shape {cube.shape}; it needs one column for each of the "
            f"{len(uncertain)} inputs with spread: {', '.join(uncertain)}"
        )
    values: dict[str, FloatArray] = {}
    for name, marginal in marginals.items():
        drawn = np.full(len(cube), float(marginal.point))
        if marginal.has_spread and len(cube):
            drawn = quantile(marginal, cube[:, uncertain.index(name)])
        values[name] = np.concatenate(([marginal.point], drawn))
    return Draws(MappingProxyType(values), uncertain, cube, seed, replicates, design)


def _uncertain(marginals: Mapping[str, Marginal]) -> tuple[str, ...]:
    return tuple(name for name, marginal in marginals.items() if marginal.has_spread)


def _correlated(cube: FloatArray, matrix: FloatArray) -> FloatArray:
    if not matrix.size or np.array_equal(matrix, np.eye(len(matrix))):
        return cube
    scores = special.ndtri(cube) @ np.linalg.cholesky(matrix).T
    return np.clip(special.ndtr(scores), _EDGE, 1 - _EDGE)


def percentile_convergence(
    samples: FloatArray,
    replicates: int,
    probabilities: Sequence[float] = (0.1, 0.5, 0.9),
) -> Convergence:
    r"""Percentiles of a result and the sampling error left in them.

    The standard error is the spread of the percentile between independent blocks over the root
    of their number.

    Parameters
    ----------
    samples : ndarray, shape (n + 1,)
        Result over samples, point case first, as evaluated on :class:`Draws`. [1]
    replicates : int
        Number of independent blocks in it, ``Draws.replicates``; >= 2. [1]
    probabilities : sequence of float
        Which percentiles. [1]

    Returns
    -------
    percentile_convergence : Convergence
        Percentiles of all samples, with standard errors. [object]

    Raises
    ------
    OutOfRangeError
        If the samples do not divide into at least two blocks.

    References
    ----------
    .. [1] OWN, standard error of a mean of independent replicates.

    Examples
    --------
    >>> percentile_convergence(np.arange(17.0), 2).percentiles.shape
    (3,)
    """
    drawn = np.asarray(samples, dtype=float)[1:]
    if replicates < 2 or drawn.size < 2 * replicates or drawn.size % replicates:
        raise OutOfRangeError(
            f"convergence: got {drawn.size} samples in {replicates} blocks; "
            "at least two equal blocks of two are needed; draw with replicates=8"
        )
    blocks = np.quantile(drawn.reshape(replicates, -1), probabilities, axis=1)
    errors = np.std(blocks, axis=1, ddof=1) / np.sqrt(replicates)
    return Convergence(tuple(probabilities), np.quantile(drawn, probabilities), errors, replicates)
