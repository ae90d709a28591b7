"""The measuring device that keeps its heads in range over a span of flows."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cakewright.physics.weirs import (
    head_v_notch_kindsvater_shen,
    v_notch_coefficient,
    v_notch_head_correction,
)
from cakewright.physics.weirs_rectangular import head_rectangular_kindsvater_carter
from cakewright.quantities import Status

__all__ = ["Measure", "weir_choice"]

_ANGLES = (90.0, 60.0, 45.0, 30.0)
_WIDTHS = (0.15, 0.20, 0.25, 0.30, 0.40, 0.50, 0.60, 0.80, 1.0)
_MOST_PER_WIDTH = 1.0  # a head of about 0.7 m, beyond every range. [m2/s]


@dataclass(frozen=True, slots=True)
class Measure:
    """The measuring device: its kind, its size, the span of heads or openings. [m, rad]

    ``angle`` is 0 for a rectangular weir or gate, ``width`` is 0 for a notch.
    ``status`` says whether heads lie where the formula holds.
    """

    kind: str
    angle: float
    width: float
    head_low: float
    head_high: float
    status: Status


def _notch(angle_degrees: float, flow: float) -> float:
    angle = np.radians(angle_degrees)
    ce, kh = v_notch_coefficient(angle), v_notch_head_correction(angle)
    return float(head_v_notch_kindsvater_shen(flow, angle, ce, kh))


def weir_choice(
    low: float, high: float, head_low: float, head_high: float, crest: float
) -> Measure:
    """First device whose heads stay inside the range over the span of flows.

    Notches from wide to narrow, then rectangular crests from narrow to wide. When none fits, the
    nearest is returned with status *extrapolated*.
    """
    best: tuple[float, Measure] | None = None
    options = [("V-notch", a, 0.0) for a in _ANGLES] + [("rectangular", 0.0, w) for w in _WIDTHS]
    for kind, angle, width in options:
        if angle:
            heads = _notch(angle, low), _notch(angle, high)
        elif high / width > _MOST_PER_WIDTH:
            continue  # far over the crest: the head cannot be found, and a wider crest comes
        else:
            both = head_rectangular_kindsvater_carter(np.array([low, high]), width, crest, 0.0)
            heads = float(np.asarray(both)[0]), float(np.asarray(both)[1])
        miss = max(head_low - heads[0], 0.0) + max(heads[1] - head_high, 0.0)
        status = Status.INSIDE if miss <= 1e-12 else Status.EXTRAPOLATED
        measure = Measure(kind, float(np.radians(angle)), width, *heads, status)
        if status is Status.INSIDE:
            return measure
        if best is None or miss < best[0]:
            best = miss, measure
    return best[1] if best else measure
