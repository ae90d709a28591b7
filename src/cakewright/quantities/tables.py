"""Tables that ship with the program, read in one place."""

from __future__ import annotations

import tomllib
from importlib.resources import files
from typing import Any

__all__ = ["packaged_table"]


def packaged_table(package: str, *place: str) -> dict[str, Any]:
    """A TOML table from the folder of a package: ``place`` is its way below that folder."""
    return tomllib.loads(files(package).joinpath(*place).read_text(encoding="utf-8"))
