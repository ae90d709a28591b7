"""The kinds of machine there are."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from types import MappingProxyType

from cakewright.errors import UnknownNameError
from cakewright.machines.belt_press import BeltPress
from cakewright.machines.chamber_press import ChamberPress
from cakewright.machines.decanter import Decanter
from cakewright.machines.interface import Kind, MachineType
from cakewright.machines.membrane_press import MembranePress
from cakewright.machines.multi_disc_screw_press import MultiDiscScrewPress
from cakewright.machines.screen_drum_screw_press import ScreenDrumScrewPress

__all__ = ["machine_type", "machine_types"]

_TYPES: Mapping[Kind, MachineType] = MappingProxyType(
    {
        one.kind: one
        for one in (
            MultiDiscScrewPress(),
            ScreenDrumScrewPress(),
            BeltPress(),
            Decanter(),
            ChamberPress(),
            MembranePress(),
        )
    }
)


def machine_types() -> Mapping[Kind, MachineType]:
    """Every kind, in the order in which they are compared."""
    return _TYPES


def machine_type(name: str) -> MachineType:
    """One kind by its key.

    Raises
    ------
    UnknownNameError
        If there is no such kind; names the nearest one.
    """
    if name in set(Kind):
        return _TYPES[Kind(name)]
    near = difflib.get_close_matches(name, [kind.value for kind in Kind], n=1)
    hint = f"did you mean {near[0]!r}?" if near else f"known: {', '.join(Kind)}"
    raise UnknownNameError(f"{name!r} is not a kind of machine; {hint}")
