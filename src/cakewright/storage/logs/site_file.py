"""The site file of the watch: promise, prices, shifts, limits, service, as TOML with units."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from pathlib import Path
from typing import Any

from cakewright.errors import (
    DataError,
    Fault,
    InputFileError,
    QuantityError,
    UnknownNameError,
    foreign,
)
from cakewright.quantities import house_name
from cakewright.quantities.toml_text import parse_toml_of
from cakewright.running.clock import zone_steps
from cakewright.running.diagnosis import base_rates
from cakewright.running.indicators import Prices, Promise
from cakewright.running.reconcile import Assumed, BalanceInput
from cakewright.running.shifts import ShiftPlan
from cakewright.running.signals import signal
from cakewright.running.site import Site
from cakewright.running.spares import Part, parse_parts, shipped_parts
from cakewright.storage.texts import read_text
from cakewright.study import parse_quantity

__all__ = ["PROMISES", "parse_site", "read_site"]

PROMISES = (
    "dry_solids_flow", "cake_solids", "capture", "polymer_dose", "specific_energy",
    "wash_water_specific", "cost_specific", "carbon_specific",
)  # fmt: skip
_PRICES = {
    "polymer": "currency/kg", "power": "currency/J", "water": "currency/m3",
    "cake": "currency/kg", "filtrate": "currency/kg", "carbon_polymer": "kg/kg",
    "carbon_power": "kg/J", "carbon_cake": "kg/kg",
}  # fmt: skip
_SECTIONS = {
    "site", "shifts", "baseline", "promise", "prices", "limits", "today", "stops", "balance",
    "service", "logs", "cause_rates",
}  # fmt: skip

_SERVICE = {"interval", "shaft_capacity", "since_last", "parts", "replaced"}


@dataclass(slots=True)
class _Reader:
    """Takes the file apart and collects every fault."""

    currency: str = ""
    faults: list[Fault] = field(default_factory=list)

    def fault(self, where: str, got: object, allowed: str, try_this: str) -> None:
        self.faults.append(Fault(where, repr(got), allowed, try_this))

    def quantity(self, where: str, raw: Any, unit: str, usual: float = 0.0) -> float:
        try:
            return parse_quantity(str(raw), unit, currency=self.currency).value
        except QuantityError as error:
            self.fault(where, raw, f"a quantity in {unit} or a like unit", str(error))
            return usual

    def section(self, table: Mapping[str, Any], name: str, known: set[str]) -> Mapping[str, Any]:
        part = table.get(name, {})
        if not isinstance(part, dict):
            self.fault(name, part, "a section", f"[{name}]")
            return {}
        for extra in sorted(set(part) - known):
            self.fault(f"{name}.{extra}", part[extra], ", ".join(sorted(known)), "remove it")
        return {key: value for key, value in part.items() if key in known}

    def day(self, where: str, raw: Any) -> int:
        try:
            moment = raw if isinstance(raw, date) else date.fromisoformat(str(raw))
        except ValueError:
            self.fault(where, raw, "a date", "2024-05-01")
            return 0
        day = moment.date() if isinstance(moment, datetime) else moment
        return (day - date(1970, 1, 1)).days * 86400


def _plan(reader: _Reader, table: Mapping[str, Any]) -> ShiftPlan:
    part = reader.section(table, "shifts", {"time_zone", "first", "length"})
    zone = str(part.get("time_zone", "UTC"))
    try:
        zone_steps(zone)
    except UnknownNameError as error:
        reader.fault("shifts.time_zone", zone, "a name of the time-zone database", str(error))
        zone = "UTC"
    first = reader.quantity("shifts.first", part.get("first", "6 h"), "s", 6 * 3600)
    length = reader.quantity("shifts.length", part.get("length", "8 h"), "s", 8 * 3600)
    if not 1800 <= length <= 86400:
        reader.fault("shifts.length", part.get("length"), "half an hour to a day", '"8 h"')
        length = 8 * 3600.0
    return ShiftPlan(zone, first / 3600.0, length / 3600.0)


def _promise(reader: _Reader, table: Mapping[str, Any]) -> Promise:
    part = reader.section(table, "promise", set(PROMISES))
    return Promise(
        {
            name: reader.quantity(f"promise.{name}", raw, house_name(name).unit)
            for name, raw in part.items()
        }
    )


def _prices(reader: _Reader, table: Mapping[str, Any]) -> Prices:
    part = dict(reader.section(table, "prices", {*_PRICES, "currency"}))
    part.pop("currency", None)
    values = {key: reader.quantity(f"prices.{key}", raw, _PRICES[key]) for key, raw in part.items()}
    return Prices(**values, currency=reader.currency or "currency")


def _limits(reader: _Reader, table: Mapping[str, Any]) -> dict[str, tuple[float, float]]:
    found = {}
    for key, raw in table.get("limits", {}).items():
        where = f"limits.{key}"
        try:
            unit = "kg/kg" if key == "polymer_dose" else signal(key).house.unit
        except UnknownNameError as error:
            reader.fault(where, key, "a setting of the press", str(error))
            continue
        if not isinstance(raw, list) or len(raw) != 2:
            reader.fault(where, raw, "two quantities, low and high", '["2 1/min", "6 1/min"]')
            continue
        low, high = (reader.quantity(where, part, unit) for part in raw)
        if not low < high:
            reader.fault(where, raw, "low below high", "swap them")
            continue
        found[key] = (low, high)
    return found


def _settings(reader: _Reader, table: Mapping[str, Any], name: str) -> dict[str, float]:
    found = {}
    for key, raw in table.get(name, {}).items():
        try:
            unit = "kg/kg" if key == "polymer_dose" else signal(key).house.unit
        except UnknownNameError as error:
            reader.fault(f"{name}.{key}", key, "a setting of the press", str(error))
            continue
        found[key] = reader.quantity(f"{name}.{key}", raw, unit)
    return found


def _assumed(reader: _Reader, key: str, raw: Any) -> Assumed | None:
    where = f"balance.assumed.{key}"
    try:
        got = parse_quantity(str(raw), signal(key).house.unit)
    except (QuantityError, UnknownNameError) as error:
        reader.fault(where, raw, "a quantity of a signal", str(error))
        return None
    if got.low is None or got.high is None:
        return Assumed(got.value, 0.3 * got.value)
    return Assumed(got.value, (got.high - got.low) / 2.563)


def _balance(reader: _Reader, table: Mapping[str, Any]) -> BalanceInput:
    part = reader.section(table, "balance", {"uncertainty", "assumed", "dissolved"})
    relative = {
        key: reader.quantity(f"balance.uncertainty.{key}", raw, "1")
        for key, raw in part.get("uncertainty", {}).items()
    }
    assumed = {}
    for key, raw in part.get("assumed", {}).items():
        one = _assumed(reader, key, raw)
        if one is not None:
            assumed[key] = one
    dissolved = reader.quantity("balance.dissolved", part.get("dissolved", "0 g/L"), "kg/m3")
    return BalanceInput(relative, assumed, dissolved)


def _parts(reader: _Reader, service: Mapping[str, Any], folder: Path) -> tuple[Part, ...]:
    """The supplier's list of parts the site names, beside it; the invented one without."""
    name = service.get("parts")
    if not name:
        return shipped_parts()
    path = folder / str(name)
    try:
        return parse_parts(read_text(path, what="a list of parts is TOML text"), path.name)
    except InputFileError as error:
        reader.fault("service.parts", name, "a file beside the site file", str(error))
    except DataError as error:
        reader.faults += error.faults
    return ()


