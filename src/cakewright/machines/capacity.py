"""What one machine of a frame is rated to take on this sludge: dry solids and water."""

from __future__ import annotations

from functools import cache
from statistics import fmean
from typing import Any

import numpy as np

from cakewright.machines.interface import Capacity, Floats, Frame, Kind
from cakewright.quantities import Mark
from cakewright.reference import neighbours, performance_rows, sludge_class
from cakewright.sludge import Feed

__all__ = ["MARKS", "capacity_continuous", "class_factor", "tabled"]

MARKS = (Mark.NONE, Mark.JUDGEMENT, Mark.INVENTED, Mark.FROM_MEMORY)


@cache
def tabled(kind: str, key: str, quantity: str) -> tuple[float, str, Mark] | None:
    """Mean of the tabled bands of one class or of its neighbours, with source and mark."""
    for word in (key, *neighbours(key).classes):
        every = performance_rows(kind, quantity=quantity)
        rows = [r for r in every if r.sludge == word] or [
            r for r in every if r.sludge in sludge_class(word).words
        ]
        if rows:
            middles = [(row.given[0] + row.given[-1]) / 2.0 for row in rows]
            source = " ".join(dict.fromkeys(row.source for row in rows))
            return fmean(middles), source, max((row.mark for row in rows), key=MARKS.index)
    return None


def class_factor(kind: Kind, key: str, rated_on: str) -> tuple[float, str, Mark]:
    """Capacity on one sludge class over that on the class a frame is rated on.

    Only belt presses have a table of loading by sludge (recalled); other kinds get no credit and
    no discount: their limits are taken as rated.
    """
    here = tabled(kind.value, key, "solids_loading")
    there = tabled(kind.value, rated_on, "solids_loading")
    if here is None or there is None:
        return 1.0, "JUDGEMENT", Mark.JUDGEMENT
    return here[0] / there[0], here[1], max(here[2], there[2], key=MARKS.index)


def capacity_continuous(
    frame: Frame, feed: Feed, note: str = "", throughput: Floats = 1.0
) -> Capacity:
    """Rated limits of the frame, the solids limit moved by sludge class where a table says so.

    A blend takes its time part by part: the inverse factors are averaged by dry mass.
    ``throughput`` is what the trends leave of both limits.
    """
    factors = {key: class_factor(frame.machine, key, frame.rated_on) for key in feed.shares}
    time: Any = sum(share / factors[key][0] for key, share in feed.shares.items())
    wide = np.asarray(time, dtype=float)
    used = {source for _, source, _ in factors.values()}
    return Capacity(
        dry_solids_flow=frame.solids_limit / wide * throughput,
        volume_flow=np.full_like(wide, frame.hydraulic_limit) * throughput,
        note=note,
        source=" ".join(dict.fromkeys((*frame.source.split(), *sorted(used)))),
        mark=max((frame.mark, *(mark for *_, mark in factors.values())), key=MARKS.index),
    )
