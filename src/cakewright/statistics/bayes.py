"""Posterior of a few parameters: normal approximation, draws, and whether two ways agree."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from cakewright.errors import DisagreementError, OutOfRangeError
from cakewright.quantities import FloatArray

__all__ = [
    "Laplace",
    "Posterior",
    "check_agreement",
    "effective_size",
    "r_hat",
]


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
