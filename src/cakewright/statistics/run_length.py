"""How long a chart runs before it alarms: false alarms to expect, and how soon a step is seen."""

from __future__ import annotations

import numpy as np
from scipy import special

from cakewright.errors import InfeasibleError, OutOfRangeError
from cakewright.quantities import FloatArray
from cakewright.statistics.sampling import DEFAULT_SEED

__all__ = [
    "cusum_limit",
    "false_alarms",
    "run_length_cusum",
    "run_length_cusum_ar1",
    "run_length_ewma",
    "run_length_individuals",
]


def run_length_individuals(width: float = 3.0, shift: float = 0.0) -> float:
    r"""Mean number of readings until an individuals chart alarms.

    .. math:: 1/[\Phi(-L-\delta) + \Phi(-L+\delta)]

    Parameters
    ----------
    width : float
        Half width L of the limits in standard deviations; > 0. [1]
    shift : float
        Step of the mean in standard deviations; 0 gives the false-alarm interval. [1]

    Returns
    -------
    run_length_individuals : float
        Readings. [1]

    References
    ----------
    .. [1] OWN, geometric waiting time.

    Examples
    --------
    >>> round(run_length_individuals(), 1)
    370.4
    """
    _chart(width=width)
    return float(1 / (special.ndtr(-width - shift) + special.ndtr(-width + shift)))


def _chart(**numbers: float) -> None:
    for name, number in numbers.items():
        if not number > 0:
            raise OutOfRangeError(f"run length: {name} is {number:g}; it must be > 0")


def _mean_run(stay: FloatArray, start: int) -> float:
    runs = np.linalg.solve(np.eye(len(stay)) - stay, np.ones(len(stay)))
    return float(runs[start])


def _one_sided(reference: float, limit: float, shift: float, states: int) -> float:
    width = 2 * limit / (2 * states - 1)
    step = (np.arange(states)[None, :] - np.arange(states)[:, None]) * width
    upper = special.ndtr(step + width / 2 + reference - shift)
    lower = special.ndtr(step - width / 2 + reference - shift)
    lower[:, 0] = 0.0
    return _mean_run(upper - lower, 0)


def run_length_cusum(
    reference: float = 0.5, limit: float = 5.0, shift: float = 0.0, states: int = 200
) -> float:
    r"""Mean number of readings until a two-sided CUSUM alarms, starting from zero.

    The sum is cut into states and treated as a Markov chain; both sides combine as
    :math:`1/N = 1/N_+ + 1/N_-`.

    Parameters
    ----------
    reference : float
        Reference value k in standard deviations; >= 0. [1]
    limit : float
        Decision limit h in standard deviations; > 0. [1]
    shift : float
        Step of the mean in standard deviations; 0 gives the false-alarm interval. [1]
    states : int
        Number of states. [1]

    Returns
    -------
    run_length_cusum : float
        Readings. [1]

    References
    ----------
    .. [1] MEM, Brook and Evans 1972.

    Examples
    --------
    >>> round(run_length_cusum(0.5, 4.0, 1.0), 2)
    8.38
    """
    _chart(limit=limit, states=states)
    if reference < 0:
        raise OutOfRangeError(f"run length: reference is {reference:g}; it must be >= 0")
    sides = [_one_sided(reference, limit, side * shift, states) for side in (1, -1)]
    return 1 / sum(1 / side for side in sides)


