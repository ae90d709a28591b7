"""The test that can prove a promise, written out for both parties to sign."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from cakewright.jobs.guarantee import GuaranteeFindings
from cakewright.quantities import Mark

__all__ = ["ProtocolSection", "protocol_of", "rule_words"]

_HOUR, _MINUTE = 3600.0, 60.0


@dataclass(frozen=True, slots=True)
class ProtocolSection:
    """One part of the protocol, with where its practice comes from."""

    title: str
    items: tuple[str, ...]
    source: str
    mark: Mark


@cache
def _sections() -> tuple[dict[str, Any], ...]:
    text = files("cakewright.jobs").joinpath("data/protocol.toml").read_text(encoding="utf-8")
    return tuple(tomllib.loads(text)["section"])


_MACHINE = {
    "multi_disc_screw_press": "Rotating screws, discs and conveyors: samples only through the "
    "ports meant for it, guards closed, never reach in; isolate and lock before opening.",
}


def _machine_caution(found: GuaranteeFindings) -> str:
    return _MACHINE.get(
        found.machine,
        f"No cautions for a {found.label} are written here yet: both parties add those of its "
        "supplier before the first run, and no run starts without them.",
    )


def protocol_of(found: GuaranteeFindings) -> tuple[ProtocolSection, ...]:
    """Every part, with the study's numbers in it."""
    plan = found.plan
    words = {
        "machine": _machine_caution(found),
        "runs": "One run" if plan.runs == 1 else str(plan.runs),
        "hours": f"{plan.run_time / _HOUR:g}",
        "samples": str(plan.samples),
        "interval": f"{plan.interval / _MINUTE:.0f}",
        "replicates": str(plan.replicates),
        "laboratories": "one laboratory"
        if plan.laboratories == 1
        else f"{plan.laboratories} laboratories",
    }
    return tuple(
        ProtocolSection(
            row["title"],
            tuple(item.format(**words) for item in row["items"]),
            row["source"],
            Mark(row["mark"]),
        )
        for row in _sections()
    )


def rule_words(found: GuaranteeFindings) -> str:
    """The pass rule in a sentence."""
    if found.rule == "as read":
        return (
            "A value passes if the mean of all runs, as read, keeps the promise. Test error is "
            "shared: a machine exactly on its promise passes one time in two."
        )
    return (
        "A value passes if the mean of all runs keeps the promise by at least the guard band given "
        f"for it: then the chance that a value measured there misses the promise is "
        f"{100 * found.buyer_risk:.3g} %."
    )
