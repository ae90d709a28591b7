"""The kinds of machine there are, each the one object of its folder."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from functools import cache
from importlib import import_module
from types import MappingProxyType

from cakewright.errors import UnknownNameError
from cakewright.machines.base import Machine
from cakewright.machines.interface import Kind
from cakewright.machines.registry import data_of, folder_of

__all__ = ["machine", "machine_types"]

_FIELDS = ("label", "principle", "batch", "shaft_service", "note", "envelope")


@cache
def machine_types() -> Mapping[Kind, Machine]:
    """Every kind, in the order in which they are compared."""
    return MappingProxyType({kind: _made(kind) for kind in Kind})


def _made(kind: Kind) -> Machine:
    row = data_of(kind, "kind.toml")
    made = import_module(f"{folder_of(kind)}.machine").MACHINE
    found = made(kind, **{name: row[name] for name in _FIELDS if name in row})
    if not isinstance(found, Machine):
        raise TypeError(f"{folder_of(kind)}.machine: MACHINE is no Machine")
    return found


def machine(name: str) -> Machine:
    """One kind of machine by its key: the way in for programs and notebooks alike.

    Parameters
    ----------
    name : str
        Key of the kind, such as ``"multi_disc_screw_press"``; all: ``machine_types()``. [object]

    Returns
    -------
    machine : Machine
        Its settings, parameters, published figures, rules and pressing. [object]

    Raises
    ------
    UnknownNameError
        If there is no such kind; names the nearest one.

    Notes
    -----
    A kind is a folder of ``cakewright.machines`` that holds a ``kind.toml``.

    References
    ----------
    .. [1] OWN, theory of the press.

    Examples
    --------
    >>> from cakewright.machines import machine, shipped_catalogue
    >>> press = machine("belt_press")
    >>> press.label
    'belt press'
    >>> frame = next(f for f in shipped_catalogue() if f.machine == press.kind)
    >>> list(press.settings(frame))
    ['belt_speed', 'belt_tension', 'solids_since_wash']
    """
    if name in Kind:
        return machine_types()[Kind(name)]
    near = difflib.get_close_matches(name, [kind.value for kind in Kind], n=1)
    hint = f"did you mean {near[0]!r}?" if near else f"known: {', '.join(Kind)}"
    raise UnknownNameError(f"{name!r} is not a kind of machine; {hint}")
