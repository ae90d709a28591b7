"""Values that are each allowed but cannot be true together."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator, Mapping

from cakewright.errors import Fault
from cakewright.quantities import Given
from cakewright.study.correlations import correlation_faults
from cakewright.study.model import Word
from cakewright.study.plausible import impossible
from cakewright.study.recipe_faults import recipe_faults

__all__ = ["contradictions"]


def contradictions(
    values: Mapping[str, Given], words: Mapping[str, Word], sludges: int
) -> list[Fault]:
    """Faults between values of one study."""
    checks = [impossible(values, words), _hours(values), _outlet(values), _coagulant(values, words)]
    checks.append(recipe_faults(values, words, sludges))
    for index in range(sludges):
        checks += [_composition(values, index), _origin(values, index)]
        checks.append(_cake_wetter_than_feed(values, index))
    checks.append(_same_names(words, sludges))
    checks.append(iter(correlation_faults(str(words.get("correlation.pairs", "")), values)))
    found: list[Fault] = []
    for check in checks:
        # A value that is itself at fault is absent: what depends on it cannot be judged yet.
        with contextlib.suppress(KeyError):
            found += check
    return found


def _percent(share: float) -> str:
    return f"{100 * share:.4g} %"


def _composition(values: Mapping[str, Given], index: int) -> Iterator[Fault]:
    place = f"sludge.{index}"
    ash, volatile = values.get(f"{place}.ash"), values.get(f"{place}.volatile")
    if ash and volatile and not ash.default and abs(ash.value + volatile.value - 1) > 0.005:
        total = _percent(ash.value + volatile.value)
        yield Fault(
            f"{place}.ash", f"ash + volatile = {total}", "together 100 %", "give one of the two"
        )
    inorganic = ash.value if ash else 1 - volatile.value if volatile else 0.0
    oil, fibre = values[f"{place}.oil"].value, values[f"{place}.fibre"].value
    if oil + fibre > 1 - inorganic + 1e-9:
        total = _percent(oil + fibre)
        yield Fault(
            f"{place}.oil",
            f"oil + fibre = {total} of dry solids with {_percent(inorganic)} ash",
            f"at most the volatile share, {_percent(1 - inorganic)}",
            "check the basis of the oil and fibre figures (per dry solids?)",
        )


def _origin(values: Mapping[str, Given], index: int) -> Iterator[Fault]:
    place = f"sludge.{index}.origin"
    for after, before in (("bod_out", "bod_in"), ("tss_removed", "tss_in")):
        small, large = values.get(f"{place}.{after}"), values.get(f"{place}.{before}")
        if small and large and small.value > large.value:
            yield Fault(
                f"{place}.{after}",
                f"{after} above {before}",
                f"at most {before}",
                "check which figure is which",
            )


def _cake_wetter_than_feed(values: Mapping[str, Given], index: int) -> Iterator[Fault]:
    solids = values.get(f"sludge.{index}.total_solids") or values.get(
        f"sludge.{index}.origin.total_solids"
    )
    wanted = values["target.cake_solids"]
    if solids and wanted.value <= solids.value:
        where = f"sludge.{index}.total_solids" if wanted.default else "target.cake_solids"
        yield Fault(
            where,
            f"cake of {_percent(wanted.value)} from a feed of {_percent(solids.value)}",
            "a cake drier than the feed",
            "check the two figures; a feed this thick needs no dewatering",
        )


def _hours(values: Mapping[str, Given]) -> Iterator[Fault]:
    unattended, run = values["duty.unattended"].value, values["duty.hours_per_day"].value
    if unattended > run + 1e-9:
        yield Fault(
            "duty.unattended",
            f"{24 * unattended:.4g} h/d unattended in {24 * run:.4g} h/d of running",
            "at most the run hours",
            "raise duty.hours_per_day or lower duty.unattended",
        )


def _outlet(values: Mapping[str, Given]) -> Iterator[Fault]:
    volume, payload = values["outlet.skip_volume"].value, values["outlet.payload"].value
    # 800 kg/m3 is the light end of loose cake (MEM, the line reference); a skip that cannot be
    # lifted even then is a slip, not a choice.
    if volume * 800.0 * 0.5 > payload * 4:
        yield Fault(
            "outlet.skip_volume",
            f"{volume:.4g} m3 with a payload of {payload / 1000:.4g} t",
            "a skip the truck can carry",
            "check skip volume and payload",
        )


def _coagulant(values: Mapping[str, Given], words: Mapping[str, Word]) -> Iterator[Fault]:
    kind, dose = words.get("coagulant.kind", "none"), values.get("coagulant.dose")
    if kind == "none" and dose and dose.value > 0:
        yield Fault(
            "coagulant.dose", "a dose without a kind", "both or neither", "add coagulant.kind"
        )
    if kind != "none" and dose is None:
        yield Fault(
            "coagulant.kind", f"{kind} without a dose", "both or neither", "add coagulant.dose"
        )


def _same_names(words: Mapping[str, Word], sludges: int) -> Iterator[Fault]:
    seen: set[str] = set()
    for index in range(sludges):
        name = str(words.get(f"sludge.{index}.name", ""))
        if name in seen:
            yield Fault(
                f"sludge.{index}.name", f"{name!r} twice", "a name of its own", "rename one"
            )
        seen.add(name)
