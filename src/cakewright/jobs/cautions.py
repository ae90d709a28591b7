"""The cautions that belong to a line, from the list."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from typing import Any

from cakewright.jobs.finding_parts import Caution
from cakewright.machines import Performance
from cakewright.machines.piece import applies, cautions_of_kind
from cakewright.quantities.tables import packaged_table
from cakewright.study import Study

__all__ = ["DEFERENCE", "cautions_of"]

DEFERENCE = (
    "This calculation is an aid. Applicable law, permit conditions, adopted codes and the "
    "instructions of the equipment supplier take precedence wherever they differ."
)


@cache
def _list() -> tuple[dict[str, Any], ...]:
    return tuple(packaged_table("cakewright.jobs", "data", "cautions.toml")["caution"])


def _parts(study: Study, performance: Performance | None) -> Iterator[str]:
    yield from ("all", "tank", "skip")
    if performance is None or performance["polymer_dose"].point > 0.0:
        yield "polymer"
    dosed = performance is not None and performance.conditioners
    if dosed or study.word("coagulant.kind") not in ("", "none"):
        yield "coagulant"
    if study.value("duty.unattended") > 0:
        yield "unattended"
    classes = [study.word(f"sludge.{index}.class") for index in range(study.sludges)]
    if any(name.startswith("ad_") or "digested" in name for name in classes):
        yield "digested"


def cautions_of(
    study: Study, machine: str, performance: Performance | None = None, *, limed: bool = False
) -> tuple[Caution, ...]:
    """The general deference, cautions of the kind, cautions for the other parts of this line.

    ``performance`` says what is dosed; without it the study does, and polymer in any case.
    """
    parts = set(_parts(study, performance))
    found = [
        Caution(place=row["place"], text=row["text"], source=row["source"])
        for row in _list()
        if row["when"] in parts
    ]
    own = [
        Caution(place=row.place, text=row.text, source=row.source)
        for row in cautions_of_kind(machine)
        if applies(row.when, {"lime"} if limed else ())
    ]
    return (Caution("this calculation", DEFERENCE, "OWN"), *own, *found)
