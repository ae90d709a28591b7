"""Proving a promise: how many samples, which limit, and the risk on both sides.

All functions take a promise of the kind "at least"; for "at most" change the sign of value,
limit and mean.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import special

from cakewright.errors import InfeasibleError, OutOfRangeError
from cakewright.quantities import FloatArray

__all__ = [
    "Plan",
    "chance_pass",
    "conformity_chance",
    "guard_band",
    "plan_known_deviation",
    "plan_unknown_deviation",
    "risks_normal",
    "sample_size_known_deviation",
]


@dataclass(frozen=True, slots=True)
class Plan:
    """A test by the mean of n samples: pass if mean - k s >= limit (s stated or from the samples).

    ``producer_risk`` is the chance that a product at the good level fails, ``consumer_risk``
    the chance that one at the poor level passes, both as achieved by the whole number n.
    """

    samples: int
    factor: float
    producer_risk: float
    consumer_risk: float
    deviation_known: bool


def _risk(name: str, value: float) -> None:
    if not 0 < value < 1:
        raise OutOfRangeError(f"{name}: got {value:g}; it must lie strictly between 0 and 1")


def sample_size_known_deviation(
    producer_risk: float, consumer_risk: float, deviation: float, difference: float
) -> float:
    r"""Samples that tell two means apart, one-sided, with a known deviation.

    .. math:: n = \left(\frac{(z_\alpha + z_\beta)\,\sigma}{\delta}\right)^2

    Parameters
    ----------
    producer_risk : float
        Chance that the good one fails; :math:`\alpha`; 0 to 1. [1]
    consumer_risk : float
        Chance that the poor one passes; :math:`\beta`; 0 to 1. [1]
    deviation : float
        Standard deviation of a single sample; :math:`\sigma`; > 0. [1]
    difference : float
        Difference of good and poor mean; :math:`\delta`; > 0. [1]

    Returns
    -------
    sample_size_known_deviation : float
        Samples, not rounded; take the next whole number. [1]

    References
    ----------
    .. [1] OWN, two normal tails.

    Examples
    --------
    >>> round(sample_size_known_deviation(0.05, 0.05, 15.0, 10.0), 1)
    24.3
    """
    _risk("producer's risk", producer_risk)
    _risk("consumer's risk", consumer_risk)
    if not deviation > 0 or not difference > 0:
        raise OutOfRangeError(
            f"sample size: got deviation {deviation:g}, difference {difference:g}; both must be "
            "> 0: a promise equal to the true value cannot be proved by any number of samples"
        )
    z = special.ndtri(1 - producer_risk) + special.ndtri(1 - consumer_risk)
    if z <= 0:
        raise OutOfRangeError("sample size: the two risks must add to less than one")
    return float((z * deviation / difference) ** 2)


def plan_known_deviation(
    producer_risk: float, consumer_risk: float, deviation: float, difference: float
) -> Plan:
    r"""Fewest samples and pass factor for a test with known deviation.

    The good mean lies ``difference`` above the limit, the poor mean on the limit.

    Parameters
    ----------
    producer_risk : float
        Largest chance that the good one fails; 0 to 1. [1]
    consumer_risk : float
        Chance that one exactly on the limit passes; 0 to 1. [1]
    deviation : float
        Standard deviation of a single sample; > 0. [1]
    difference : float
        Good mean less limit; > 0. [1]

    Returns
    -------
    plan_known_deviation : Plan
        Pass if mean - k sigma >= limit. [object]

    References
    ----------
    .. [1] OWN, two normal tails.

    Examples
    --------
    >>> plan_known_deviation(0.05, 0.05, 15.0, 10.0).samples
    25
    """
    exact = sample_size_known_deviation(producer_risk, consumer_risk, deviation, difference)
    n = int(np.ceil(exact - 1e-9))
    factor = float(special.ndtri(1 - consumer_risk)) / np.sqrt(n)
    shift = difference / deviation
    fails = 1 - chance_pass(shift, n, factor, deviation_known=True)
    return Plan(n, float(factor), float(fails), consumer_risk, True)


def plan_unknown_deviation(
    producer_risk: float,
    consumer_risk: float,
    standard_difference: float,
    most: int = 2000,
) -> Plan:
    r"""Fewest samples and pass factor when the deviation is judged from the samples.

    Parameters
    ----------
    producer_risk : float
        Largest chance that the good one fails; 0 to 1. [1]
    consumer_risk : float
        Chance that one exactly on the limit passes; 0 to 1. [1]
    standard_difference : float
        Good mean less limit, in standard deviations of a sample; > 0. [1]
    most : int
        Most samples considered. [1]

    Returns
    -------
    plan_unknown_deviation : Plan
        Pass if mean - k s >= limit, s the deviation of the samples. [object]

    Raises
    ------
    InfeasibleError
        If even ``most`` samples cannot do it.

    References
    ----------
    .. [1] OWN, one-sided t test by the non-central t distribution.

    Examples
    --------
    >>> plan_unknown_deviation(0.05, 0.05, 10 / 15).samples
    26
    """
    start = sample_size_known_deviation(producer_risk, consumer_risk, 1.0, standard_difference)
    for n in range(max(2, int(start)), most + 1):
        factor = float(special.stdtrit(n - 1, 1 - consumer_risk)) / np.sqrt(n)
        fails = float(1 - chance_pass(standard_difference, n, factor, deviation_known=False))
        if fails <= producer_risk:
            return Plan(n, float(factor), fails, consumer_risk, False)
    raise InfeasibleError(
        f"test plan: {most} samples cannot prove a margin of {standard_difference:g} standard "
        "deviations at these risks; promise less, or sample more precisely"
    )


def chance_pass(
    standard_margin: float | FloatArray, samples: int, factor: float, *, deviation_known: bool
) -> FloatArray:
    r"""Operating-characteristic curve: chance to pass against the true margin.

    .. math:: \Phi(\sqrt n(\delta - k)) \quad\text{or}\quad
        P(t'_{n-1}(\sqrt n\,\delta) \ge \sqrt n\,k)

    Parameters
    ----------
    standard_margin : float or ndarray
        True mean less limit, in standard deviations of a sample; :math:`\delta`. [1]
    samples : int
        Number of samples n; >= 1, or >= 2 where the deviation comes from them. [1]
    factor : float
        Pass if mean - k s >= limit; :math:`k`. [1]
    deviation_known : bool
        True uses the known deviation for s; False that of the samples. [1]

    Returns
    -------
    chance_pass : ndarray
        Chance to pass. [1]

    References
    ----------
    .. [1] OWN, normal and non-central t distributions.

    Examples
    --------
    >>> float(chance_pass(0.0, 9, 0.0, deviation_known=True))
    0.5
    """
    if samples < 1 + (not deviation_known):
        raise OutOfRangeError(
            f"test plan: got {samples} samples; at least one, or two where the deviation is "
            "judged from them"
        )
    margin = np.asarray(standard_margin, dtype=float)
    root = np.sqrt(samples)
    if deviation_known:
        return np.asarray(special.ndtr(root * (margin - factor)))
    fail = special.nctdtr(samples - 1, root * margin, root * factor)
    # Some releases of the special function give NaN far out, where the chance is a clean 1.
    return np.asarray(1.0 - np.nan_to_num(fail, nan=0.0), dtype=float)


def conformity_chance(value: float | FloatArray, deviation: float, limit: float) -> FloatArray:
    r"""Chance that the true value meets the limit, given a measured value.

    .. math:: \Phi\left(\frac{y - L}{u}\right)

    Parameters
    ----------
    value : float or ndarray
        Measured value; :math:`y`. [1]
    deviation : float
        Its standard uncertainty; :math:`u`; > 0. [1]
    limit : float
        Least value promised; :math:`L`. [1]

    Returns
    -------
    conformity_chance : ndarray
        Chance; nothing else known about the true value. [1]

    References
    ----------
    .. [1] MEM, conformance probability of the guide to conformity assessment.

    Examples
    --------
    >>> float(conformity_chance(20.0, 0.5, 20.0))
    0.5
    """
    if not deviation > 0:
        raise OutOfRangeError(f"conformity: got uncertainty {deviation:g}; it must be > 0")
    return np.asarray(special.ndtr((np.asarray(value, dtype=float) - limit) / deviation))


def guard_band(deviation: float, wrong_pass: float = 0.05) -> float:
    r"""Distance to add to a limit so that a pass at the new limit is wrong with a stated chance.

    .. math:: g = u\, z_{1-p}

    Parameters
    ----------
    deviation : float
        Standard uncertainty of the measured value; :math:`u`; >= 0. [1]
    wrong_pass : float
        Chance that a value measured at the shifted limit does not meet the true one; 0.5 gives
        no guard band (as read), 0.0228 a band of 2u. [1]

    Returns
    -------
    guard_band : float
        Distance in the unit of the value; negative above 0.5: the other side's guard. [1]

    References
    ----------
    .. [1] MEM, guarded acceptance of the guide to conformity assessment.

    Examples
    --------
    >>> round(guard_band(0.5, 0.0228), 2)
    1.0
    """
    _risk("chance of a wrong pass", wrong_pass)
    if not deviation >= 0:
        raise OutOfRangeError(f"guard band: got uncertainty {deviation:g}; it must be >= 0")
    return float(deviation * special.ndtri(1 - wrong_pass))


def risks_normal(
    mean: float, process_deviation: float, deviation: float, limit: float, guard: float = 0.0
) -> tuple[float, float]:
    r"""Chances that a test decides wrongly, before it is made.

    True values spread normally about the expected mean and the test adds its own error; pass if
    the measured value is at least limit + guard.

    Parameters
    ----------
    mean : float
        Expected true value. [1]
    process_deviation : float
        Standard deviation of the true value about it; > 0. [1]
    deviation : float
        Standard uncertainty of the measurement; > 0. [1]
    limit : float
        Least value promised. [1]
    guard : float
        Guard band, see :func:`guard_band`. [1]

    Returns
    -------
    wrong_fail : float
        Chance that the promise is met and the test fails it (supplier's risk). [1]
    wrong_pass : float
        Chance that the promise is not met and the test passes it (buyer's risk). [1]

    References
    ----------
    .. [1] MEM, global risks of the guide to conformity assessment.

    Examples
    --------
    >>> [round(risk, 3) for risk in risks_normal(0.0, 1.0, 1.0, 0.0)]
    [0.125, 0.125]
    """
    if not process_deviation > 0 or not deviation > 0:
        raise OutOfRangeError(
            f"risks: got spreads {process_deviation:g} and {deviation:g}; both must be > 0"
        )
    # Gauss-Legendre over the true value, split at the limit where the integrand jumps.
    nodes, weights = np.polynomial.legendre.leggauss(80)
    cut = np.clip((limit - mean) / process_deviation, -9.0, 9.0)

    def integral(low: float, high: float, *, passes: bool) -> float:
        z = 0.5 * (high - low) * (nodes + 1) + low
        density = np.exp(-0.5 * z * z) / np.sqrt(2 * np.pi)
        chance = special.ndtr((mean + process_deviation * z - limit - guard) / deviation)
        return float(0.5 * (high - low) * weights @ (density * (chance if passes else 1 - chance)))

    return integral(float(cut), 9.0, passes=False), integral(-9.0, float(cut), passes=True)
