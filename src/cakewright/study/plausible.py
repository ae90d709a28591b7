"""Is it likely? Inputs against what their class usually is, and against each other."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from cakewright.errors import Fault
from cakewright.quantities import Given, from_si, house_name
from cakewright.quantities.constants import DAY
from cakewright.quantities.tables import packaged_table
from cakewright.study.fields import class_default, class_labels
from cakewright.study.model import Study, Word
from cakewright.study.quantity_text import parse_quantity

__all__ = ["Question", "impossible", "questions"]

_SLIPS = (0.1, 10.0, 0.01, 100.0, 0.001, 1000.0)


@dataclass(frozen=True, slots=True)
class Question:
    """A value that is possible but not likely: where, what to ask, what may be meant."""

    where: str
    words: str
    likely: str = ""
    line: int | None = None

    def __str__(self) -> str:
        place = self.where if self.line is None else f"line {self.line}: {self.where}"
        return f"{place}: {self.words}"


@cache
def _table() -> dict[str, Any]:
    return packaged_table("cakewright.study", "plausible.toml")


@dataclass(frozen=True, slots=True)
class _Range:
    """Expected and possible ends and the usual value, in SI."""

    expected: tuple[float, float]
    possible: tuple[float, float]
    usual: float
    unit: str


@cache
def _range(name: str, kind: str, currency: str) -> _Range | None:
    row = _table().get(name, {}).get(kind)
    if not isinstance(row, dict):
        return None
    si = house_name(name).unit

    def read(text: str) -> float:
        return parse_quantity(text.replace("currency", currency), si, currency=currency).value

    low, high = (read(text) for text in row["expected"])
    least, most = (read(text) for text in row["possible"])
    return _Range((low, high), (least, most), read(row["usual"]), _unit(row["usual"]))


def _unit(text: str) -> str:
    return text.partition(" ")[2] or "1"


def _range_of(given: Given, words: Mapping[str, Word]) -> tuple[_Range | None, str]:
    """What is known of a value, and whose it is in words."""
    currency = str(words.get("currency", "EUR"))
    if "currency" in house_name(given.name).unit:
        like = currency in _table()["currencies"]["like"]
        return (_range(given.name, "price", currency) if like else None), ""
    place = ".".join(given.where.split(".")[:2]) if given.where.startswith("sludge.") else ""
    sludge_class = str(words.get(f"{place}.class", ""))
    found = _range(given.name, sludge_class, currency) if sludge_class else None
    if found is not None:
        return found, class_labels().get(sludge_class, "")
    return _range(given.name, "any", currency), ""


def impossible(values: Mapping[str, Given], words: Mapping[str, Word]) -> Iterator[Fault]:
    """Values outside what is possible for their class."""
    for place, given in values.items():
        found, whose = _range_of(given, words)
        if given.default or found is None:
            continue
        low, high = found.possible
        if low - 1e-12 <= given.value <= high * (1 + 1e-9) + 1e-12:
            continue
        likely = _likely(given.value, found)
        told = [_shown(given.name, end, found.unit, words) for end in (low, high)]
        yield Fault(
            place,
            f"{given.as_written}{f', for {whose}' if whose else ''}",
            f"{told[0]} to {told[1]}",
            f"{_shown(given.name, likely, found.unit, words)}?" if likely else "look at its unit",
        )


def questions(study: Study) -> tuple[Question, ...]:
    """What a study should be asked about: each value unlikely for its class, and pairs that jar."""
    found = [_question(place, given, study.words) for place, given in study.values.items()]
    found += [_ash(study, index) for index in range(study.sludges)]
    found += [_load(study), _shifts(study)]
    return tuple(
        Question(one.where, one.words, one.likely, study.lines.get(one.where))
        for one in found
        if one is not None
    )


def _question(place: str, given: Given, words: Mapping[str, Word]) -> Question | None:
    if given.default:
        return None
    found, whose = _range_of(given, words)
    if found is None or found.expected[0] <= given.value <= found.expected[1]:
        return None
    shown = _shown(given.name, given.value, found.unit, words)
    usual = _shown(given.name, found.usual, found.unit, words)
    of = f" for {whose}" if whose else ""
    likely = _likely(given.value, found)
    meant = _shown(given.name, likely, found.unit, words) if likely else ""
    end = f": {meant}?" if meant else "; is it right?"
    told = _times(given.value, found.usual) if given.name not in ("temperature", "ph") else ""
    how = f"{told} the usual {usual}{of}" if told else f"unusual{of}, where {usual} is usual"
    return Question(place, f"{shown} is {how}{end}", meant)


def _times(value: float, usual: float) -> str:
    if value <= 0 or usual <= 0:
        return ""
    ratio = value / usual
    return f"{ratio:.2g} times" if ratio >= 1 else f"a {_ordinal(round(1 / ratio))} of"


def _ordinal(number: int) -> str:
    words = {2: "half", 3: "third", 4: "quarter", 5: "fifth", 10: "tenth"}
    return words.get(number, f"{number}th part")


def _likely(value: float, found: _Range) -> float:
    """The value a slip of the decimal sign or of a unit would have come from; 0 for none."""
    low, high = found.expected
    meant = [value * factor for factor in _SLIPS if low <= value * factor <= high]
    if found.usual <= 0 or not meant:
        return 0.0
    return min(meant, key=lambda x: abs(math.log(x / found.usual))) if min(meant) > 0 else 0.0


def _shown(name: str, value: float, unit: str, words: Mapping[str, Word]) -> str:
    currency = str(words.get("currency", "EUR"))
    si = house_name(name).unit
    number = float(from_si(value, si, unit)) if unit != si else value
    end = "" if unit == "1" else f" {unit.replace('currency', currency)}"
    return f"{number:.4g}{end}"


def _ash(study: Study, index: int) -> Question | None:
    place = f"sludge.{index}"
    given = study.values.get(f"{place}.ash") or study.values.get(f"{place}.volatile")
    sludge_class = study.word(f"{place}.class")
    if given is None or given.default or not sludge_class:
        return None
    ash = given.value if given.where.endswith("ash") else 1.0 - given.value
    usual = parse_quantity(class_default(sludge_class, "ash"), "1")
    half = (usual.high or usual.value) - usual.value
    if abs(ash - usual.value) <= _table()["ash"]["half_widths"] * half:
        return None
    other = 1.0 - ash
    swapped = abs(other - usual.value) <= half
    end = ": ash and volatile share exchanged?" if swapped else "; is the class right?"
    label = class_labels()[sludge_class]
    words = f"{100 * ash:.3g} % ash, where {label} has about {100 * usual.value:.2g} %{end}"
    return Question(given.where, words, f"{100 * other:.3g} %" if swapped else "")


def _load(study: Study) -> Question | None:
    """Dry solids a day: a slip of a thousand in a flow shows here."""
    total, where = 0.0, ""
    for index in range(study.sludges):
        flow = study.values.get(f"sludge.{index}.flow")
        solids = study.values.get(f"sludge.{index}.total_solids")
        if flow is None or solids is None:
            return None
        if flow.value * solids.value >= total:
            where = flow.where
        total += 1000.0 * flow.value * solids.value
    low, high = (parse_quantity(text, "kg/s").value for text in _table()["load"]["expected"])
    if low <= total <= high:
        return None
    flow = study.values[where]
    factor = 1000.0 if total < low else 0.001
    meant = f"{flow.value * factor * DAY:.4g} m3/d"
    size = "less than a line is built for" if total < low else "more than the largest works have"
    words = f"{total * DAY:.3g} kg of dry solids a day, {size}: {meant} instead?"
    return Question(where, words, meant)


def _shifts(study: Study) -> Question | None:
    """Hours of running against hours in which someone is there."""
    run, alone = study.values["duty.hours_per_day"], study.values["duty.unattended"]
    attended = 24 * (run.value - alone.value)
    if run.default or attended <= 0 or 24 * run.value <= 16 or not alone.default:
        return None
    words = (
        f"{24 * run.value:.3g} h/d with somebody there all the time takes three shifts; "
        "say in `unattended` how long the line runs alone"
    )
    return Question("duty.hours_per_day", words)
