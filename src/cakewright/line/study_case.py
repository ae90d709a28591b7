"""From the sludge and the chosen frame to the inputs of the line."""

from __future__ import annotations

from cakewright.line.inputs import FeedSludge, Floats, Press
from cakewright.machines.interface import Frame
from cakewright.sludge import Sludge

__all__ = ["feed_of", "press_of_frame"]


def feed_of(
    sludge: Sludge,
    *,
    alkalinity: Floats = 0.5,
    yield_stress: Floats = 0.5,
    consistency: Floats = 0.004,
    flow_index: Floats = 1.0,
    pattern: tuple[float, ...] = (),
    foams: bool = False,
) -> FeedSludge:
    """The feed side's view of a sludge; flow curve and alkalinity are not part of a sludge."""
    return FeedSludge(
        volume_flow=sludge.volume_flow,
        total_solids=sludge.total_solids,
        solids_density=sludge.solids_density,
        dissolved_share=sludge.dissolved,
        temperature=sludge.temperature,
        ph=sludge.ph,
        alkalinity=alkalinity,
        yield_stress=yield_stress,
        consistency=consistency,
        flow_index=flow_index,
        pattern=pattern,
        oil_share=sludge.oil,
        foams=foams,
    )


def press_of_frame(
    frame: Frame,
    units: int,
    standby: int = 0,
    *,
    solids_capacity: float | None = None,
    flow_capacity: float | None = None,
    cycle_time: float = 0.0,
) -> Press:
    """Equal machines of one frame; capacities per machine on this sludge replace the rated ones.

    What the catalogue calls auxiliary (wash pump, flocculator, feed pump) the line lists drive by
    drive, at this rating where it is enough.
    """
    shafts = max(frame.shafts, 1)
    solids = frame.solids_limit if solids_capacity is None else solids_capacity
    flow = frame.hydraulic_limit if flow_capacity is None else flow_capacity
    rated = max(frame.installed_power - frame.auxiliary_power, 0.0)
    return Press(
        name=frame.name,
        kind=frame.machine.value,
        units=units,
        standby=standby,
        shafts=shafts,
        solids_capacity=solids / shafts,
        flow_capacity=flow / shafts,
        drive_power=frame.drive_power / shafts,
        installed_power=rated / shafts,
        auxiliary_power=frame.auxiliary_power / shafts,
        wash_flow=frame.wash_flow / shafts,
        wash_pressure=frame.wash_pressure or 3e5,
        wash_per_stop=frame.wash_per_stop / shafts,
        burst=frame.wash_burst,
        interval=frame.wash_interval or 600.0,
        sound_level=frame.sound_level,
        length=frame.length,
        width=frame.width,
        height=frame.height,
        mass_empty=frame.mass_empty,
        mass_full=frame.mass_full,
        speed_low=frame.speed_low,
        speed_high=frame.speed_high,
        belt_width=frame.belt_width or 0.0,
        bowl_diameter=frame.bowl_diameter or 0.0,
        plates=frame.plates or 0,
        filter_area=frame.filter_area or 0.0,
        chamber_volume=frame.chamber_volume or 0.0,
        cycle_time=cycle_time,
        mark=str(frame.mark),
    )
