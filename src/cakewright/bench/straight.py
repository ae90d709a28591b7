"""A straight line through readings, and a robust choice of the part that is straight.

The choice is a forward search: start from the straightest half, grow outwards one reading at a
time, and stop where the next reading cannot belong to the line.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cakewright.errors import OutOfRangeError
from cakewright.quantities import FloatArray

__all__ = ["LineFit", "fit_line", "straight_part"]

# A reading leaves the line when less than 1 in 2000 would lie so far off by chance ...
_CHANCE = 0.0005
# ... and only when it is further off than this share of the value: below that nobody cares.
_FLOOR = 0.02


@dataclass(frozen=True, slots=True, eq=False)
class LineFit:
    """Weighted least squares of y on x; covariance scaled by the scatter found.

    ``covariance`` is of (slope, intercept); ``freedom`` the degrees of freedom behind it.
    """

    slope: float
    intercept: float
    covariance: FloatArray
    scatter: float
    freedom: int
    r_squared: float
    x: FloatArray
    y: FloatArray
    sd: FloatArray
    used: np.ndarray
    reasons: tuple[str, ...]

    @property
    def slope_sd(self) -> float:
        """Standard error of the slope."""
        return float(np.sqrt(self.covariance[0, 0]))

    @property
    def intercept_sd(self) -> float:
        """Standard error of the intercept."""
        return float(np.sqrt(self.covariance[1, 1]))

    @property
    def reach(self) -> float:
        """Student factor of the 95 % interval."""
        return student(0.975, self.freedom)

    def slope_interval(self) -> tuple[float, float]:
        """95 % interval of the slope."""
        half = self.reach * self.slope_sd
        return self.slope - half, self.slope + half

    def intercept_interval(self) -> tuple[float, float]:
        """95 % interval of the intercept."""
        half = self.reach * self.intercept_sd
        return self.intercept - half, self.intercept + half

    def line(self, x: FloatArray) -> FloatArray:
        """The fitted line at x."""
        return np.asarray(self.intercept + self.slope * x)

    @property
    def residuals(self) -> FloatArray:
        """Residuals of the used readings over their standard deviation."""
        gap = (self.y - self.line(self.x)) / (self.sd * self.scatter)
        return np.asarray(gap[self.used])


def student(probability: float, freedom: int) -> float:
    """Quantile of Student's distribution."""
    from scipy.special import stdtrit

    return float(stdtrit(freedom, probability))


def _fit(x: FloatArray, y: FloatArray, sd: FloatArray) -> tuple[FloatArray, FloatArray, float]:
    """Coefficients (slope, intercept), unscaled covariance, weighted sum of squares."""
    coefficients, covariance = np.polyfit(x, y, 1, w=1.0 / sd, cov="unscaled")
    rest = (y - np.polyval(coefficients, x)) / sd
    return coefficients, covariance, float(rest @ rest)


def fit_line(
    x: FloatArray,
    y: FloatArray,
    sd: FloatArray | None = None,
    used: np.ndarray | None = None,
    reasons: tuple[str, ...] = (),
) -> LineFit:
    """Weighted straight line through the readings in use.

    ``sd`` gives the readings' standard deviations up to one common factor, which is estimated.

    Raises
    ------
    OutOfRangeError
        If fewer than three readings are in use or x does not vary.
    """
    keep = np.ones(len(x), dtype=bool) if used is None else used
    spread = np.ones(len(x)) if sd is None else sd
    if keep.sum() < 3 or float(np.ptp(x[keep])) == 0.0:
        raise OutOfRangeError(
            f"straight line: got {int(keep.sum())} usable readings; allowed: at least 3 at "
            "different places; use more of the readings"
        )
    coefficients, covariance, rest = _fit(x[keep], y[keep], spread[keep])
    freedom = int(keep.sum()) - 2
    weights = spread[keep] ** -2
    mean = np.average(y[keep], weights=weights)
    total = float(np.sum(weights * (y[keep] - mean) ** 2))
    scatter = float(np.sqrt(max(rest / freedom, 1e-24 * max(total, 1.0))))
    return LineFit(
        slope=float(coefficients[0]),
        intercept=float(coefficients[1]),
        covariance=covariance * scatter**2,
        scatter=scatter,
        freedom=freedom,
        r_squared=1.0 - rest / total if total > 0 else 0.0,
        x=x,
        y=y,
        sd=spread,
        used=keep,
        reasons=reasons or ("",) * len(x),
    )


