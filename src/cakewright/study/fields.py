"""The table of keys a study may hold, read from ``fields.toml`` and ``class_defaults.toml``."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import Any

from cakewright.machines.registry import kind_keys
from cakewright.quantities import Basis, Mark, house_name
from cakewright.quantities.tables import packaged_table

__all__ = ["Field", "class_default", "class_labels", "fields", "machine_keys", "origin_kinds"]


@dataclass(frozen=True, slots=True)
class Field:
    """One key: what it is, what is allowed, what stands in for it, and how to find it out."""

    section: str
    key: str
    kind: str
    help: str
    name: str = ""
    required: bool = False
    low: str = ""
    high: str = ""
    open: bool = False
    default: str | None = None
    by_class: bool = False
    also: str = ""
    basis: Basis = Basis.ASSUMED
    mark: Mark = Mark.NONE
    source: str = ""
    note: str = ""
    choices: tuple[str, ...] = ()
    ask: str = ""
    test: str = ""

    @property
    def place(self) -> str:
        """Dotted place in the study file."""
        return self.key if self.section == "study" else f"{self.section}.{self.key}"

    @property
    def unit(self) -> str:
        """Unit a bare number takes: the one its limits are written in."""
        if self.kind != "quantity":
            return ""
        match = re.match(r"[+-]?[\d.]+\s*(.*)$", self.low or self.high)
        return match[1] if match and match[1] else house_name(self.name).shown


def _toml(name: str) -> dict[str, Any]:
    return packaged_table("cakewright.study", name)


@cache
def fields() -> Mapping[str, Mapping[str, Field]]:
    """Every section with its keys, in the order of the table."""
    sections: dict[str, Mapping[str, Field]] = {}
    for section, keys in _toml("fields.toml").items():
        sections[section] = MappingProxyType(
            {key: _field(section, key, dict(entry)) for key, entry in keys.items()}
        )
    return MappingProxyType(sections)


def _field(section: str, key: str, entry: dict[str, Any]) -> Field:
    choices = entry.pop("choices", ())
    named: dict[str, Callable[[], tuple[str, ...]]] = {
        "sludge_classes": lambda: tuple(class_labels()),
        "origins": lambda: tuple(origin_kinds()),
        "machines": kind_keys,
    }
    if isinstance(choices, str):
        choices = named[choices]()
    entry["basis"] = Basis(entry.get("basis", "assumed"))
    entry["mark"] = Mark(entry.get("mark", ""))
    return Field(section=section, key=key, choices=tuple(choices), **entry)


@cache
def class_labels() -> Mapping[str, str]:
    """Sludge classes with the words people read."""
    table = _toml("class_defaults.toml")
    return MappingProxyType({key: entry["label"] for key, entry in table.items()})


def class_default(sludge_class: str, key: str) -> str:
    """Composition of a class when the study does not say, as text with its unit."""
    return str(_toml_cached()[sludge_class][key])


@cache
def _toml_cached() -> dict[str, Any]:
    return _toml("class_defaults.toml")


@cache
def origin_kinds() -> Mapping[str, tuple[str, ...]]:
    """Production rules with the keys each needs beside `total_solids`."""
    return MappingProxyType(
        {
            "biological, net yield": ("wastewater_flow", "bod_in", "bod_out", "sludge_age"),
            "biological, load rule": ("wastewater_flow", "bod_in", "tss_in", "sludge_age"),
            "primary": ("wastewater_flow", "tss_in", "tss_removed"),
            "flotation": ("wastewater_flow", "tss_removed", "oil_removed"),
            "chemical": ("wastewater_flow",),
            "water works": ("wastewater_flow", "tss_removed"),
        }
    )


def machine_keys() -> tuple[str, ...]:
    """Kinds of machine a study may name."""
    return kind_keys()
