"""What the line takes in a mean year, press and rest apart: power and water over samples."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from cakewright.line.balance import Balance
from cakewright.line.case import Case, line_of
from cakewright.line.inputs import point
from cakewright.line.items import Item, ItemKind, Motor
from cakewright.quantities import CalculationLine, FloatArray
from cakewright.sludge.cases import CaseKey

__all__ = ["LineDemand", "demand_lines", "line_demand"]


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


def demand_lines(case: Case, demand: LineDemand) -> tuple[CalculationLine, CalculationLine]:
    """Energy and water of the whole line per dry solids of the mean year."""
    dry = ("m_s", point(case.dry_solids), "dry_solids_flow")
    energy, wash, make_up = point(demand.energy), point(demand.wash), point(demand.make_up)
    year = CaseKey.MEAN_YEAR.value
    return (
        line_of(
            "line_energy",
            "Power use of the whole line",
            "e_line",
            "P / m_s",
            (("P", energy, "power"), dry),
            ("line_energy", energy / dry[1]),
            "OWN",
            note=f"{year}: all drives while the presses run and while they stand",
        ),
        line_of(
            "line_water",
            "Water of the whole line",
            "w_line",
            "(q_w + q_m) / m_s",
            (("q_w", wash, "volume_flow"), ("q_m", make_up, "volume_flow"), dry),
            ("line_water", (wash + make_up) / dry[1]),
            "OWN",
            note=f"{year}: q_w washing, q_m making down conditioners",
        ),
    )
