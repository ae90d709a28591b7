"""What the line takes in a mean year, press and rest apart: power and water over samples."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from cakewright.line.balance import Balance
from cakewright.line.case import Case
from cakewright.line.inputs import point
from cakewright.line.items import Item, ItemKind, Motor
from cakewright.quantities import FloatArray

__all__ = ["LineDemand", "line_demand"]


@dataclass(frozen=True, slots=True, eq=False)
class LineDemand:
    """Means over the mean year, over samples: power [W], wash and make-up water [m3/s].

    ``press_energy`` is the presses' share of ``energy``; ``together`` is drawn at once [W].
    """

    energy: FloatArray
    press_energy: FloatArray
    wash: FloatArray
    make_up: FloatArray
    together: float

    @property
    def water(self) -> FloatArray:
        """All water from the net. [m3/s]"""
        return np.asarray(self.wash + self.make_up)


def line_demand(
    case: Case, items: Sequence[Item], motors: Sequence[Motor], running: Balance
) -> LineDemand:
    """Drives while the presses run and while they stand, for the hours of the mean week."""
    share = case.cases.running.run_share
    presses = {item.tag for item in items if item.kind is ItemKind.PRESS}
    # Auxiliaries of a machine that stand in its row ("X") are not in what its drives take.
    own_drives = [m for m in motors if m.item in presses and not m.tag.endswith("X")]
    press = sum(m.simultaneous * m.running_share for m in own_drives)
    rest = [m for m in motors if m not in own_drives]
    while_running = sum(m.simultaneous * m.running_share for m in rest)
    standing = sum(m.simultaneous * m.idle_share for m in rest)
    given = case.inputs.press_energy
    own = press * share if given is None else given * case.dry_solids
    return LineDemand(
        energy=np.asarray(own + while_running * share + standing * (1 - share)),
        press_energy=np.asarray(own + 0.0 * share),
        wash=np.asarray(running.wash * share),
        make_up=np.asarray(running.make_up_water * share),
        together=point(sum(m.simultaneous for m in motors)),
    )
