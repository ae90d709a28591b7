"""Starting envelope of a machine kind on a sludge class: low, typical, high and where it is from.

Order of the search, first hit counts:

1. judged rows of this class (block 1d of the performance table, then the envelope table);
2. judged rows that hold for many classes (``any_municipal``, then ``any``);
3. rows read in a source, all of this class together: lowest, median, highest;
4. rows recalled from textbooks, the same way;
5. the neighbouring classes in the order of ``neighbours.toml``, each through 1 to 4, widened.

Judged rows come before read ones because single sites and old manuals give extremes; a judged row
names the rows it was drawn from. A row takes part only if it gives a band, not one number.

Cakes of plate presses hold for their conditioning alone: a row made with iron and lime never
answers for polymer, and one that does not say answers for neither.
"""

from __future__ import annotations

import statistics
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import cache, lru_cache

from cakewright.errors import OutOfRangeError, UnknownNameError
from cakewright.quantities import Basis, Mark
from cakewright.reference import _tables
from cakewright.reference.classes import SludgeClass, neighbours, sludge_class
from cakewright.reference.performance import PerformanceRow, envelope_rows, performance_rows
from cakewright.reference.rows import RowKind

__all__ = [
    "CONDITIONINGS",
    "REFERENCE_FEED_SOLIDS",
    "BandQuantity",
    "PerformanceBand",
    "machines_known",
    "performance_band",
]

#: Feed at which energy per volume and per dry solids are exchanged unless told otherwise [kg/m3].
REFERENCE_FEED_SOLIDS = 20.0


class BandQuantity(StrEnum):
    """What an envelope can be asked for."""

    CAKE_TS = "cake_ts"
    CAPTURE = "capture"
    POLYMER_ACTIVE = "polymer_active"
    SPECIFIC_ENERGY_VOL = "specific_energy_vol"
    SPECIFIC_ENERGY = "specific_energy"
    WASHWATER = "washwater"

    @property
    def house_name(self) -> str:
        """Name of the quantity in the list of house names."""
        return _HOUSE_NAMES[self]


# Words of a row that answer for a conditioning. A kind whose envelopes know no lime is conditioned
# with polymer unless a row says otherwise.
_ANSWERS = {
    "polymer": ("polymer", "lime or polymer", "any"),
    "lime": ("lime", "lime or polymer", "any"),
    "iron and lime": ("iron and lime", "any"),
}
CONDITIONINGS = tuple(_ANSWERS)
_UNITS = {
    BandQuantity.CAKE_TS: "1",
    BandQuantity.CAPTURE: "1",
    BandQuantity.POLYMER_ACTIVE: "kg/kg",
    BandQuantity.SPECIFIC_ENERGY_VOL: "J/m3",
    BandQuantity.SPECIFIC_ENERGY: "J/kg",
    BandQuantity.WASHWATER: "m3/kg",
}
_HOUSE_NAMES = {
    BandQuantity.CAKE_TS: "cake_solids",
    BandQuantity.CAPTURE: "capture",
    BandQuantity.POLYMER_ACTIVE: "polymer_dose",
    BandQuantity.SPECIFIC_ENERGY_VOL: "specific_energy_volume",
    BandQuantity.SPECIFIC_ENERGY: "specific_energy",
    BandQuantity.WASHWATER: "wash_water_specific",
}
_ENERGIES = {
    BandQuantity.SPECIFIC_ENERGY: BandQuantity.SPECIFIC_ENERGY_VOL,
    BandQuantity.SPECIFIC_ENERGY_VOL: BandQuantity.SPECIFIC_ENERGY,
}


@dataclass(frozen=True, slots=True)
class PerformanceBand:
    """An envelope in SI with its basis, mark and rows; ``borrowed_from`` is empty if its own.

    ``source`` is the source id, or several joined by a space; per dry solids fed where specific.
    """

    machine: str
    sludge_class: str
    quantity: str
    low: float
    typical: float
    high: float
    unit: str
    basis: Basis
    mark: Mark
    source: str
    note: str
    rows: tuple[PerformanceRow, ...]
    borrowed_from: str = ""


@cache
def machines_known() -> tuple[str, ...]:
    """Keys of the machine kinds that have envelopes, in the order of the table."""
    return tuple(dict.fromkeys(row.machine for row in envelope_rows()))


@cache
def _limed() -> frozenset[str]:
    """Kinds used with lime too: of them a row that names no conditioning answers for none."""
    rows = (row for row in envelope_rows() if row.conditioning in ("lime", "iron and lime"))
    return frozenset(row.machine for row in rows)


def _words(quantity: BandQuantity) -> tuple[str, ...]:
    if quantity is BandQuantity.POLYMER_ACTIVE:
        return ("polymer_active", "polymer_dose")
    return (quantity.value,)


def _answers(row: PerformanceRow, quantity: BandQuantity, conditioning: str) -> bool:
    """Whether a row may speak for this conditioning."""
    if quantity is not BandQuantity.CAKE_TS:
        return True
    loose = () if row.machine in _limed() else ("not stated",)
    return row.conditioning in (*_ANSWERS[conditioning], *loose)


@cache
def _banded(machine: str, quantity: BandQuantity, conditioning: str) -> tuple[PerformanceRow, ...]:
    return tuple(
        row
        for row in (*performance_rows(machine), *envelope_rows())
        if row.machine == machine
        and row.quantity in _words(quantity)
        and row.unit == _UNITS[quantity]
        and len(row.given) > 1
        and row.given[0] < row.given[-1]
        and _answers(row, quantity, conditioning)
    )