def _replaced(
    reader: _Reader, service: Mapping[str, Any], parts: Sequence[Part]
) -> dict[str, tuple[float, ...]]:
    found, known = {}, {part.key for part in parts}
    for key, raw in dict(service.get("replaced", {})).items():
        where = f"service.replaced.{key}"
        if key not in known:
            reader.fault(where, key, ", ".join(sorted(known)), "use a key of the parts list")
            continue
        times = raw if isinstance(raw, list) else [raw]
        found[key] = tuple(reader.quantity(where, part, "s") for part in times)
    return found


def _cause_rates(reader: _Reader, table: Mapping[str, Any]) -> dict[str, float]:
    """Events a year the site knows better than the table of judgement."""
    known = base_rates()
    found = {}
    for key, raw in reader.section(table, "cause_rates", set(known)).items():
        if isinstance(raw, int | float) and not isinstance(raw, bool) and 0 < raw < 1000:
            found[key] = float(raw)
        else:
            reader.fault(f"cause_rates.{key}", raw, "events a year above 0", f"{key} = 1.5")
    return found


@foreign("a site file")
def parse_site(text: str, where: str = "site file", folder: Path = Path()) -> Site:
    """A site from TOML text; a parts list it names is looked for in ``folder``.

    Raises
    ------
    DataError
        With every fault found at once.
    """
    table = parse_toml_of(text, where, "see docs/howto/more/running")
    reader = _Reader(currency=str(table.get("prices", {}).get("currency", "")))
    for extra in sorted(set(table) - _SECTIONS):
        reader.fault(extra, "a section", ", ".join(sorted(_SECTIONS)), "remove it")
    known = {"key", "title", "frame", "invented", "shafts", "planned", "sludge"}
    head = reader.section(table, "site", known)
    if not head.get("key"):
        reader.fault("site.key", head.get("key"), "the site's key in the log store", 'key = "a"')
    dates = reader.section(table, "baseline", {"first", "last"})
    baseline = None
    if dates:
        first, last = (reader.day(f"baseline.{k}", dates.get(k)) for k in ("first", "last"))
        baseline = (first, last + 86400)
    service = reader.section(table, "service", _SERVICE)
    since, parts = service.get("since_last", []), _parts(reader, service, folder)
    site = Site(
        key=str(head.get("key", "")),
        title=str(head.get("title", head.get("key", ""))),
        frame=str(head.get("frame", "")),
        invented=bool(head.get("invented", False)),
        plan=_plan(reader, table),
        baseline=baseline,
        promise=_promise(reader, table),
        prices=_prices(reader, table),
        balance=_balance(reader, table),
        limits=_limits(reader, table),
        today=_settings(reader, table, "today"),
        stops=_settings(reader, table, "stops"),
        planned=reader.quantity("site.planned", head.get("planned", "100 %"), "1", 1.0),
        shafts=int(head.get("shafts", 1)),
        shaft_capacity=reader.quantity(
            "service.shaft_capacity", service.get("shaft_capacity", "0 kg/h"), "kg/s"
        ),
        service_interval=reader.quantity("service.interval", service.get("interval", "0 h"), "s"),
        serviced={n: reader.quantity("service.since_last", t, "s") for n, t in enumerate(since, 1)},
        parts=parts,
        replaced=_replaced(reader, service, parts),
        sludge=str(head.get("sludge", "")),
        cause_rates=_cause_rates(reader, table),
    )
    if reader.faults:
        raise DataError(where, reader.faults)
    return site


def read_site(path: Path) -> Site:
    """A site from a file.

    Raises
    ------
    InputFileError
        If the file cannot be read.
    DataError
        With every fault found at once.
    """
    text = read_text(path, what="a site file is TOML text")
    return parse_site(text, str(path), path.parent)
