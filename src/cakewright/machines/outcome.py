"""What the samples of a pressing path say together: causes, and figures with nothing left out."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import numpy.typing as npt

from cakewright.machines.pressing_path import PathResult, PathStatus
from cakewright.quantities import FloatArray

__all__ = ["best_of", "causes_of", "filled", "filled_figures", "least_margin_of", "taken_of"]

_LOW_END = 0.02


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

    A sample beyond a limit counts as the low end (`filled`). No cake is wetter than its feed.
    """
    answered = result.answered
    told = f"{100 * np.mean(~answered):.0f} % of samples lie beyond a limit of the press"
    found = {
        "cake_solids": filled(result.cake_solids, answered),
        "capture": filled(result.capture, answered),
    }
    found["cake_solids"] = np.maximum(found["cake_solids"], feed_solids)
    return found, told if not answered.all() else ""


def filled(values: FloatArray, answered: npt.NDArray[np.bool_]) -> FloatArray:
    """Figures in which a sample beyond a limit counts as the low end of those that stand.

    An operator would cut the load there, so the wettest answered cake is the honest low end; left
    out, the rest would say more than is known.
    """
    return np.where(answered, values, float(np.quantile(values[answered], _LOW_END)))


def best_of(results: list[PathResult]) -> PathResult:
    """Per sample the setting with the driest cake that stands, else the first."""
    score = np.stack([np.where(r.answered, r.cake_solids, -1.0) for r in results])
    return taken_of(results, np.argmax(score, axis=0))


def taken_of(results: list[PathResult], best: npt.NDArray[np.int_]) -> PathResult:
    """Per sample the result of the picked setting."""

    def taken(rows: list[FloatArray]) -> FloatArray:
        return np.asarray(np.take_along_axis(np.stack(rows), best[None, :], axis=0)[0])

    def table(rows: list[Mapping[str, FloatArray]]) -> dict[str, FloatArray]:
        return {name: taken([row[name] for row in rows]) for name in rows[0]}

    return PathResult(
        status=taken([r.status.astype(float) for r in results]).astype(int),
        cake_solids=taken([r.cake_solids for r in results]),
        capture=taken([r.capture for r in results]),
        residence=taken([r.residence for r in results]),
        power=taken([r.power for r in results]),
        margins=table([r.margins for r in results]),
        details=table([r.details for r in results]),
    )


def least_margin_of(result: PathResult) -> FloatArray:
    """Least margin of every sample; -1 where a limit is not known."""
    rows = [np.nan_to_num(margin, nan=-1.0) for margin in result.margins.values()]
    return np.asarray(np.min(np.stack(rows), axis=0))