def _middle(row: PerformanceRow) -> float:
    given = row.given
    return row.typical if row.typical is not None else (given[0] + given[-1]) / 2.0


def _levels(
    found: Iterable[PerformanceRow], kind: SludgeClass
) -> Iterator[tuple[PerformanceRow, ...]]:
    judged = [r for r in found if r.kind not in (RowKind.PUBLISHED, RowKind.FROM_MEMORY)]
    for word in (kind.key, *kind.also, *sorted(kind.wide_words, reverse=True)):
        yield tuple(r for r in judged if r.sludge == word)[:1]
    for how in (RowKind.PUBLISHED, RowKind.FROM_MEMORY):
        yield tuple(r for r in found if r.kind is how and r.sludge in kind.words)


def _merged(
    rows: tuple[PerformanceRow, ...], machine: str, kind: SludgeClass, quantity: BandQuantity
) -> PerformanceBand:
    notes = dict.fromkeys(row.conditions for row in rows if row.conditions)
    if any(row.quantity == "polymer_dose" for row in rows):
        notes["the source does not say whether the dose is active polymer or product"] = None
    return PerformanceBand(
        machine=machine,
        sludge_class=kind.key,
        quantity=quantity.value,
        low=min(row.given[0] for row in rows),
        typical=statistics.median(_middle(row) for row in rows),
        high=max(row.given[-1] for row in rows),
        unit=_UNITS[quantity],
        basis=rows[0].kind.basis,
        mark=rows[0].mark,
        source=" ".join(dict.fromkeys(row.source for row in rows)),
        note="; ".join(notes),
        rows=rows,
    )


def _own(
    machine: str, kind: SludgeClass, quantity: BandQuantity, conditioning: str
) -> PerformanceBand | None:
    for rows in _levels(_banded(machine, quantity, conditioning), kind):
        if rows:
            return _merged(rows, machine, kind, quantity)
    return None


def _widened(band: PerformanceBand, key: str) -> PerformanceBand:
    near = neighbours(key)
    low, high = band.low * (1.0 - near.widen), band.high * (1.0 + near.widen)
    mark = Mark.JUDGEMENT if band.mark is Mark.NONE else band.mark
    note = f"borrowed from {sludge_class(band.sludge_class).label}: {near.why}"
    return replace(
        band,
        sludge_class=key,
        low=low,
        high=high,
        basis=Basis.ASSUMED,
        mark=mark,
        note=f"{note}; {band.note}" if band.note else note,
        borrowed_from=band.sludge_class,
    )


def _found(
    machine: str, kind: SludgeClass, quantity: BandQuantity, conditioning: str
) -> PerformanceBand | None:
    own = _own(machine, kind, quantity, conditioning)
    if own is not None:
        return own
    for key in neighbours(kind.key).classes:
        band = _own(machine, sludge_class(key), quantity, conditioning)
        if band is not None:
            return _widened(band, kind.key)
    return None


def _exchanged(band: PerformanceBand, quantity: BandQuantity, feed: float) -> PerformanceBand:
    per = 1.0 / feed if quantity is BandQuantity.SPECIFIC_ENERGY else feed
    return replace(
        band,
        quantity=quantity.value,
        low=band.low * per,
        typical=band.typical * per,
        high=band.high * per,
        unit=_UNITS[quantity],
        note=f"{band.note}; exchanged at {feed:g} kg/m3 feed solids",
    )


def performance_band(
    machine: str,
    sludge_class_key: str,
    quantity: str,
    *,
    conditioning: str = "polymer",
    feed_solids: float = REFERENCE_FEED_SOLIDS,
) -> PerformanceBand:
    """Starting envelope in SI: low, typical, high, with the rows behind it.

    Decanters take energy per volume of feed, pressing machines per dry solids: whichever of the
    two is asked, the other is exchanged at ``feed_solids`` [kg/m3]. ``conditioning`` is one of
    `CONDITIONINGS`; it decides which cakes answer.

    Raises
    ------
    UnknownNameError
        If the machine, class, quantity or conditioning does not exist, or nothing is known.
    OutOfRangeError
        If ``feed_solids`` is not positive.

    Examples
    --------
    >>> band = performance_band("decanter", "ad_mixed", "cake_ts")
    >>> round(band.low, 2), round(band.typical, 2), round(band.high, 2), band.mark.value
    (0.2, 0.26, 0.32, 'judgement')
    """
    if machine not in machines_known():
        raise _tables.unknown(machine, machines_known(), "a machine kind with envelopes")
    if quantity not in list(BandQuantity):
        raise _tables.unknown(quantity, list(BandQuantity), "a quantity of the envelopes")
    if not feed_solids > 0.0:
        raise OutOfRangeError(f"feed solids of {feed_solids:g} kg/m3; allowed: above zero")
    if conditioning not in _ANSWERS:
        raise _tables.unknown(conditioning, _ANSWERS, "a conditioning of the tables")
    kind = sludge_class(sludge_class_key)
    band = _known(machine, kind.key, BandQuantity(quantity), conditioning, float(feed_solids))
    if band is None:
        raise UnknownNameError(
            f"nothing is known of {quantity} of {machine} on {kind.key} with {conditioning}"
        )
    return band


@lru_cache(maxsize=1024)
def _known(
    machine: str, key: str, asked: BandQuantity, conditioning: str, feed: float
) -> PerformanceBand | None:
    kind = sludge_class(key)
    band = _found(machine, kind, asked, conditioning)
    if band is None and asked in _ENERGIES:
        other = _found(machine, kind, _ENERGIES[asked], conditioning)
        band = None if other is None else _exchanged(other, asked, feed)
    return band
