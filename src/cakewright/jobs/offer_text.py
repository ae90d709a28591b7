"""A file of offers -> offers in SI, or every fault in it at once."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

from cakewright.errors import Fault, QuantityError, StudyError, foreign
from cakewright.quantities import house_name
from cakewright.quantities.tables import packaged_table
from cakewright.quantities.toml_text import parse_toml
from cakewright.study import Decimals, class_labels, machine_keys, machine_said, parse_quantity

__all__ = [
    "FORM_MARK",
    "BidRow",
    "Offer",
    "OfferTest",
    "bid_rows",
    "offer_table",
    "offers_of_rows",
    "parse_offers",
    "study_name",
]

FORM_MARK = "cakewright bid form 1"
_WORDS = ("name", "machine", "machines", "polymer_counts", "means", "note", "test")
_CHOICES: Mapping[str, tuple[str, ...]] = {
    "polymer_counts": ("", "active", "product"),
    "means": ("expected", "guaranteed"),
}
_TEST_WORDS = ("kind", "sludge", "sludge_class", "note")
_OWN, _OTHER = "this site's", "another"


@dataclass(frozen=True, slots=True)
class OfferTest:
    """Conditions an offer's figures were found on; None where the offer does not say.

    ``own_sludge``: tested on this site's sludge. ``load`` is a share of the stated throughput,
    ``dose`` in active matter, ``speed`` that of the screw.
    """

    kind: str
    sludge_class: str
    total_solids: float
    ash: float | None = None
    temperature: float | None = None
    dose: float | None = None
    load: float | None = None
    speed: float | None = None
    own_sludge: bool = False


@dataclass(frozen=True, slots=True)
class Offer:
    """One bid as it stands, SI; a figure it does not state is not in ``figures``."""

    name: str
    machine: str
    machines: int
    figures: Mapping[str, float]
    polymer_counts: str = ""
    means: str = "expected"
    test: OfferTest | None = None


@cache
def offer_table() -> Mapping[str, Mapping[str, Any]]:
    """What may stand in an offer, and how far each kind of test is trusted."""
    return packaged_table("cakewright.jobs", "data", "offers.toml")


@dataclass(frozen=True, slots=True)
class BidRow:
    """One row of a bid form: key of an offer, words, unit a bare number takes, what is allowed."""

    key: str
    label: str
    unit: str
    allowed: str
    choices: tuple[str, ...] = ()


def bid_rows(currency: str) -> tuple[BidRow, ...]:
    """Everything a bid has to say, in the order of the form."""
    table = offer_table()
    figures = [_bid_row(key, entry, currency) for key, entry in table["figures"].items()]
    tests = [
        _bid_row(f"test.{key}", entry, currency) for key, entry in table["test_figures"].items()
    ]
    return (
        _chosen("machine", "kind of machine", machine_keys()),
        BidRow("machines", "number of machines", "", "a whole number from 1"),
        _chosen("means", "values are", _CHOICES["means"]),
        *figures,
        _chosen("polymer_counts", "polymer is counted as", _CHOICES["polymer_counts"][1:]),
        _chosen("test.kind", "values stand on a test of this scale", tuple(table["tests"])),
        _chosen("test.sludge", "tested on the sludge of", (_OWN, _OTHER)),
        _chosen("test.sludge_class", "nearest class, if another's", tuple(class_labels())),
        *(replace(row, label=f"{row.label}, in the test") for row in tests),
    )


def _chosen(key: str, label: str, choices: tuple[str, ...]) -> BidRow:
    return BidRow(key, label, "", f"one of: {', '.join(choices)}", choices)


def _bid_row(key: str, entry: Mapping[str, str], currency: str) -> BidRow:
    named = house_name(entry["name"])
    unit = named.shown.replace("currency", currency)
    allowed = f"{entry['low']} to {entry['high']}".replace("currency", currency)
    label = "price of the machines" if key == "price" else named.label
    return BidRow(key, label, unit, allowed)


@foreign("a file of offers")
def study_name(text: str, name: str) -> str:
    """Study that the offers are for, as the file names it.

    Raises
    ------
    StudyError
        If the file is no TOML, is no file of offers, or names no study.
    """
    table = _toml(text, name)
    faults = []
    if table.get("cakewright_offers") != 1:
        got = repr(table.get("cakewright_offers", "nothing"))
        faults.append(Fault("cakewright_offers", got, "1", "write cakewright_offers = 1"))
    if not isinstance(table.get("study"), str):
        faults.append(
            Fault("study", repr(table.get("study")), "a study file beside this one", "add study =")
        )
    if faults:
        raise StudyError(name, faults)
    return str(table["study"])


def _toml(text: str, name: str) -> dict[str, Any]:
    try:
        return parse_toml(text)
    except tomllib.TOMLDecodeError as error:
        fault = Fault("the file", str(error), "TOML", "check quotes and brackets")
        raise StudyError(name, [fault]) from None


@foreign("a file of offers")
def parse_offers(text: str, name: str, currency: str) -> tuple[Offer, ...]:
    """Offers of a file, in the order in which they stand.

    Raises
    ------
    StudyError
        With every fault: an unknown key or machine, a quantity that cannot be read, another
        currency, a name used twice, no offer at all.
    """
    raw = _toml(text, name).get("offer")
    if not isinstance(raw, list) or not raw:
        fault = Fault("offer", repr(raw)[:40], "one or more [[offer]] tables", "add [[offer]]")
        raise StudyError(name, [fault])
    return offers_of_rows(raw, name, currency)


def offers_of_rows(raw: Sequence[Any], name: str, currency: str) -> tuple[Offer, ...]:
    """Offers of plain rows, as a file or a form gives them.

    Raises
    ------
    StudyError
        With every fault of every row.
    """
    faults: list[Fault] = []
    offers = [_offer(f"offer.{at}", row, currency, faults) for at, row in enumerate(raw)]
    names = [offer.name for offer in offers]
    for again in sorted({x for x in names if names.count(x) > 1}):
        faults.append(Fault("offer.name", f"{again!r} twice", "a name of its own", "rename one"))
    if faults:
        raise StudyError(name, faults)
    return tuple(offers)


def _offer(place: str, raw: Any, currency: str, faults: list[Fault]) -> Offer:
    row = raw if isinstance(raw, dict) else {}
    figures = offer_table()["figures"]
    _unknown(place, row, (*_WORDS, *figures), faults)
    machine = machine_said(str(row.get("machine", "")))
    if machine not in machine_keys():
        allowed = ", ".join(machine_keys())
        faults.append(Fault(f"{place}.machine", repr(machine), allowed, "name the kind offered"))
    count = row.get("machines", 1)
    if not isinstance(count, int) or isinstance(count, bool) or count < 1:
        faults.append(Fault(f"{place}.machines", repr(count), "a whole number from 1", "write 1"))
        count = 1
    for key, choices in _CHOICES.items():
        if row.get(key, choices[0]) not in choices:
            words = ", ".join(word for word in choices if word)
            faults.append(Fault(f"{place}.{key}", repr(row[key]), words, "choose one"))
    return Offer(
        name=str(row.get("name", place)),
        machine=machine,
        machines=count,
        figures=_figures(place, row, figures, currency, faults),
        polymer_counts=str(row.get("polymer_counts", "")),
        means=str(row.get("means", "expected")),
        test=_test(f"{place}.test", row.get("test"), faults),
    )


def _unknown(
    place: str, row: Mapping[str, Any], known: tuple[str, ...], faults: list[Fault]
) -> None:
    for key in row:
        if key not in known:
            faults.append(Fault(f"{place}.{key}", "unknown key", ", ".join(known), "drop it"))


def _figures(
    place: str,
    row: Mapping[str, Any],
    known: Mapping[str, Mapping[str, str]],
    currency: str,
    faults: list[Fault],
) -> dict[str, float]:
    found = {}
    for key, entry in known.items():
        if key not in row:
            continue
        try:
            found[key] = _read(entry, row[key], currency)
        except QuantityError as error:
            allowed = f"{entry['low']} to {entry['high']}".replace("currency", currency)
            faults.append(Fault(f"{place}.{key}", str(error), allowed, "write it with its unit"))
    return found


def _read(entry: Mapping[str, str], raw: Any, currency: str) -> float:
    if isinstance(raw, bool) or not isinstance(raw, (str, int, float)):
        raise QuantityError(f"{raw!r} is not a quantity")
    asked = isinstance(raw, str)
    unit = house_name(entry["name"]).unit
    shown = house_name(entry["name"]).shown.replace("currency", currency)
    raw = raw if isinstance(raw, str) else f"{float(raw)!r}"
    style = Decimals.ASK if asked else Decimals.POINT
    value = parse_quantity(raw, unit, currency=currency, bare=shown, decimals=style).value
    low, high = (
        parse_quantity(entry[end].replace("currency", currency), unit, currency=currency).value
        for end in ("low", "high")
    )
    if not low <= value <= high:
        raise QuantityError(f"{raw} is out of range")
    return value


def _test(place: str, raw: Any, faults: list[Fault]) -> OfferTest | None:
    """Test conditions; None where the offer states none, which is judged later, not refused."""
    if raw is None:
        return None
    row = raw if isinstance(raw, dict) else {}
    figures = offer_table()["test_figures"]
    _unknown(place, row, (*_TEST_WORDS, *figures), faults)
    known = offer_table()["tests"]
    kind, sludge = str(row.get("kind", "")), str(row.get("sludge_class", ""))
    own = row.get("sludge", _OTHER)
    if kind not in known:
        faults.append(Fault(f"{place}.kind", repr(kind), ", ".join(known), "say how it was found"))
    if own not in (_OWN, _OTHER):
        faults.append(Fault(f"{place}.sludge", repr(own), f"{_OWN}, {_OTHER}", "choose one"))
    if (own != _OWN or sludge) and sludge not in class_labels():
        allowed = ", ".join(class_labels())
        faults.append(Fault(f"{place}.sludge_class", repr(sludge), allowed, "name the nearest"))
    values = _figures(place, row, figures, "", faults)
    if "total_solids" not in values and "total_solids" not in row:
        faults.append(
            Fault(f"{place}.total_solids", "nothing", "solids of the feed tested", "ask for it")
        )
    solids = values.pop("total_solids", 0.0)
    return OfferTest(kind, sludge, solids, own_sludge=own == _OWN, **values)
