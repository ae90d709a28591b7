"""What the samples of a pressing path say together: causes, and figures with nothing left out."""

from __future__ import annotations

import numpy as np

from cakewright.machines.pressing_path import PathResult, PathStatus
from cakewright.quantities import FloatArray

__all__ = ["causes_of", "filled_figures"]


def causes_of(result: PathResult) -> dict[str, float]:
    """Share of samples that each limit stops."""
    return {
        status.label: float(np.mean(result.status == status))
        for status in PathStatus
        if status is not PathStatus.ANSWER and np.any(result.status == status)
    }


def filled_figures(
    result: PathResult, feed_solids: FloatArray
) -> tuple[dict[str, FloatArray], str]:
    """Cake and capture over the samples, and what was filled in.

    A sample beyond a limit counts as the wettest cake that stands: an operator would cut the load
    there, so the wettest answered cake is the honest low end. No cake is wetter than its feed.
    """
    answered = result.answered
    told = f"{100 * np.mean(~answered):.0f} % of samples lie beyond a limit of the press"
    found: dict[str, FloatArray] = {}
    for name, values in (("cake_solids", result.cake_solids), ("capture", result.capture)):
        found[name] = np.where(answered, values, float(np.quantile(values[answered], 0.02)))
    found["cake_solids"] = np.maximum(found["cake_solids"], feed_solids)
    return found, told if not answered.all() else ""
