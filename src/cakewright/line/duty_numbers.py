"""The duty's quantities that the items round a machine are sized by, point case, SI."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from cakewright.line.balance import Balance
from cakewright.line.case import Case
from cakewright.line.conditioning import ProductLine
from cakewright.line.inputs import point
from cakewright.machines.piece import PieceSize, ProgrammeStep, pressing_settings

__all__ = ["duty_numbers", "programme_times", "sized"]

# Seconds of a cycle that are neither feeding nor opening: closing and core blow (from memory).
_CLOSE_AND_BLOW = 300.0
# Share of the outer face of a plate that filters (P05 with a published press: 0.833).
_FACE_SHARE = 0.833


def sized(size: PieceSize, numbers: Mapping[str, float]) -> float:
    """Value of one size: its factor times the duty's quantities it names."""
    return max(size.times * float(np.prod([numbers[name] for name in size.of])), size.least)


def programme_times(
    steps: tuple[ProgrammeStep, ...], cycle_time: float, kind: str
) -> tuple[float, ...]:
    """Seconds of each step of the pressure programme, stretched to the time this cycle leaves."""
    settings = pressing_settings(kind)
    own = 60.0 * sum(step.minutes for step in steps)
    left = cycle_time - settings["discharge_time"] - settings["squeeze_time"] - _CLOSE_AND_BLOW
    stretch = max(left, 0.25 * own) / own
    return tuple(60.0 * step.minutes * stretch for step in steps)


def _pressed_share(
    times: Sequence[float], steps: Sequence[ProgrammeStep], cycle_time: float
) -> float:
    """Mean of flow times pressure over a whole cycle, over that of the first flow at the last
    pressure: what a pump that is sized for these two really does."""
    last = max(step.pressure for step in steps)
    work = sum(
        time * 0.5 * (step.flow_start + step.flow_end) * step.pressure / last
        for time, step in zip(times, steps, strict=True)
    )
    return min(work / cycle_time, 1.0)


def _plates(case: Case, numbers: dict[str, float]) -> None:
    """What only a plate press has: one charge, its first flow, the force on its plates."""
    press = case.inputs.presses[0]
    settings, steps = pressing_settings(press.kind), case.chosen.piece.programme
    charge = case.design_flow * press.cycle_time / press.units
    times = programme_times(steps, press.cycle_time, press.kind)
    spread = sum(t * 0.5 * (s.flow_start + s.flow_end) for t, s in zip(times, steps, strict=True))
    face = press.filter_area / (2 * max(press.plates, 1)) / _FACE_SHARE
    # A fill pump slower than the filtration that follows would starve the empty chambers.
    fill = max(press.chamber_volume / settings["initial_fill_time"], charge / spread)
    numbers |= {
        "cycle_feed": charge,
        "first_flow": charge / spread,
        "first_flow_all": press.units * charge / spread,
        "fill_flow": fill,
        "fill_flow_all": press.units * fill,
        "fill_share": min(settings["initial_fill_time"] / press.cycle_time, 1.0),
        "pressed_share": _pressed_share(times, steps, press.cycle_time),
        "feed_pressure": settings["feed_pressure"],
        "feed_force": settings["feed_pressure"] * face,
        "squeeze_pressure": settings["membrane_pressure"],
        "plate_mass": press.mass_empty / max(press.plates, 1),
    }


def duty_numbers(
    case: Case, streams: Balance | None = None, products: Sequence[ProductLine] = ()
) -> dict[str, float]:
    """Quantities by name; those of conditioned sludge and cake need the streams."""
    press = case.inputs.presses[0]
    found = {
        "feed_flow": case.design_flow,
        "feed_high": case.highest_flow,
        "machines": float(press.units),
        "shafts": float(press.shafts),
        "belt_width": press.belt_width,
        "bowl_diameter": press.bowl_diameter,
        "plates": float(press.plates),
        "filter_area": press.filter_area,
        "chamber_volume": press.chamber_volume,
        "wash_flow": press.wash_flow * press.shafts,
        "wash_per_stop": press.wash_per_stop * press.shafts,
        "mass_empty": press.mass_empty,
        "mass_full": press.mass_full,
        "press_width": press.width,
        "sound_level": press.sound_level or 0.0,
    }
    if press.plates and press.cycle_time:
        _plates(case, found)
    if streams is not None:
        mixed = point(streams.stream("flocculated sludge").volume_flow)
        found |= {
            "mix_flow": mixed,
            "mix_high": mixed * (1 + case.book["pump_margin"]),
            "mix_flow_each": mixed / press.units,
            "drop_mass": point(streams.cake_mass) * press.cycle_time / press.units,
        }
    for p in products:
        found[f"{p.form.name}_supplied"] = point(p.as_supplied) * case.run_share
    return found
