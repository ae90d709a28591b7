"""Many parameters of one frame pooled at once: each site's own evidence, then what a new site has.

Sites give a normal likelihood of their parameters in units of the class prior (mean 0, spread 1).
The truths of the sites scatter about the fleet's mean; how much, parameter by parameter, is
sampled with them, so that few sites give a humble answer and none gives the class prior back.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from cakewright.errors import DataError, Fault
from cakewright.quantities import FloatArray

__all__ = ["BETWEEN_SHARE", "Evidence", "NewSite", "evidence_of", "new_site"]

# Share of the class prior's variance that lies between presses of one frame (judgement).
BETWEEN_SHARE = 0.5
_WARM = 100


@dataclass(frozen=True, slots=True, eq=False)
class Evidence:
    """One site's likelihood: information matrix and its product with the estimate."""

    information: FloatArray
    pull: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class NewSite:
    """What a new site starts from, in units of the class prior; spread between sites per row."""

    mean: FloatArray
    covariance: FloatArray
    between: FloatArray


def evidence_of(mean: FloatArray, covariance: FloatArray) -> Evidence:
    """A posterior with the class prior taken out of it, so that the prior is counted once only.

    Directions in which the posterior is no narrower than the prior carry no evidence.
    """
    precision = np.linalg.inv(covariance)
    values, vectors = np.linalg.eigh((precision + precision.T) / 2)
    kept = np.where(values > 1.0, values - 1.0, 0.0)
    pull = vectors @ np.where(values > 1.0, values * (vectors.T @ mean), 0.0)
    return Evidence(np.asarray((vectors * kept) @ vectors.T), np.asarray(pull))


def _between(
    rng: np.random.Generator, sites: FloatArray, mean: FloatArray, scale: float
) -> FloatArray:
    """Draw of the scatter between sites, each parameter by itself, on a grid."""
    grid = scale * np.geomspace(0.03, 5.0, 80)[:, None]
    square = ((sites - mean) ** 2).sum(axis=0)
    logs = (1 - len(sites)) * np.log(grid) - square / (2 * grid**2) - (grid / scale) ** 2 / 2
    chance = np.cumsum(np.exp(logs - logs.max(axis=0)), axis=0)
    at = (chance < rng.random(mean.size) * chance[-1]).sum(axis=0)
    return np.asarray(grid[np.minimum(at, len(grid) - 1), 0])


def _given(
    information: FloatArray, pull: FloatArray, between: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Fleet mean and covariance with the sites integrated out, and each site's own covariance."""
    weight = np.diag(between**-2)
    own = np.linalg.inv(information + weight)
    told = (weight - weight @ own @ weight).sum(axis=0)
    covariance = np.linalg.inv(told + np.eye(between.size) / (1 - BETWEEN_SHARE))
    mean = covariance @ (weight @ own @ pull[..., None]).sum(axis=0)[:, 0]
    return np.asarray(mean), np.asarray(covariance), np.asarray(own)


def _drawn(rng: np.random.Generator, mean: FloatArray, covariance: FloatArray) -> FloatArray:
    root = np.linalg.cholesky((covariance + np.swapaxes(covariance, -1, -2)) / 2)
    return np.asarray(mean + (root @ rng.standard_normal((*mean.shape, 1)))[..., 0])


def new_site(evidence: Sequence[Evidence], seed: int = 1, draws: int = 1500) -> NewSite:
    """Mean and covariance of a new site's parameters by Gibbs sampling; the same seed repeats it.

    Raises
    ------
    DataError
        If there is no site.
    """
    if not evidence:
        raise DataError("pooling", [Fault("sites", "none", "one or more", "add sites")])
    rng = np.random.default_rng(seed)
    information = np.stack([one.information for one in evidence])
    pull = np.stack([one.pull for one in evidence])
    scale = float(np.sqrt(BETWEEN_SHARE))
    between = np.full(pull.shape[1], scale)
    means, covariances, scatter = [], [], []
    mean, covariance, own = _given(information, pull, between)
    for step in range(_WARM + draws):
        fleet = _drawn(rng, mean, covariance)
        place = (own @ (pull + fleet / between**2)[..., None])[..., 0]
        between = _between(rng, _drawn(rng, place, own), fleet, scale)
        mean, covariance, own = _given(information, pull, between)
        if step >= _WARM:
            means.append(mean)
            covariances.append(covariance + np.diag(between**2))
            scatter.append(between)
    apart = np.cov(np.array(means).T).reshape(between.size, between.size)
    total = np.mean(covariances, axis=0) + apart
    return NewSite(np.mean(means, axis=0), total, np.mean(scatter, axis=0))
