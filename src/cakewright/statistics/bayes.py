"""Posterior of a few parameters: normal approximation, importance check, sampler, agreement."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy import special

from cakewright.errors import DisagreementError, InfeasibleError, OutOfRangeError
from cakewright.quantities import FloatArray
from cakewright.statistics.sampling import DEFAULT_SEED, unit_cube

__all__ = [
    "Laplace",
    "Posterior",
    "check_agreement",
    "effective_size",
    "hessian",
    "importance_sampled",
    "laplace",
    "r_hat",
    "sample_posterior",
]

LogDensity = Callable[[FloatArray], FloatArray]
Gradient = Callable[[FloatArray], FloatArray]


@dataclass(frozen=True, slots=True)
class Laplace:
    """Normal approximation: most likely parameters and covariance there."""

    mode: FloatArray
    covariance: FloatArray
    log_density: float

    @property
    def standard_errors(self) -> FloatArray:
        """Standard deviation of each parameter."""
        return np.sqrt(np.diag(self.covariance))


@dataclass(frozen=True, slots=True)
class Posterior:
    """Draws from a posterior with how far to trust them.

    ``effective`` is the number of independent draws they are worth, ``r_hat`` the largest ratio
    of spread between and within chains (1 where there is one set of draws).
    """

    draws: FloatArray
    effective: float
    r_hat: float
    method: str

    @property
    def mean(self) -> FloatArray:
        """Mean of each parameter."""
        return np.asarray(self.draws.mean(axis=0))

    @property
    def deviation(self) -> FloatArray:
        """Standard deviation of each parameter."""
        return np.asarray(self.draws.std(axis=0, ddof=1))


def hessian(log_density: LogDensity, at: FloatArray, steps: FloatArray) -> FloatArray:
    r"""Second derivatives by central differences.

    Parameters
    ----------
    log_density : callable
        Parameters of shape (m, p) in, m values out. [object]
    at : ndarray, shape (p,)
        Where. [1]
    steps : ndarray, shape (p,)
        Step of each parameter, about a tenth of its spread. [1]

    Returns
    -------
    hessian : ndarray, shape (p, p)
        Symmetric. [1]

    References
    ----------
    .. [1] OWN, central differences of second order.

    Examples
    --------
    >>> hessian(lambda x: -(x[:, 0] ** 2), np.zeros(1), np.full(1, 0.1)).round(6).tolist()
    [[-2.0]]
    """
    centre, h = np.asarray(at, dtype=float), np.asarray(steps, dtype=float)
    p = centre.size
    moves = np.eye(p) * h
    upper = [(i, j) for i in range(p) for j in range(i, p)]
    points = []
    for i, j in upper:
        for a, b in ((1, 1), (1, -1), (-1, 1), (-1, -1)):
            points.append(centre + a * moves[i] + b * moves[j])
    values = np.asarray(log_density(np.array(points)), dtype=float).reshape(-1, 4)
    result = np.empty((p, p))
    for (i, j), (pp, pm, mp, mm) in zip(upper, values, strict=True):
        result[i, j] = result[j, i] = (pp - pm - mp + mm) / (4 * h[i] * h[j])
    return result


def laplace(
    log_density: LogDensity,
    start: FloatArray,
    scale: FloatArray,
    gradient: Gradient | None = None,
) -> Laplace:
    r"""Most likely parameters and the normal approximation about them.

    .. math:: \Sigma = \left(-\nabla\nabla^T \ln p\right)^{-1}

    Parameters
    ----------
    log_density : callable
        Parameters of shape (m, p) in, m log densities out; -inf outside the prior. [object]
    start : ndarray, shape (p,)
        First guess, where the density is not zero. [1]
    scale : ndarray, shape (p,)
        Rough spread of each parameter, such as that of the prior; > 0. [1]
    gradient : callable, optional
        Gradient of the log density at one point of shape (p,). [object]

    Returns
    -------
    laplace : Laplace
        Mode and covariance. [object]

    Raises
    ------
    InfeasibleError
        If the search fails, or the data and prior leave a direction free.

    References
    ----------
    .. [1] MEM, Laplace's method.

    Examples
    --------
    >>> got = laplace(lambda x: -0.5 * ((x[:, 0] - 3) / 0.2) ** 2, np.array([0.0]), np.array([1.0]))
    >>> got.mode.round(4).tolist(), got.standard_errors.round(4).tolist()
    ([3.0], [0.2])
    """
    from scipy.optimize import minimize

    first, unit = np.asarray(start, dtype=float), np.asarray(scale, dtype=float)
    if first.shape != unit.shape or not np.all(unit > 0):
        raise OutOfRangeError("posterior: one scale > 0 per parameter is needed")
    if not np.isfinite(_one(log_density, first)):
        raise OutOfRangeError(
            f"posterior: the density is zero at the start {first.tolist()}; start inside the prior"
        )
    find: Any = minimize
    if gradient is None:
        limit = 4000 * first.size
        found = find(
            lambda z: _bounded(log_density, z * unit),
            first / unit,
            method="Nelder-Mead",
            options={
                "xatol": 1e-8, "fatol": 1e-10, "maxiter": limit, "maxfev": limit, "adaptive": True
            },
        )  # fmt: skip
        failed = not found.success
    else:
        found = find(
            lambda z: _bounded(log_density, z * unit),
            first / unit,
            jac=lambda z: -np.asarray(gradient(z * unit)) * unit,
            method="BFGS",
            options={"gtol": 1e-8},
        )
        # Status 2 is a stop at the limit of precision, which is as good as converged here.
        failed = not found.success and found.status != 2
    mode = np.asarray(found.x * unit, dtype=float)
    if failed:
        raise InfeasibleError(f"posterior: no most likely point found ({found.message})")
    covariance = _covariance(log_density, mode, unit)
    return Laplace(mode, covariance, _one(log_density, mode))


def _one(log_density: LogDensity, point: FloatArray) -> float:
    return float(np.asarray(log_density(point[None, :]), dtype=float)[0])


def _bounded(log_density: LogDensity, point: FloatArray) -> float:
    value = _one(log_density, point)
    return -value if np.isfinite(value) else 1e300


def _covariance(log_density: LogDensity, mode: FloatArray, unit: FloatArray) -> FloatArray:
    steps = 0.05 * unit
    for _ in range(4):
        # Steps follow the spread found, so that a poor first scale does not matter.
        information = -hessian(log_density, mode, steps)
        if not np.all(np.isfinite(information)):
            steps = steps / 10
            continue
        eigenvalues = np.linalg.eigvalsh(information * np.outer(unit, unit))
        if eigenvalues[0] <= 1e-9 * max(float(eigenvalues[-1]), 1e-300):
            raise InfeasibleError(
                "posterior: data and prior leave a direction free or the mode lies on a bound; "
                "add a prior or a test, or fix a parameter"
            )
        covariance = np.linalg.inv(information)
        new = 0.1 * np.sqrt(np.diag(covariance))
        if np.all(np.abs(np.log(new / steps)) < 0.1):
            return np.asarray(covariance)
        steps = new
    if np.all(np.isfinite(information)):
        return np.asarray(np.linalg.inv(information))
    raise InfeasibleError("posterior: the mode lies on the bound of the prior; widen the prior")


def importance_sampled(
    log_density: LogDensity,
    approximation: Laplace,
    count: int = 4096,
    seed: int = DEFAULT_SEED,
    freedom: float = 5.0,
    widen: float = 1.1,
) -> Posterior:
    r"""Posterior by weighting draws of a widened t distribution about the mode.

    Draws are resampled by weight; ``effective`` is :math:`(\sum w)^2/\sum w^2`.

    Parameters
    ----------
    log_density : callable
        Parameters of shape (m, p) in, m log densities out. [object]
    approximation : Laplace
        Normal approximation. [object]
    count : int
        Number of draws. [1]
    seed : int
        Seed. [1]
    freedom : float
        Degrees of freedom of the t distribution. [1]
    widen : float
        Factor on the spread. [1]

    Returns
    -------
    importance_sampled : Posterior
        Equally weighted draws with their effective number. [object]

    Raises
    ------
    InfeasibleError
        If no draw has any weight.

    References
    ----------
    .. [1] MEM, importance sampling; Kong's effective size.

    Examples
    --------
    >>> density = lambda x: -0.5 * (x[:, 0] - 3) ** 2
    >>> approximation = laplace(density, np.array([0.0]), np.array([1.0]))
    >>> importance_sampled(density, approximation, 1024).effective > 700
    True
    """
    p = approximation.mode.size
    cube = unit_cube(count, p + 1, seed)
    chi = special.chdtri(freedom, 1 - cube[:, p]) / freedom
    factor = widen * np.linalg.cholesky(approximation.covariance)
    score = special.ndtri(cube[:, :p]) / np.sqrt(chi)[:, None]
    draws = approximation.mode + score @ factor.T
    proposal = -0.5 * (freedom + p) * np.log1p(np.sum(score**2, axis=1) / freedom)
    weights = np.asarray(log_density(draws), dtype=float) - proposal
    top = np.max(weights[np.isfinite(weights)], initial=-np.inf)
    if not np.isfinite(top):
        raise InfeasibleError("posterior: no draw has any weight; the mode may be a spike")
    share = np.where(np.isfinite(weights), np.exp(np.minimum(weights - top, 0)), 0.0)
    effective = float(share.sum() ** 2 / np.sum(share**2))
    places = (np.arange(count) + 0.5) / count
    chosen = np.searchsorted(np.cumsum(share) / share.sum(), places).clip(max=count - 1)
    kept = draws[chosen][np.random.default_rng(seed).permutation(count)]
    return Posterior(kept, effective, 1.0, "importance sampling")


def r_hat(chains: FloatArray) -> float:
    r"""Largest ratio of spread between and within split chains; 1 when they agree.

    Parameters
    ----------
    chains : ndarray, shape (chains, draws, p)
        Chains; each is split in two. [1]

    Returns
    -------
    r_hat : float
        Largest over the parameters. [1]

    References
    ----------
    .. [1] MEM, Gelman and Rubin 1992, split chains.

    Examples
    --------
    >>> r_hat(np.random.default_rng(1).normal(size=(4, 500, 2))) < 1.02
    True
    """
    x = np.asarray(chains, dtype=float)
    half = x.shape[1] // 2
    if x.ndim != 3 or half < 4:
        raise OutOfRangeError(f"r-hat: got chains of shape {x.shape}; at least 8 draws each")
    parts = np.concatenate([x[:, :half], x[:, half : 2 * half]])
    within = parts.var(axis=1, ddof=1).mean(axis=0)
    between = parts.mean(axis=1).var(axis=0, ddof=1)
    if np.any(within <= 0):
        raise OutOfRangeError("r-hat: a chain does not move; the sampler is stuck")
    return float(np.max(np.sqrt((half - 1) / half + between / within)))


def effective_size(chains: FloatArray) -> float:
    r"""Independent draws that autocorrelated chains are worth, smallest over the parameters.

    Parameters
    ----------
    chains : ndarray, shape (chains, draws, p)
        Chains. [1]

    Returns
    -------
    effective_size : float
        Number of draws. [1]

    References
    ----------
    .. [1] MEM, initial positive sequence of Geyer 1992.

    Examples
    --------
    >>> effective_size(np.random.default_rng(1).normal(size=(4, 500, 1))) > 1500
    True
    """
    x = np.asarray(chains, dtype=float)
    m, n, p = x.shape
    centred = x - x.mean(axis=(0, 1))
    padded = np.fft.rfft(centred, 2 * n, axis=1)
    power = np.fft.irfft(np.abs(padded) ** 2, axis=1)[:, :n]
    correlation = power.mean(axis=0) / np.maximum(power[:, 0].mean(axis=0), 1e-300)
    sizes = []
    for column in correlation.T:
        pairs = column[: 2 * (n // 2)].reshape(-1, 2).sum(axis=1)
        end = int(np.argmax(pairs < 0)) if np.any(pairs < 0) else pairs.size
        sizes.append(m * n / max(2 * pairs[:end].sum() - 1, 1e-3))
    return float(min(*sizes, m * n) if p > 1 else min(sizes[0], m * n))


def sample_posterior(
    log_density: LogDensity,
    approximation: Laplace,
    draws: int = 4000,
    seed: int = DEFAULT_SEED,
    walkers: int = 0,
    most_r_hat: float = 1.01,
    longest: int = 16_000,
) -> Posterior:
    r"""Posterior by an ensemble of walkers (stretch move), started about the mode.

    Parameters
    ----------
    log_density : callable
        Parameters of shape (m, p) in, m log densities out. [object]
    approximation : Laplace
        Where to start. [object]
    draws : int
        Draws kept, thinned evenly. [1]
    seed : int
        Seed. [1]
    walkers : int
        Number of walkers; 0 takes four per parameter, at least 16. [1]
    most_r_hat : float
        Largest r-hat at which the chains are believed. [1]
    longest : int
        Steps after which the sampler gives up. [1]

    Returns
    -------
    sample_posterior : Posterior
        Draws with effective number and r-hat. [object]

    Raises
    ------
    DisagreementError
        If the chains still disagree after the longest run.

    References
    ----------
    .. [1] MEM, Goodman and Weare 2010, by the general library.

    Examples
    --------
    >>> density = lambda x: -0.5 * ((x - 3) ** 2).sum(axis=1)
    >>> approximation = laplace(density, np.zeros(2), np.ones(2))
    >>> sample_posterior(density, approximation, draws=500).draws.shape
    (500, 2)
    """
    import emcee

    p = approximation.mode.size
    count = walkers or max(16, 4 * p)
    generator = np.random.default_rng(seed)
    factor = np.asarray(np.linalg.cholesky(approximation.covariance), dtype=float)
    start = _inside(log_density, approximation.mode, factor, count, generator)
    sampler = emcee.EnsembleSampler(count, p, _guarded(log_density), vectorize=True)
    state = emcee.State(start, random_state=np.random.RandomState(seed).get_state())
    steps, ratio, chains = 500, np.inf, np.empty((0, 0, 0))
    while steps <= longest:
        state = sampler.run_mcmc(state, steps)
        whole = np.asarray(sampler.get_chain())
        chains = np.swapaxes(whole[len(whole) // 4 :], 0, 1)
        ratio = r_hat(_grouped(chains))
        if ratio <= most_r_hat and effective_size(chains) > min(400, draws):
            return _kept(chains, draws, ratio)
        steps *= 2
    raise DisagreementError(
        f"posterior: chains still disagree after {len(sampler.get_chain())} steps "
        f"(r-hat {ratio:.3f}, allowed {most_r_hat:g}; {effective_size(chains):.0f} effective "
        "draws); the data do not pin the parameters: add a test or a prior, or fix one of them"
    )


def _guarded(log_density: LogDensity) -> LogDensity:
    def density(points: FloatArray) -> FloatArray:
        values = np.asarray(log_density(points), dtype=float)
        return np.where(np.isnan(values), -np.inf, values)

    return density


def _inside(
    log_density: LogDensity,
    mode: FloatArray,
    factor: FloatArray,
    count: int,
    generator: np.random.Generator,
) -> FloatArray:
    kept: list[FloatArray] = []
    for shrink in 0.5 ** np.arange(12):
        trial = mode + shrink * generator.standard_normal((4 * count, mode.size)) @ factor.T
        kept += list(trial[np.isfinite(_guarded(log_density)(trial))])
        if len(kept) >= count:
            return np.array(kept[:count])
    raise InfeasibleError("posterior: the density is zero all about the mode")


def _grouped(chains: FloatArray) -> FloatArray:
    """Four groups of walkers, each strung together in order of time, as the chains of r-hat."""
    size = len(chains) // 4
    groups = [chains[size * g : size * (g + 1)] for g in range(4)]
    return np.stack([np.swapaxes(group, 0, 1).reshape(-1, chains.shape[2]) for group in groups])


def _kept(chains: FloatArray, draws: int, ratio: float) -> Posterior:
    flat = np.swapaxes(chains, 0, 1).reshape(-1, chains.shape[2])
    places = np.linspace(0, len(flat) - 1, draws).astype(int)
    return Posterior(flat[places], effective_size(chains), ratio, "ensemble of walkers")


def check_agreement(
    one: Posterior,
    other: Posterior,
    names: Sequence[str],
    most_shift: float = 0.2,
    most_ratio: float = 1.25,
) -> None:
    r"""Refuse to go on when two methods that must agree do not.

    Parameters
    ----------
    one : Posterior
        First result. [object]
    other : Posterior
        Second result, by another method. [object]
    names : sequence of str
        Names of the parameters. [object]
    most_shift : float
        Largest difference of means, in standard deviations, besides sampling error. [1]
    most_ratio : float
        Largest ratio of standard deviations. [1]

    Returns
    -------
    check_agreement : None
        Nothing when they agree. [object]

    Raises
    ------
    DisagreementError
        Names every parameter that differs, with both figures.

    References
    ----------
    .. [1] JUDGEMENT, limits: differences that would show in a reported band.

    Examples
    --------
    >>> draws = np.random.default_rng(1).normal(size=(4000, 1))
    >>> check_agreement(Posterior(draws, 4000, 1.0, "a"), Posterior(draws, 4000, 1.0, "b"), ["x"])
    """
    spread = np.minimum(one.deviation, other.deviation)
    noise = 3 * np.sqrt(1 / one.effective + 1 / other.effective)
    shift = np.abs(one.mean - other.mean) / np.maximum(spread, 1e-300)
    ratio = np.maximum(one.deviation, other.deviation) / np.maximum(spread, 1e-300)
    bad = (shift > most_shift + noise) | (ratio > most_ratio * (1 + noise))
    if np.any(bad):
        found = [
            f"{names[i]}: {one.mean[i]:.4g} ± {one.deviation[i]:.2g} ({one.method}) against "
            f"{other.mean[i]:.4g} ± {other.deviation[i]:.2g} ({other.method})"
            for i in map(int, np.flatnonzero(bad))
        ]
        raise DisagreementError(
            f"posterior: two methods disagree on {'; '.join(found)}; neither is reported: "
            "add a test that tells the parameters apart, or change to parameters that the data fix"
        )
