"""What one machine of a frame can take on this sludge: dry solids and water, or cycles."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from statistics import fmean
from typing import Any

import numpy as np

from cakewright.machines.interface import Capacity, Duty, Frame, Kind, Performance
from cakewright.machines.plates.cycle import solids_per_cycle
from cakewright.physics.solids import density_slurry
from cakewright.quantities import FloatArray, Mark
from cakewright.reference import neighbours, performance_rows, sludge_class
from cakewright.sludge import Feed

__all__ = ["capacity_continuous", "capacity_plates", "class_factor"]

_MARKS = (Mark.NONE, Mark.JUDGEMENT, Mark.INVENTED, Mark.FROM_MEMORY)


@cache
def _tabled(kind: str, key: str, quantity: str) -> tuple[float, str, Mark] | None:
    """Mean of the tabled bands of one class or of its neighbours, with source and mark."""
    for word in (key, *neighbours(key).classes):
        every = performance_rows(kind, quantity=quantity)
        rows = [r for r in every if r.sludge == word] or [
            r for r in every if r.sludge in sludge_class(word).words
        ]
        if rows:
            middles = [(row.given[0] + row.given[-1]) / 2.0 for row in rows]
            source = " ".join(dict.fromkeys(row.source for row in rows))
            return fmean(middles), source, max((row.mark for row in rows), key=_MARKS.index)
    return None


def class_factor(kind: Kind, key: str, rated_on: str) -> tuple[float, str, Mark]:
    """Capacity on one sludge class over that on the class a frame is rated on.

    Only belt presses have a table of loading by sludge (recalled); other kinds get no credit and
    no discount: their limits are taken as rated.
    """
    here = _tabled(kind.value, key, "solids_loading")
    there = _tabled(kind.value, rated_on, "solids_loading")
    if here is None or there is None:
        return 1.0, "JUDGEMENT", Mark.JUDGEMENT
    return here[0] / there[0], here[1], max(here[2], there[2], key=_MARKS.index)


def capacity_continuous(frame: Frame, feed: Feed, note: str = "") -> Capacity:
    """Rated limits of the frame, the solids limit moved by sludge class where a table says so.

    A blend takes its time part by part: the inverse factors are averaged by dry mass.
    """
    factors = {key: class_factor(frame.machine, key, frame.rated_on) for key in feed.shares}
    time: Any = sum(share / factors[key][0] for key, share in feed.shares.items())
    wide = np.asarray(time, dtype=float)
    used = {source for _, source, _ in factors.values()}
    return Capacity(
        dry_solids_flow=frame.solids_limit / wide,
        volume_flow=np.full_like(wide, frame.hydraulic_limit),
        note=note,
        source=" ".join(dict.fromkeys((*frame.source.split(), *sorted(used)))),
        mark=max((frame.mark, *(mark for *_, mark in factors.values())), key=_MARKS.index),
    )


@cache
def _batch() -> Mapping[str, Mapping[str, Any]]:
    text = files("cakewright.machines").joinpath("data/batch.toml").read_text("utf-8")
    return tomllib.loads(text)


def _cycle_time(frame: Frame, feed: Feed) -> tuple[FloatArray, str]:
    total, sources = np.zeros(feed.mix.size), []
    for key, share in feed.shares.items():
        found = _tabled(frame.machine.value, key, "cycle_time")
        seconds, source = (
            (float(_batch()["cycle"]["seconds"]), "JUDGEMENT") if found is None else found[:2]
        )
        total = total + share * seconds
        sources.append(source)
    return total, " ".join(dict.fromkeys(sources))


def capacity_plates(frame: Frame, feed: Feed, duty: Duty, performance: Performance) -> Capacity:
    """Sludge solids per cycle over the cycle time; conditioner takes its room in the chambers."""
    cycle, source = _cycle_time(frame, feed)
    cake = performance.samples("cake_solids")
    conditioner = performance.samples("polymer_dose") + np.asarray(duty.coagulant_dose, float)
    density = np.asarray(density_slurry(cake, feed.mix.solids_density))
    fill = float(_batch()["fill"]["share"])
    volume = frame.chamber_volume or 0.0
    per_cycle = np.asarray(solids_per_cycle(volume, density, cake, conditioner, fill))
    return Capacity(
        dry_solids_flow=per_cycle / cycle,
        volume_flow=np.full_like(per_cycle, frame.hydraulic_limit),
        note="solids per cycle over the published cycle time; chambers 80 % filled (judgement)",
        source=" ".join(dict.fromkeys((*source.split(), "JUDGEMENT"))),
        mark=max((frame.mark, Mark.JUDGEMENT), key=_MARKS.index),
        cycle_time=cycle,
        solids_per_cycle=per_cycle,
    )
