"""What one plate press takes by its chambers and the published time of its cycle."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Any

import numpy as np

from cakewright.machines.capacity import MARKS, tabled
from cakewright.machines.interface import Capacity, Duty, Frame, Performance
from cakewright.machines.plates.cycle import solids_per_cycle
from cakewright.physics.solids import density_slurry
from cakewright.quantities import FloatArray, Mark
from cakewright.quantities.tables import packaged_table
from cakewright.sludge import Feed

__all__ = ["capacity_plates"]

_NOTE = "solids per cycle over the published cycle time; chambers 80 % filled (judgement)"


@cache
def _batch() -> Mapping[str, Mapping[str, Any]]:
    return packaged_table("cakewright.machines.plates", "batch.toml")


def _cycle_time(frame: Frame, feed: Feed) -> tuple[FloatArray, str]:
    total, sources = np.zeros(feed.mix.size), []
    for key, share in feed.shares.items():
        found = tabled(frame.machine.value, key, "cycle_time")
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
    kept = performance.figures.get("conditioner_kept")
    conditioner = performance.samples("polymer_dose") + (0.0 if kept is None else kept.samples)
    density = np.asarray(density_slurry(cake, feed.mix.solids_density))
    fill = float(_batch()["fill"]["share"])
    volume = frame.chamber_volume or 0.0
    cycle = cycle / performance.throughput
    per_cycle = np.asarray(solids_per_cycle(volume, density, cake, conditioner, fill))
    return Capacity(
        dry_solids_flow=per_cycle / cycle,
        volume_flow=np.full_like(per_cycle, frame.hydraulic_limit),
        note="; ".join(one for one in (_NOTE, performance.throughput_note) if one),
        source=" ".join(dict.fromkeys((*source.split(), "JUDGEMENT"))),
        mark=max((frame.mark, Mark.JUDGEMENT), key=MARKS.index),
        cycle_time=cycle,
        solids_per_cycle=per_cycle,
    )
