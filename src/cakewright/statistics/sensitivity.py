"""Which inputs move a result: variance shares and one-at-a-time bars."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy import fft

from cakewright.errors import OutOfRangeError
from cakewright.quantities import FloatArray
from cakewright.statistics.sampling import DEFAULT_SEED

__all__ = [
    "Bar",
    "Indices",
    "first_order_indices",
    "one_at_a_time_inputs",
    "tornado_bars",
    "variance_indices",
]

_HARMONICS = 12


@dataclass(frozen=True, slots=True)
class Indices:
    """Shares of the variance of a result, one per input, with their standard errors.

    ``first`` is what knowing the input alone would take away; ``total`` what would be left if
    everything else were known. ``total`` is empty where the method cannot give it.
    """

    first: FloatArray
    first_error: FloatArray
    total: FloatArray
    total_error: FloatArray


@dataclass(frozen=True, slots=True)
class Bar:
    """One bar of a tornado: the result with one input at its low and at its high end."""

    name: str
    at_low: float
    at_high: float

    @property
    def swing(self) -> float:
        """Length of the bar."""
        return abs(self.at_high - self.at_low)


def variance_indices(
    output: FloatArray,
    dimension: int,
    seed: int = DEFAULT_SEED,
    resamples: int = 100,
    replicates: int = 1,
) -> Indices:
    r"""First-order and total variance indices (Sobol) of independent inputs.

    .. math:: S_i = \frac{\overline{f_B (f_{AB_i} - f_A)}}{V}, \quad
        S_{T,i} = \frac{\overline{(f_A - f_{AB_i})^2}}{2 V}

    Parameters
    ----------
    output : ndarray, shape (count * (dimension + 2),)
        Model on ``count`` base points, as many second base points, and the first ones with each
        input in turn taken from the second. [1]
    dimension : int
        Number of inputs. [1]
    seed : int
        Seed of the bootstrap. [1]
    resamples : int
        Bootstrap resamples for the standard errors of a single design. [1]
    replicates : int
        Independent randomisations that the base points consist of, one after the other; errors
        then come from leaving out one at a time. A bootstrap knows nothing of how evenly the
        points of one design lie, and gives errors two to four times too wide. [1]

    Returns
    -------
    variance_indices : Indices
        Shares of the variance; small ones can come out slightly negative. [object]

    Raises
    ------
    OutOfRangeError
        If the output does not fit the design or does not vary.

    References
    ----------
    .. [1] MEM, Saltelli et al. 2010 (first order), Jansen 1999 (total).

    Examples
    --------
    >>> one, two = np.random.default_rng(1).random((2, 4096, 2))
    >>> first, second = one.copy(), one.copy()
    >>> first[:, 0], second[:, 1] = two[:, 0], two[:, 1]
    >>> u = np.concatenate([one, two, first, second])
    >>> variance_indices(2 * u[:, 0] + u[:, 1], 2).total.round(1).tolist()
    [0.8, 0.2]
    """
    values = np.asarray(output, dtype=float)
    if values.ndim != 1 or values.size % (dimension + 2):
        raise OutOfRangeError(
            f"variance indices: got outputs of shape {values.shape}; "
            f"the design of {dimension} inputs has a multiple of {dimension + 2} points"
        )
    _must_vary(values)
    rows = values.reshape(dimension + 2, -1)
    first, total = _shares(rows)
    apart = replicates > 1
    spread = _left_out(rows, replicates) if apart else _bootstrap(rows, resamples, seed)
    return Indices(first, spread[0], total, spread[1])


def _shares(rows: FloatArray) -> tuple[FloatArray, FloatArray]:
    """First and total shares from the outputs of both base designs and the mixed ones."""
    one, two, *mixed = rows - rows[:2].mean()
    variance = np.var(np.concatenate([one, two]))
    first = [np.mean(two * (m - one)) / variance for m in mixed]
    total = [np.mean((one - m) ** 2) / (2 * variance) for m in mixed]
    return np.array(first), np.array(total)


def _bootstrap(rows: FloatArray, resamples: int, seed: int) -> tuple[FloatArray, FloatArray]:
    generator = np.random.default_rng(seed)
    size = rows.shape[1]
    found = [_shares(rows[:, generator.integers(0, size, size)]) for _ in range(resamples)]
    first, total = (np.std([each[k] for each in found], axis=0, ddof=1) for k in (0, 1))
    return first, total


def _left_out(rows: FloatArray, replicates: int) -> tuple[FloatArray, FloatArray]:
    """Jackknife over independent randomisations of the design."""
    if rows.shape[1] % replicates:
        raise OutOfRangeError(
            f"variance indices: got {rows.shape[1]} base samples in {replicates} replicates; they "
            "must divide evenly"
        )
    groups = np.arange(rows.shape[1]).reshape(replicates, -1)
    found = [_shares(np.delete(rows, group, axis=1)) for group in groups]
    factor = (replicates - 1.0) ** 2 / replicates
    first, total = (np.sqrt(factor * np.var([e[k] for e in found], axis=0, ddof=1)) for k in (0, 1))
    return np.asarray(first), np.asarray(total)


def _must_vary(values: FloatArray) -> None:
    if not np.all(np.isfinite(values)):
        raise OutOfRangeError("sensitivity: every output must be a finite number")
    if np.ptp(values) <= 1e-12 * np.max(np.abs(values)):
        raise OutOfRangeError(
            f"sensitivity: the output is {values.flat[0]:g} in every sample; "
            "no input moves it, so there is nothing to rank"
        )


def first_order_indices(
    inputs: FloatArray, output: FloatArray, harmonics: int = _HARMONICS
) -> Indices:
    r"""First-order variance indices from one sample set that is already there.

    The output, ordered by one input, is smoothed by its first cosines; the share of variance
    they carry, less what chance alone would carry, is the index:

    .. math:: S_i = 1 - (1 - R_i^2)\,\frac{n - 1}{n - 1 - M}

    Parameters
    ----------
    inputs : ndarray, shape (n, d)
        Values of the inputs, point case left out; correlated inputs are allowed. [1]
    output : ndarray, shape (n,)
        Result on the same samples. [1]
    harmonics : int
        Number M of cosines. [1]

    Returns
    -------
    first_order_indices : Indices
        First-order shares and standard errors; ``total`` is empty. [object]

    Raises
    ------
    OutOfRangeError
        If samples are fewer than ten per cosine, lengths differ, or the output does not vary.

    Notes
    -----
    Of correlated inputs each carries what it shares with the others; shares then add to more
    than one.

    References
    ----------
    .. [1] MEM, cosine form of the given-data estimator (Plischke 2012), with adjusted R2.

    Examples
    --------
    >>> u = np.random.default_rng(1).random((1024, 2))
    >>> first_order_indices(u, 2 * u[:, 0] + u[:, 1]).first.round(1).tolist()
    [0.8, 0.2]
    """
    x, y = np.asarray(inputs, dtype=float), np.asarray(output, dtype=float)
    if x.ndim != 2 or y.shape != x.shape[:1] or y.size < 10 * harmonics:
        raise OutOfRangeError(
            f"sensitivity: got inputs {x.shape} and output {y.shape}; they must have the same "
            f"length, at least {10 * harmonics}; draw more samples"
        )
    _must_vary(y)
    ordered = y[np.argsort(x, axis=0, kind="stable")]
    power = fft.dct(ordered - y.mean(), axis=0, norm="ortho")[1:] ** 2
    share = power[:harmonics].sum(axis=0) / power.sum(axis=0)
    first = 1 - (1 - share) * (y.size - 1) / (y.size - 1 - harmonics)
    error = 2 * np.sqrt(np.clip(first, 1 / y.size, 1) / y.size) * (1 - np.clip(first, 0, 1))
    return Indices(first, error, np.empty(0), np.empty(0))


def one_at_a_time_inputs(
    point: Mapping[str, float], low: Mapping[str, float], high: Mapping[str, float]
) -> dict[str, FloatArray]:
    r"""Inputs of a tornado: the point case, then each input at its low and its high end.

    Parameters
    ----------
    point : mapping of str to float
        Point case of every input. [1]
    low : mapping of str to float
        Low end of the inputs to be moved. [1]
    high : mapping of str to float
        High end of the same inputs. [1]

    Returns
    -------
    one_at_a_time_inputs : dict of str to ndarray, shape (1 + 2 d,)
        Arrays to evaluate in one pass. [1]

    Raises
    ------
    OutOfRangeError
        If low and high do not name the same inputs of the point case, or low > point > high.

    References
    ----------
    .. [1] OWN, definition.

    Examples
    --------
    >>> one_at_a_time_inputs({"x": 2.0}, {"x": 1.0}, {"x": 4.0})["x"].tolist()
    [2.0, 1.0, 4.0]
    """
    if set(low) != set(high) or not set(low) <= set(point):
        raise OutOfRangeError(
            f"tornado: low names {sorted(low)}, high {sorted(high)}; "
            "both must name the same inputs, all of them in the point case"
        )
    for name in low:
        if not low[name] <= point[name] <= high[name]:
            raise OutOfRangeError(
                f"tornado: {name} has low {low[name]:g}, typical {point[name]:g}, "
                f"high {high[name]:g}; they must rise"
            )
    inputs = {name: np.full(1 + 2 * len(low), value) for name, value in point.items()}
    for place, name in enumerate(low):
        inputs[name][1 + 2 * place : 3 + 2 * place] = low[name], high[name]
    return inputs


def tornado_bars(names: Sequence[str], output: FloatArray) -> list[Bar]:
    r"""Bars of a tornado, longest first.

    Parameters
    ----------
    names : sequence of str
        Inputs that were moved, in the order of ``low`` in :func:`one_at_a_time_inputs`. [object]
    output : ndarray, shape (1 + 2 d,)
        Result on those inputs. [1]

    Returns
    -------
    tornado_bars : list of Bar
        One per input. [object]

    Raises
    ------
    OutOfRangeError
        If the output has not one point and two ends per name.

    References
    ----------
    .. [1] OWN, definition.

    Examples
    --------
    >>> [bar.name for bar in tornado_bars(["a", "b"], np.array([0.0, -1.0, 1.0, -3.0, 3.0]))]
    ['b', 'a']
    """
    values = np.asarray(output, dtype=float)
    if values.shape != (1 + 2 * len(names),):
        raise OutOfRangeError(
            f"tornado: got outputs of shape {values.shape} for {len(names)} inputs; "
            f"{1 + 2 * len(names)} are needed"
        )
    ends = values[1:].reshape(-1, 2)
    bars = [Bar(name, float(a), float(b)) for name, (a, b) in zip(names, ends, strict=True)]
    return sorted(bars, key=lambda bar: -bar.swing)
