"""Posterior of many parameters on few evaluations: a moved population, and independent chains."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from cakewright.errors import DisagreementError, OutOfRangeError
from cakewright.quantities import FloatArray
from cakewright.statistics.bayes import Laplace, Posterior, effective_size, r_hat
from cakewright.statistics.sampling import DEFAULT_SEED

__all__ = ["chains_about", "moved_population"]

LogDensity = Callable[[FloatArray], FloatArray]
_SHARES = (0.9, 0.5, 1.0, 0.8)  # how much of the reference a move brings in, in turn
_ALIKE = 0.3  # correlation of draws with their starts at which they count as mixed
_LEAST_ROUNDS = 3
_WIDER = 1.3  # variance of the law moved about, over that of the draws: tails must not stick


class _Reference:
    """Normal law that moves leave unchanged: moves about it keep what they need not change."""

    def __init__(self, mean: FloatArray, covariance: FloatArray) -> None:
        size = mean.size
        jitter = 1e-9 * float(np.trace(covariance)) / size
        self.mean = mean
        self.covariance = (covariance + covariance.T) / 2.0 + jitter * np.eye(size)
        self.root = np.linalg.cholesky(self.covariance)

    def log(self, points: FloatArray) -> FloatArray:
        unit = np.linalg.solve(self.root, (points - self.mean).T)
        return np.asarray(-0.5 * np.sum(unit**2, axis=0))

    def normals(self, unit: FloatArray) -> FloatArray:
        return np.asarray(unit @ self.root.T)

    def moved(self, points: FloatArray, unit: FloatArray, share: FloatArray | float) -> FloatArray:
        kept = np.sqrt(1.0 - np.square(share))
        return np.asarray(self.mean + kept * (points - self.mean) + share * self.normals(unit))


def moved_population(
    log_density: LogDensity,
    approximation: Laplace,
    count: int = 384,
    first: int = 768,
    rounds: int = 12,
    seed: int = DEFAULT_SEED,
) -> Posterior:
    r"""Posterior by weighted draws of a normal law, resampled and moved until they have mixed.

    A move :math:`x' = m + \sqrt{1-b^2}(x-m) + b\,L\xi` leaves the normal law
    :math:`N(m, LL^T)` unchanged, so it is accepted by the ratio of density and normal law alone,
    often also in many dimensions. Weights are tempered so that half of the draws still count; the
    law follows the population. Rounds of four moves go on until the largest correlation
    :math:`\rho`, over the parameters, of draws with where they started is at most 0.3, twelve
    moves at least. ``effective`` is :math:`N/(1+\rho(N/N_w-1))`, :math:`N_w` the number the
    weights left.

    Parameters
    ----------
    log_density : callable
        Parameters of shape (m, p) in, m log densities out. [object]
    approximation : Laplace
        Normal approximation. [object]
    count : int
        Draws in the population. [1]
    first : int
        Weighted draws it is taken from. [1]
    rounds : int
        Rounds of four moves after which it gives up. [1]
    seed : int
        Seed. [1]

    Returns
    -------
    moved_population : Posterior
        Equally weighted draws with their effective number. [object]

    Raises
    ------
    DisagreementError
        If the draws have not mixed after the last round.

    References
    ----------
    .. [1] MEM, sequential Monte Carlo with moves reversible to a normal law.

    Examples
    --------
    >>> density = lambda x: -0.5 * np.sum((x - 3) ** 2, axis=1)
    >>> about = Laplace(np.full(2, 2.5), np.eye(2), 0.0)
    >>> moved_population(density, about).mean.round(0).tolist()
    [3.0, 3.0]
    """
    rng = np.random.default_rng(seed)
    points, worth, reference, start = _weighted(log_density, approximation, count, first, rng)
    origin = points.copy()
    alike = 1.0
    for turn in range(rounds):
        for share in _SHARES:
            points, worth = _step(log_density, reference, points, worth, share, rng)
        alike = _resemblance(origin, points)
        if turn >= _LEAST_ROUNDS and alike <= _ALIKE:
            effective = count / (1.0 + alike * max(count / start - 1.0, 0.0))
            return Posterior(points, effective, 1.0, "weighted and moved draws")
        reference = _Reference(points.mean(axis=0), _followed(points, reference))
    raise DisagreementError(
        f"posterior: after {rounds * len(_SHARES)} moves draws still resemble their starts "
        f"(correlation {alike:.2f}, allowed {_ALIKE:g}): the normal approximation and the density "
        "disagree; take the data apart, or add some"
    )


def _weighted(
    log_density: LogDensity,
    approximation: Laplace,
    count: int,
    first: int,
    rng: np.random.Generator,
) -> tuple[FloatArray, FloatArray, _Reference, float]:
    """Population resampled by weight, its log densities, the law it suggests, effective number."""
    normal = _Reference(approximation.mode, 1.5 * approximation.covariance)
    size = approximation.mode.size
    draws = normal.mean + normal.normals(rng.standard_normal((first, size)))
    found = _finite(log_density(draws))
    logs = found - normal.log(draws)
    if not np.isfinite(logs.max()):
        raise DisagreementError("posterior: no draw about the mode has any weight; check the data")
    weights = _tempered(logs, min(0.5 * first, float(count)))
    effective = float(1.0 / np.sum(weights**2))
    chosen = np.searchsorted(np.cumsum(weights), (np.arange(count) + rng.random()) / count)
    chosen = chosen.clip(max=first - 1)
    mean = weights @ draws
    apart = draws - mean
    seen = (weights[:, None] * apart).T @ apart
    part = min(1.0, effective / (4.0 * size))
    blended = part * seen + (1.0 - part) * normal.covariance
    return draws[chosen], found[chosen], _Reference(mean, blended), max(effective, 1.0)


def _tempered(logs: FloatArray, least: float) -> FloatArray:
    """Weights to the largest power up to 1 at which so many draws still count."""

    def at(power: float) -> FloatArray:
        found = np.exp(power * (logs - logs.max()))
        return np.asarray(found / found.sum())

    low, high = 0.0, 1.0
    if 1.0 / np.sum(at(1.0) ** 2) >= least:
        return at(1.0)
    for _ in range(40):
        middle = 0.5 * (low + high)
        enough = 1.0 / np.sum(at(middle) ** 2) >= least
        low, high = (middle, high) if enough else (low, middle)
    return at(low)


def _step(
    log_density: LogDensity,
    reference: _Reference,
    points: FloatArray,
    worth: FloatArray,
    share: float,
    rng: np.random.Generator,
) -> tuple[FloatArray, FloatArray]:
    tried = reference.moved(points, rng.standard_normal(points.shape), share)
    new = _finite(log_density(tried))
    gain = new - reference.log(tried) - worth + reference.log(points)
    taken = np.log(rng.random(len(points))) < gain
    return np.where(taken[:, None], tried, points), np.where(taken, new, worth)


def _finite(values: FloatArray) -> FloatArray:
    return np.where(np.isfinite(values), values, -np.inf)


def _followed(points: FloatArray, before: _Reference) -> FloatArray:
    """Covariance of the population widened, with a tenth of the former law: none collapses."""
    seen = np.cov(points.T).reshape(before.covariance.shape)
    return np.asarray(0.9 * _WIDER * seen + 0.1 * before.covariance)


def _resemblance(start: FloatArray, now: FloatArray) -> float:
    a, b = start - start.mean(axis=0), now - now.mean(axis=0)
    scale = np.sqrt(np.sum(a**2, axis=0) * np.sum(b**2, axis=0))
    return float(np.clip(np.max(np.sum(a * b, axis=0) / np.maximum(scale, 1e-300)), 0.0, 1.0))


def chains_about(
    log_density: LogDensity,
    approximation: Laplace,
    chains: int = 64,
    steps: int = 48,
    longest: int = 384,
    most_r_hat: float = 1.05,
    least: float = 100.0,
    spread: float = 1.5,
    seed: int = DEFAULT_SEED,
) -> Posterior:
    r"""Posterior by independent Metropolis chains from dispersed starts.

    Every chain starts from the normal approximation widened by ``spread`` and makes the moves of
    `moved_population` with shares drawn at random; nothing passes from one chain to another. The
    first quarter is dropped. All chains are run again for as long until r-hat and the effective
    number allow an answer.

    Parameters
    ----------
    log_density : callable
        Parameters of shape (m, p) in, m log densities out. [object]
    approximation : Laplace
        Normal approximation. [object]
    chains : int
        Number of chains. [1]
    steps : int
        Steps of the first lap; doubled until it is enough. [1]
    longest : int
        Steps after which it gives up. [1]
    most_r_hat : float
        Largest r-hat at which the chains are believed. [1]
    least : float
        Effective draws wanted. [1]
    spread : float
        Factor on the spread of the approximation for the starts. [1]
    seed : int
        Seed. [1]

    Returns
    -------
    chains_about : Posterior
        Draws with effective number and r-hat. [object]

    Raises
    ------
    DisagreementError
        If the chains still disagree after the longest lap.

    References
    ----------
    .. [1] MEM, Metropolis moves reversible to a normal law, by the general library.

    Examples
    --------
    >>> density = lambda x: -0.5 * np.sum((x - 3) ** 2, axis=1)
    >>> chains_about(density, Laplace(np.full(2, 2.5), np.eye(2), 0.0)).mean.round(0).tolist()
    [3.0, 3.0]
    """
    import emcee

    if spread < 1.0:
        raise OutOfRangeError(f"chains: got starts {spread:g} times as wide; allowed: 1 or more")
    reference = _Reference(approximation.mode, approximation.covariance)
    rng = np.random.default_rng(seed)
    size = reference.mean.size
    start = reference.mean + spread * reference.normals(rng.standard_normal((chains, size)))

    def proposed(points: FloatArray, state: np.random.RandomState) -> tuple[FloatArray, FloatArray]:
        share = state.choice(np.array(_SHARES), size=(len(points), 1))
        tried = reference.moved(points, state.standard_normal(points.shape), share)
        return tried, reference.log(points) - reference.log(tried)

    sampler = emcee.EnsembleSampler(
        chains,
        size,
        lambda x: _finite(np.asarray(log_density(x))),
        moves=emcee.moves.MHMove(proposed),
        vectorize=True,
    )
    state = emcee.State(start, random_state=np.random.RandomState(seed).get_state())
    done, ratio, worth = 0, np.inf, 0.0
    while done < longest:
        lap = max(steps, done)
        state = sampler.run_mcmc(state, lap, skip_initial_state_check=True)
        done += lap
        kept = np.swapaxes(np.asarray(sampler.get_chain())[done // 4 :], 0, 1)
        ratio, worth = r_hat(_strung(kept)), effective_size(kept)
        if ratio <= most_r_hat and worth >= least:
            return Posterior(kept.reshape(-1, size), worth, ratio, "independent chains")
    raise DisagreementError(
        f"posterior: chains still disagree after {done} steps (r-hat {ratio:.3f}, allowed "
        f"{most_r_hat:g}; {worth:.0f} effective draws); the data do not pin the parameters: add a "
        "test or a prior, or fix one of them"
    )


def _strung(chains: FloatArray) -> FloatArray:
    """Eight groups of chains, each strung together in order of time, for r-hat."""
    groups = [g for g in np.array_split(chains, min(8, len(chains) // 2)) if len(g)]
    least = min(len(g) for g in groups)
    return np.stack([np.swapaxes(g[:least], 0, 1).reshape(-1, chains.shape[2]) for g in groups])