def run_length_ewma(
    weight: float = 0.2, width: float = 3.0, shift: float = 0.0, states: int = 201
) -> float:
    r"""Mean number of readings until an EWMA chart with constant limits alarms.

    Parameters
    ----------
    weight : float
        Weight of the newest reading; 0 to 1. [1]
    width : float
        Half width of the limits in standard deviations of the average; > 0. [1]
    shift : float
        Step of the mean in standard deviations of a reading. [1]
    states : int
        Number of states of the Markov chain; odd. [1]

    Returns
    -------
    run_length_ewma : float
        Readings. [1]

    References
    ----------
    .. [1] MEM, Brook and Evans 1972; Lucas and Saccucci 1990.

    Examples
    --------
    >>> round(run_length_ewma(1.0, 3.0), 0)
    370.0
    """
    _chart(width=width, weight=weight, states=states)
    if weight > 1 or states % 2 == 0:
        raise OutOfRangeError(
            f"run length: weight {weight:g}, {states} states; the weight must not pass 1 and the "
            "number of states must be odd"
        )
    limit = width * np.sqrt(weight / (2 - weight))
    cell = 2 * limit / states
    centres = -limit + (np.arange(states) + 0.5) * cell
    reach = (centres[None, :] - (1 - weight) * centres[:, None]) / weight - shift
    half = cell / 2 / weight
    return _mean_run(special.ndtr(reach + half) - special.ndtr(reach - half), states // 2)


def run_length_cusum_ar1(
    reference: float,
    limit: float,
    autocorrelation: float,
    shift: float = 0.0,
    runs: int = 2000,
    longest: int = 20_000,
    seed: int = DEFAULT_SEED,
) -> float:
    r"""Mean number of autocorrelated readings until a two-sided CUSUM alarms, by simulation.

    Parameters
    ----------
    reference : float
        Reference value in standard deviations of a reading. [1]
    limit : float
        Decision limit in standard deviations of a reading; > 0. [1]
    autocorrelation : float
        Correlation of neighbouring readings (first-order autoregressive); -1 to 1. [1]
    shift : float
        Step of the mean in standard deviations. [1]
    runs : int
        Simulated runs; the standard error is about the result over the root of it. [1]
    longest : int
        Readings after which a run is cut; the mean is corrected as for a constant rate. [1]
    seed : int
        Seed of the simulation. [1]

    Returns
    -------
    run_length_cusum_ar1 : float
        Readings. [1]

    References
    ----------
    .. [1] OWN, simulation.

    Examples
    --------
    >>> 5 < run_length_cusum_ar1(0.5, 4.0, 0.0, 1.0, runs=500) < 12
    True
    """
    _chart(limit=limit, runs=runs)
    if not -1 < autocorrelation < 1:
        raise OutOfRangeError(
            f"run length: autocorrelation is {autocorrelation:g}; it must lie strictly "
            "between -1 and 1"
        )
    generator = np.random.default_rng(seed)
    fresh = np.sqrt(1 - autocorrelation**2)
    series = generator.standard_normal(runs)
    high, low = np.zeros(runs), np.zeros(runs)
    readings = alarms = 0
    for _ in range(longest):
        high = np.maximum(0, high + series + shift - reference)
        low = np.maximum(0, low - series - shift - reference)
        readings += series.size
        going = (high <= limit) & (low <= limit)
        alarms += int(series.size - going.sum())
        if not going.any():
            break
        high, low, series = high[going], low[going], series[going]
        series = autocorrelation * series + fresh * generator.standard_normal(series.size)
    if not alarms:
        raise InfeasibleError(
            f"run length: no alarm in {readings} simulated readings; the limit {limit:g} is wider "
            "than this simulation can judge"
        )
    return readings / alarms


def cusum_limit(run_length: float, reference: float = 0.5, autocorrelation: float = 0.0) -> float:
    r"""Decision limit that gives a wanted interval between false alarms.

    Parameters
    ----------
    run_length : float
        Mean number of readings between false alarms; 10 to 100 000. [1]
    reference : float
        Reference value in standard deviations of a reading. [1]
    autocorrelation : float
        Correlation of neighbouring readings; 0 uses the Markov chain, others simulation. [1]

    Returns
    -------
    cusum_limit : float
        Limit in standard deviations of a reading. [1]

    References
    ----------
    .. [1] OWN, root of the run length.

    Examples
    --------
    >>> round(cusum_limit(465.0), 1)
    5.0
    """
    from scipy.optimize import brentq

    if not 10 <= run_length <= 1e5:
        raise OutOfRangeError(
            f"CUSUM limit: got {run_length:g} readings between false alarms; 10 to 100000"
        )

    def excess(limit: float) -> float:
        if autocorrelation == 0:
            return float(np.log(run_length_cusum(reference, limit) / run_length))
        longest = int(4 * run_length) + 50
        runs = int(np.clip(4e6 / longest, 300, 2000))
        try:
            got = run_length_cusum_ar1(
                reference, limit, autocorrelation, runs=runs, longest=longest
            )
        except InfeasibleError:
            return 5.0
        return float(np.log(got / run_length))

    upper = 2.0
    while excess(upper) < 0:
        upper *= 1.6
    return float(brentq(excess, 0.05, upper, xtol=1e-3))


def false_alarms(readings: float, run_length: float) -> float:
    r"""Number of false alarms to expect from one chart.

    Parameters
    ----------
    readings : float
        Readings charted, in a month for instance; >= 0. [1]
    run_length : float
        Mean number of readings between false alarms; >= 1. [1]

    Returns
    -------
    false_alarms : float
        Expected number. [1]

    References
    ----------
    .. [1] OWN, renewal rate.

    Examples
    --------
    >>> false_alarms(90, 450)
    0.2
    """
    if readings < 0 or not run_length >= 1:
        raise OutOfRangeError(
            f"false alarms: got {readings:g} readings and run length {run_length:g}; "
            "readings must be >= 0 and a run at least one reading"
        )
    return readings / run_length
