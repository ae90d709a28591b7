"""Lines the tests design: plain, invented, small."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from cakewright.line import (
    Cake,
    FeedSludge,
    LineInputs,
    Press,
    Product,
    RunPattern,
    press_of_frame,
)
from cakewright.machines import Kind, shipped_catalogue
from cakewright.physics.alkalinity import Conditioner

DAY = 86400.0
POLYMER = Product("cationic polymer", "powder", 0.006, dose_low=0.004, dose_high=0.009)
FERRIC = Product("ferric chloride", "coagulant", 0.05, conditioner=Conditioner.FERRIC_CHLORIDE)
LIME = Product("hydrated lime", "lime", 0.2, conditioner=Conditioner.HYDRATED_LIME)
PRESS = Press(
    "invented",
    "multi_disc_screw_press",
    units=1,
    shafts=3,
    solids_capacity=35 / 3600,
    flow_capacity=5 / 3600,
    drive_power=300.0,
    installed_power=750.0,
    wash_flow=20 / 60000,
    length=3.2,
    width=1.6,
    height=2.0,
    mass_full=2500.0,
)
FEED = FeedSludge(volume_flow=48 / DAY, total_solids=0.012)


def kind_line(kind: Kind, *, noisy: bool = False, **changes: Any) -> LineInputs:
    """The small line with one machine of a kind, from the invented catalogue."""
    frame = next(f for f in shipped_catalogue() if f.machine is kind and f.solids_limit > 35 / 3600)
    press = press_of_frame(frame, 1, cycle_time=9000.0 if frame.plates else 0.0)
    if noisy:
        press = replace(press, sound_level=84.0)
    return small_line(presses=(press,), **changes)


def small_line(**changes: Any) -> LineInputs:
    """48 m3/d at 1.2 % on one three-shaft press, 10 h on 5 days, powder polymer."""
    given: dict[str, Any] = {
        "feed": FEED,
        "presses": (PRESS,),
        "products": (POLYMER,),
        "run": RunPattern(10.0, 5, 7.0),
        "cake": Cake(0.18, 0.95),
    }
    return LineInputs(**{**given, **changes})