def straight_part(x: FloatArray, y: FloatArray, sd: FloatArray) -> LineFit:
    """Line through the straight part, with the reason why each other reading was left out.

    Needs three readings; with fewer than six all are used, because a choice would be a guess.
    """
    count = len(x)
    if count < 6:
        return fit_line(x, y, sd)
    first, last = _core(x, y, sd)
    low, high = first, last
    open_low, open_high = low > 0, high < count
    while open_low or open_high:
        outside = {}
        if open_low:
            outside["low"] = _misfit(x, y, sd, low, high, low - 1)
        if open_high:
            outside["high"] = _misfit(x, y, sd, low, high, high)
        side = min(outside, key=lambda name: outside[name])
        if outside[side] > 1.0:
            break
        low, high = (low - 1, high) if side == "low" else (low, high + 1)
        open_low, open_high = low > 0, high < count
    used = np.zeros(count, dtype=bool)
    used[low:high] = True
    reasons = ["before the straight part"] * low + [""] * (high - low)
    reasons += ["after the straight part"] * (count - high)
    return _without_misreadings(x, y, sd, used, reasons)


def _core(x: FloatArray, y: FloatArray, sd: FloatArray) -> tuple[int, int]:
    """Straightest run of half the readings (at least four)."""
    count = len(x)
    length = max(4, (count + 1) // 2)
    starts = range(count - length + 1)
    sums = [_fit(x[i : i + length], y[i : i + length], sd[i : i + length])[2] for i in starts]
    # Many short noisy runs look straight by luck; of those not clearly worse take the middle one.
    limit = min(sums) * 3.0
    good = [i for i, total in zip(starts, sums, strict=True) if total <= limit]
    start = min(good, key=lambda i: (abs(i - (count - length) / 2), sums[i]))
    return start, start + length


def _misfit(x: FloatArray, y: FloatArray, sd: FloatArray, low: int, high: int, index: int) -> float:
    """Distance of a reading from the line of the others, over what chance and care allow."""
    inside = slice(low, high)
    coefficients, covariance, rest = _fit(x[inside], y[inside], sd[inside])
    freedom = high - low - 2
    at = np.array([x[index], 1.0])
    variance = rest / freedom * (sd[index] ** 2 + at @ covariance @ at)
    gap = abs(float(y[index] - np.polyval(coefficients, x[index])))
    by_chance = student(1.0 - _CHANCE / 2, freedom) * float(np.sqrt(variance))
    return gap / max(by_chance, _FLOOR * abs(float(y[index])), 1e-300)


def _without_misreadings(
    x: FloatArray, y: FloatArray, sd: FloatArray, used: np.ndarray, reasons: list[str]
) -> LineFit:
    """Leave out single readings inside the part that no line could pass (one at a time)."""
    while used.sum() >= 6:
        places = np.flatnonzero(used)
        coefficients, covariance, rest = _fit(x[places], y[places], sd[places])
        freedom = len(places) - 2
        design = np.column_stack([x[places], np.ones(len(places))]) / sd[places, None]
        leverage = np.einsum("ij,jk,ik->i", design, covariance, design)
        gap = (y[places] - np.polyval(coefficients, x[places])) / sd[places]
        left = np.maximum(rest - gap**2 / (1 - leverage), 1e-300) / (freedom - 1)
        jackknife = np.abs(gap) / np.sqrt(left * (1 - leverage))
        worst = int(np.argmax(jackknife))
        limit = student(1.0 - _CHANCE, freedom - 1)
        far = abs(gap[worst]) * sd[places[worst]] > _FLOOR * abs(y[places[worst]])
        if jackknife[worst] <= limit or not far:
            break
        used[places[worst]] = False
        reasons[places[worst]] = "misreading: no line passes it"
    return fit_line(x, y, sd, used, tuple(reasons))
