"""Posterior of many parameters on few evaluations: a tempered population, independent chains."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from cakewright.errors import DisagreementError, OutOfRangeError
from cakewright.quantities import FloatArray
from cakewright.statistics.bayes import Laplace, Posterior, effective_size, r_hat
from cakewright.statistics.sampling import DEFAULT_SEED

__all__ = ["chains_about", "tempered_population"]

LogDensity = Callable[[FloatArray], FloatArray]
_SHARES = (0.9, 0.5, 1.0, 0.8)  # how much of the reference a move brings in, in turn
_WIDER = 1.3  # variance of the law moved about, over that of the draws: tails must not stick
_COUNTING = 0.5  # share of the draws that still count after one step of the temperature
_LEAST_EFFECTIVE = 50.0


class _Mixing(NamedTuple):
    """Rounds of moves at least and at most, and when draws count as mixed.

    ``alike`` is the correlation of draws with where they started.
    """

    least: int
    most: int
    alike: float


_ON_THE_WAY = _Mixing(1, 4, 0.7)
_MIXED = _Mixing(4, 12, 0.3)


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


@dataclass(slots=True, eq=False)
class _Population:
    """Draws on their way from the start law to the density, and how many they are worth."""

    points: FloatArray
    worth: FloatArray
    reference: _Reference
    effective: float
    power: float = 0.0


def tempered_population(
    log_density: LogDensity,
    start: Laplace,
    count: int = 512,
    rounds: int = 12,
    seed: int = DEFAULT_SEED,
) -> Posterior:
    r"""Posterior by a population led from a normal law, such as the prior, to the density.

    The density is :math:`p_t = N_0^{1-t}\,p^t`, :math:`N_0` the start law. Each step raises
    :math:`t` so far that half of the draws still count, resamples them by weight and makes four
    moves at the new :math:`t`, up to sixteen where they hardly
    move. A move :math:`x' = m + \sqrt{1-b^2}(x-m) + b\,L\xi` leaves the law
    :math:`N(m, LL^T)` of the population unchanged, so it is accepted by the ratio of :math:`p_t`
    and that law alone, often also in many dimensions. At :math:`t = 1` rounds of four moves go on
    until the largest correlation :math:`\rho`, over the parameters, of draws with where they
    stood when it was reached is at most 0.3, sixteen moves at least.

    ``effective`` follows the error of a mean: weights leave :math:`n_w = n N_w/N` of :math:`n`,
    moves renew :math:`1/n = \rho^2/n_w + (1-\rho^2)/N`.

    Parameters
    ----------
    log_density : callable
        Parameters of shape (m, p) in, m log densities out. [object]
    start : Laplace
        Normal law the draws come from at first; every mode must lie within its reach. [object]
    count : int
        Draws in the population. [1]
    rounds : int
        Rounds of four moves at most once the density is reached. [1]
    seed : int
        Seed. [1]

    Returns
    -------
    tempered_population : Posterior
        Equally weighted draws with their effective number. [object]

    Raises
    ------
    DisagreementError
        If no draw has any weight, or fewer than 50 effective draws are left.

    References
    ----------
    .. [1] MEM, sequential Monte Carlo with adaptive temperatures and moves reversible to a normal
       law.

    Examples
    --------
    >>> density = lambda x: -0.5 * np.sum((x - 3) ** 2, axis=1)
    >>> tempered_population(density, Laplace(np.zeros(2), np.eye(2), 0.0)).mean.round(0).tolist()
    [3.0, 3.0]
    """
    rng = np.random.default_rng(seed)
    first = _Reference(start.mode, start.covariance)
    points = first.mean + first.normals(rng.standard_normal((count, first.mean.size)))
    now = _Population(points, _finite(log_density(points)), first, float(count))
    if not np.any(np.isfinite(now.worth)):
        raise DisagreementError("posterior: no draw of the prior has any weight; check the data")
    while now.power < 1.0:
        _warmed(now, first, rng)
        wanted = _MIXED._replace(most=rounds) if now.power == 1.0 else _ON_THE_WAY
        _mixed(now, log_density, first, wanted, rng)
        if now.effective < _LEAST_EFFECTIVE:
            raise DisagreementError(
                f"posterior: draws no longer move at {now.power:.2g} of the data's weight "
                f"({now.effective:.0f} effective, {_LEAST_EFFECTIVE:.0f} wanted): the data bind "
                "the parameters harder than can be drawn; take them apart, or widen the readings"
            )
    return Posterior(now.points, now.effective, 1.0, "tempered population")


def _warmed(now: _Population, first: _Reference, rng: np.random.Generator) -> None:
    """Raise the power by as much as the draws bear, and resample."""
    count = len(now.points)
    gain = now.worth - first.log(now.points)
    gain = np.where(np.isfinite(gain), gain, -np.inf)
    step = _step_of(gain, 1.0 - now.power, _COUNTING * count)
    weights = _weights(gain, step)
    now.power = 1.0 if step >= 1.0 - now.power else now.power + step
    places = (np.arange(count) + rng.random()) / count
    chosen = np.searchsorted(np.cumsum(weights), places).clip(max=count - 1)
    now.points, now.worth = now.points[chosen], now.worth[chosen]
    now.effective *= float(1.0 / np.sum(weights**2)) / count
    now.reference = _followed(now)


def _mixed(
    now: _Population,
    log_density: LogDensity,
    first: _Reference,
    wanted: _Mixing,
    rng: np.random.Generator,
) -> None:
    """Rounds of four moves until draws no longer resemble their starts."""
    origin, alike = now.points, 1.0
    for turn in range(wanted.most):
        for share in _SHARES:
            _step(now, log_density, first, share, rng)
        alike = _resemblance(origin, now.points)
        if turn + 1 >= wanted.least and alike <= wanted.alike:
            break
        now.reference = _followed(now)
    left = alike**2 / now.effective + (1.0 - alike**2) / len(origin)
    now.effective = float(1.0 / left)


def _weights(gain: FloatArray, power: float) -> FloatArray:
    found = np.exp(power * (gain - gain.max()))
    return np.asarray(found / found.sum())


def _step_of(gain: FloatArray, most: float, least: float) -> float:
    """Largest step of the power, up to the most, at which so many draws still count."""
    low, high = 0.0, most
    if 1.0 / np.sum(_weights(gain, most) ** 2) >= least:
        return most
    for _ in range(40):
        middle = 0.5 * (low + high)
        enough = 1.0 / np.sum(_weights(gain, middle) ** 2) >= least
        low, high = (middle, high) if enough else (low, middle)
    return high


def _step(
    now: _Population,
    log_density: LogDensity,
    first: _Reference,
    share: float,
    rng: np.random.Generator,
) -> None:
    tried = now.reference.moved(now.points, rng.standard_normal(now.points.shape), share)
    new = _finite(log_density(tried))

    def over(points: FloatArray, worth: FloatArray) -> FloatArray:
        """Log density at this power over the law that moves leave unchanged."""
        cold = (1.0 - now.power) * first.log(points)
        return np.asarray(cold + now.power * worth - now.reference.log(points))

    taken = np.log(rng.random(len(tried))) < over(tried, new) - over(now.points, now.worth)
    now.points = np.where(taken[:, None], tried, now.points)
    now.worth = np.where(taken, new, now.worth)


def _finite(values: FloatArray) -> FloatArray:
    return np.where(np.isfinite(values), values, -np.inf)


def _followed(now: _Population) -> _Reference:
    """Law of the population widened, with a tenth of the former law: none collapses."""
    seen = np.cov(now.points.T).reshape(now.reference.covariance.shape)
    wide = 0.9 * _WIDER * seen + 0.1 * now.reference.covariance
    return _Reference(now.points.mean(axis=0), np.asarray(wide))


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
    `tempered_population` with shares drawn at random; nothing passes from one chain to another. The
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
