"""Cakewright: from a beaker of sludge to a dewatering line kept running.

The names below are the public surface: typed, documented, and kept by semantic versioning (a name
that goes is announced by a `DeprecationWarning` one minor version before). Everything else may
move. They are loaded when first used, so that ``import cakewright`` costs nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from cakewright.version import __version__

if TYPE_CHECKING:
    from cakewright.front.results import Band as Band
    from cakewright.front.results import Result as Result
    from cakewright.front.studies import Study as Study
    from cakewright.front.studies import demo_study as demo_study
    from cakewright.front.studies import new_study as new_study
    from cakewright.front.studies import read_study as read_study
    from cakewright.front.tables import Table as Table
    from cakewright.front.tasks import Outcome as Outcome
    from cakewright.front.tasks import calibrate as calibrate
    from cakewright.front.tasks import fit_bench as fit_bench
    from cakewright.front.tasks import guarantee as guarantee
    from cakewright.front.tasks import watch as watch

_HOMES = {
    "Band": "cakewright.front.results",
    "Result": "cakewright.front.results",
    "Study": "cakewright.front.studies",
    "demo_study": "cakewright.front.studies",
    "new_study": "cakewright.front.studies",
    "read_study": "cakewright.front.studies",
    "Table": "cakewright.front.tables",
    "Outcome": "cakewright.front.tasks",
    "calibrate": "cakewright.front.tasks",
    "fit_bench": "cakewright.front.tasks",
    "guarantee": "cakewright.front.tasks",
    "watch": "cakewright.front.tasks",
}
_ROOMS = ("economics", "machines", "physics", "quantities", "reference", "sludge", "statistics")

__all__ = ["__version__", *_HOMES]


def __getattr__(name: str) -> Any:
    if name in _HOMES:
        return getattr(import_module(_HOMES[name]), name)
    if name in _ROOMS:
        return import_module(f"cakewright.{name}")
    raise AttributeError(f"module 'cakewright' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted([*__all__, *_ROOMS])
