"""Figures of so many machines of one frame at one load: hours, power, water, one out."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from cakewright.machines.interface import Capacity, Duty, Frame
from cakewright.machines.registry import data_of
from cakewright.quantities import Basis, Figure, FloatArray, Mark
from cakewright.sludge import Feed, RunLoad

__all__ = ["plan_figures"]


def plan_figures(
    frame: Frame,
    feed: Feed,
    load: RunLoad,
    duty: Duty,
    capacity: Capacity,
    running: int,
    count: int,
    lost: float,
) -> Mapping[str, Figure]:
    """Figures by house name, over samples.

    ``running`` machines press in normal operation, ``count`` are installed, ``lost`` is the share
    of one machine that its largest shaft, or itself, takes away when out of service.
    """
    hours, days = np.asarray(duty.hours_per_day, float), np.asarray(duty.days_per_week, float)
    spare = 1.0 + np.asarray(duty.spare_capacity, float)
    mean_need = _need(load.dry_solids_flow, load.volume_flow, capacity)
    design_need = _need(load.design_dry_solids_flow, load.design_volume_flow, capacity)
    run = np.minimum(hours * mean_need * spare / running, 1.0)
    dry = feed.mix.dry_solids_flow
    wash = running * (frame.wash_flow_mean * run + frame.wash_per_stop / 86400.0) * days / 7.0
    power = running * _drawn(frame, load, capacity)
    left = count - lost
    turndown = float(data_of(frame.machine, "kind.toml")["attendance"]["turndown"])
    values: dict[str, Any] = {
        "utilisation": design_need / running,
        "run_hours_per_day": run,
        "run_hours_one_out": hours * mean_need / left if left > 0.0 else None,
        "capacity_one_out": left / design_need,
        "lowest_load": turndown * lost / (running * np.ones_like(mean_need)),
        "power": power,
        "installed_power": count * frame.installed_power,
        "specific_energy": power * run * days / 7.0 / dry,
        "wash_water_specific": wash / dry,
        "wash_water_per_day": wash * 7.0 / days,
        "footprint": count * frame.footprint,
        "machine_mass": count * frame.mass_full,
        "sound_level": frame.sound_level + 10.0 * np.log10(running),
        "budget_price": count * frame.budget_price,
    }
    if capacity.solids_per_cycle is not None:
        per_day = load.dry_solids_flow * hours * 86400.0
        values["cycles_per_day"] = np.ceil(per_day / (running * capacity.solids_per_cycle) - 1e-9)
    found = {k: _figure(k, v, feed, frame, capacity) for k, v in values.items() if v is not None}
    late = found.get("run_hours_one_out")
    if late is not None and not (late.samples <= 1.0).all():
        # More than a day a day: no such hours exist, so the figure is left out rather than shown.
        found.pop("run_hours_one_out")
    return found


def _drawn(frame: Frame, load: RunLoad, capacity: Capacity) -> Any:
    """Power of one machine while it runs: what idles stays, the rest follows its water. [W]

    It runs at the limit that binds, so that thick feed leaves some of the water limit unused.
    """
    row = data_of(frame.machine, "kind.toml").get("power")
    if row is None:
        return frame.power
    idle = min(row["idle_per_diameter"] * (frame.bowl_diameter or 0.0), frame.power)
    need = _need(load.dry_solids_flow, load.volume_flow, capacity)
    wet = load.volume_flow / capacity.volume_flow / need
    return idle + (frame.power - idle) * wet


def _need(dry: FloatArray, volume: FloatArray, capacity: Capacity) -> FloatArray:
    """Machines needed, not rounded: the larger of the solids and the water ratio."""
    return np.maximum(dry / capacity.dry_solids_flow, volume / capacity.volume_flow)


def _figure(name: str, value: Any, feed: Feed, frame: Frame, capacity: Capacity) -> Figure:
    samples = np.atleast_1d(np.asarray(value, float))
    if samples.shape != feed.mix.total_solids.shape:
        samples = np.broadcast_arrays(samples, feed.mix.total_solids)[0]
    sized = name in ("utilisation", "run_hours_per_day", "run_hours_one_out", "capacity_one_out")
    mark: Mark = capacity.mark if sized else frame.mark
    source = capacity.source if sized else frame.source
    note = f"frame {frame.name}"
    if sized and capacity.note:
        note = f"{note}; {capacity.note}"
    basis = Basis.PUBLISHED if source and mark is Mark.NONE else Basis.ASSUMED
    return Figure(name, samples, basis, mark, source or None, note)
