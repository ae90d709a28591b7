"""What the columns of a log may be: from their names in several languages, and from the numbers.

A title names a thing (feed, cake, screw ...) and a quantity (flow, solids, speed ...); together
they make a signal. The readings then speak for it or against it: whether they lie where such a
reading lies, whether a switch is a switch, whether the water that leaves is the water that enters.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

import numpy as np

from cakewright.errors import QuantityError
from cakewright.quantities import FloatArray, to_si
from cakewright.quantities.tables import packaged_table
from cakewright.running.signals import signal, state_words

__all__ = ["Proposal", "is_time_title", "propose", "split_unit"]

# The more special thing wins: sludge that is "dewatered" is cake, water that "dilutes" is not feed.
_SPECIAL = (
    "dilution", "wash", "mixer", "plate", "polymer", "cake", "filtrate", "floc", "screw", "feed",
)  # fmt: skip
_UNITS: Mapping[str, tuple[str, str]] = {
    "m3/h": ("flow", "m3/h"), "m³/h": ("flow", "m3/h"), "cbm/h": ("flow", "m3/h"),
    "l/h": ("flow", "L/h"), "l/min": ("flow", "L/min"), "l/s": ("flow", "L/s"),
    "m3/d": ("flow", "m3/d"), "gpm": ("flow", "gpm"), "m3/hr": ("flow", "m3/h"),
    "kg/h": ("mass", "kg/h"), "t/h": ("mass", "t/h"), "1/min": ("speed", "1/min"),
    "rpm": ("speed", "1/min"), "u/min": ("speed", "1/min"), "min-1": ("speed", "1/min"),
    "min^-1": ("speed", "1/min"), "tr/min": ("speed", "1/min"), "kpa": ("pressure", "kPa"),
    "mpa": ("pressure", "MPa"), "bar": ("pressure", "bar"), "mbar": ("pressure", "mbar"),
    "psi": ("pressure", "psi"), "°c": ("temperature", "degC"), "degc": ("temperature", "degC"),
    "c": ("temperature", "degC"), "℃": ("temperature", "degC"), "°f": ("temperature", "degF"),
    "kw": ("power", "kW"), "w": ("power", "W"), "a": ("current", "A"), "ntu": ("turbidity", "1"),
    "fnu": ("turbidity", "1"), "mg/l": ("suspended", "mg/L"), "g/l": ("solids", "g/L"),
    "kg/m3": ("solids", "kg/m3"), "g/kg": ("solids", "g/kg"), "cm": ("", "cm"), "mm": ("", "mm"),
    "m": ("", "m"), "%": ("", "%"), "% ts": ("solids", "%"), "%ts": ("solids", "%"),
    "% tr": ("solids", "%"), "% ms": ("solids", "%"), "% ds": ("solids", "%"), "1": ("", "1"),
    "-": ("", "1"), "percent": ("", "%"), "l/hr": ("flow", "L/h"), "m3/hora": ("flow", "m3/h"),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Proposal:
    """What one column may be: signal (empty: nothing fits), unit, how sure (0 to 1), why."""

    title: str
    key: str = ""
    unit: str = ""
    confidence: float = 0.0
    why: str = ""
    moisture: bool = False
    sketch: str = ""
    scale: float = 1.0


@cache
def _table() -> Mapping[str, Any]:
    return packaged_table("cakewright.running", "vocabulary.toml")


def _folded(text: str) -> str:
    """Small letters without accents; wide and half-width forms made one."""
    wide = unicodedata.normalize("NFKC", text).casefold().replace("ß", "ss")
    plain = unicodedata.normalize("NFKD", wide)
    plain = "".join(c for c in plain if not unicodedata.combining(c))
    # Umlauts written out fold onto the same word: zulaeuft, duenn, rueck.
    plain = re.sub(r"(?<=[a-z])(ae|oe|ue)(?=[a-z])", lambda m: m.group()[0], plain)
    return re.sub(r"[_./\\-]+", " ", plain)


@cache
def _phrases(part: str) -> tuple[tuple[str, str], ...]:
    pairs = [
        (_folded(word).strip(), concept)
        for concept, words in _table()[part].items()
        for word in words
    ]
    return tuple(sorted(pairs, key=lambda pair: -len(pair[0])))


def _concepts(text: str, part: str) -> dict[str, int]:
    """Concepts named in a text and how many letters spoke for each; longer words take theirs."""
    found: dict[str, int] = {}
    for word, concept in _phrases(part):
        short = word.isascii() and len(word) <= 3
        pattern = rf"(?<![a-z0-9]){re.escape(word)}(?![a-z0-9])" if short else re.escape(word)
        match = re.search(pattern, text)
        if match:
            found[concept] = found.get(concept, 0) + len(word) * (1 if word.isascii() else 3)
            text = text[: match.start()] + "\x00" * len(word) + text[match.end() :]
    return found


def is_time_title(title: str) -> bool:
    """Whether a title names a time."""
    text = _folded(title)
    for word in map(_folded, _table()["time"]["words"]):
        pattern = rf"(?<![a-z]){re.escape(word)}(?![a-z])" if word.isascii() else re.escape(word)
        if re.search(pattern, text):
            return not _concepts(text, "objects")
    return False


def split_unit(title: str) -> tuple[str, str]:
    """Words and unit of a title such as ``Feed flow [m3/h]`` or ``Q in m3/h``."""
    text = unicodedata.normalize("NFKC", title).strip()
    match = re.search(r"[\[(]([^\])]+)[\])]\s*$", text)
    if match:
        return text[: match.start()].strip(), match.group(1).strip()
    head, _, last = text.rpartition(" ")
    head = re.sub(r"(\s+in|,)$", "", head)
    return (head, last) if head and last.casefold() in _UNITS and len(last) > 1 else (text, "")


def _hint(unit: str) -> tuple[str, str]:
    """Quantity a unit speaks of, and how it is written here."""
    word = unit.strip().casefold().replace("³", "3").replace(" / ", "/")
    return _UNITS.get(word, ("", unit.strip()))


def _fits(key: str, unit: str) -> bool:
    try:
        to_si(1.0, unit, signal(key).house.unit)
    except QuantityError:
        return False
    return True


def _inside(key: str, unit: str, values: FloatArray, *, moisture: bool) -> float:
    """Share of the readings that lie where such a reading usually lies; nan without readings."""
    usual = _table()["usual"].get(key)
    if usual is None or not values.size:
        return float("nan")
    si = np.asarray(to_si(values, unit, signal(key).house.unit))
    si = 1 - si if moisture else si
    return float(((si >= usual["low"]) & (si <= usual["high"])).mean())


def _unit_for(key: str, unit: str, values: FloatArray, *, moisture: bool) -> tuple[str, float]:
    """The unit given, or the usual one that puts the readings where they belong."""
    if unit and _fits(key, unit):
        return unit, _inside(key, unit, values, moisture=moisture)
    usual = _table()["usual"].get(key, {}).get("units", [signal(key).house.shown])
    tried = [(u, _inside(key, u, values, moisture=moisture)) for u in usual]
    best = max(tried, key=lambda pair: -1.0 if np.isnan(pair[1]) else pair[1])
    return tried[0] if np.isnan(best[1]) else best


def _is_switch(cells: Sequence[str]) -> bool:
    words = {_folded(c).strip() for c in cells if c.strip()}
    known = {_folded(w).strip() for side in state_words().values() for w in side}
    return bool(words) and words <= known and len(words) <= 4


def _named(title: str, unit: str) -> list[tuple[str, float, str, bool]]:
    """Signals a title may name: key, how sure, why, whether it tells moisture."""
    text = _folded(title)
    objects, quantities = _concepts(text, "objects"), _concepts(text, "quantities")
    hint, _ = _hint(unit)
    if hint and not (hint == "solids" and "suspended" in quantities):
        quantities.setdefault(hint, 2)
    thing = next((one for one in _SPECIAL if one in objects), "")
    found = []
    for key, pairs in _table()["signals"].items():
        for pair in pairs:
            wanted, _, quantity = pair.partition(" ")
            if quantity and quantity not in quantities:
                continue
            if wanted != thing and not (wanted == "" and thing in ("", "feed", "screw")):
                continue
            if not quantity and quantities:
                continue
            sure = 0.85 if wanted and quantity else 0.5
            why = f"named as {' '.join(part for part in (wanted, quantity) if part)}"
            found.append((key, sure, why, quantity == "moisture"))
    return found


def _as_share(key: str, unit: str) -> tuple[float, str]:
    """Solids per volume as a share of the mass: thin sludge weighs what water weighs."""
    factor = {"g/L": 0.1, "kg/m3": 0.1, "mg/L": 1e-4}.get(unit)
    return (factor, "%") if factor and signal(key).house.unit == "1" else (1.0, unit)


def _guess(title: str, unit: str, cells: Sequence[str], values: FloatArray) -> Proposal:
    words, own = split_unit(title)
    written = unit or own
    _, house = _hint(written)
    sketch = _sketch(values)
    best = Proposal(title, unit=house, sketch=sketch)
    for key, sure, why, moist in _named(words, written):
        switch, scale = signal(key).name == "on_state", 1.0
        if switch:
            share, used = (1.0 if _is_switch(cells) else 0.0), "1"
        else:
            scale, given = _as_share(key, house)
            if given and not _fits(key, given):
                continue
            used, share = _unit_for(key, given, scale * values, moisture=moist)
        if np.isnan(share):
            weight, told = sure - 0.15, "no readings to judge by"
        elif share > 0.6:
            weight, told = min(sure + 0.1, 0.95), "readings lie where they should"
        else:
            weight, told = 0.3 * sure, "readings do not lie where they should"
        if weight > best.confidence:
            best = Proposal(title, key, used, weight, f"{why}; {told}", moist, sketch, scale)
    if not best.key and _is_switch(cells) and len(set(cells)) > 1:
        best = Proposal(title, "machine_on", "1", 0.4, "a switch", sketch=sketch)
    return best


def _sketch(values: FloatArray, width: int = 24) -> str:
    """The course of the readings in a line of text, to be looked at before it is believed."""
    if values.size < 2 or np.ptp(values) == 0:
        return ""
    parts = [float(part.mean()) for part in np.array_split(values, min(width, values.size))]
    low, high = min(parts), max(parts)
    span = (high - low) or 1.0
    return "".join("▁▂▃▄▅▆▇█"[min(7, int(8 * (p - low) / span))] for p in parts)


def _balanced(found: list[Proposal], values: Mapping[str, FloatArray]) -> list[Proposal]:
    """Where the flows close, they are surely what they are called; where not, they are doubted."""
    place = {one.key: i for i, one in enumerate(found) if one.key}
    if not {"feed_flow", "filtrate_flow"} <= set(place):
        return found
    total = {}
    for key in ("feed_flow", "polymer_flow", "wash_flow", "filtrate_flow"):
        if key in place:
            one = found[place[key]]
            x = values[one.title]
            total[key] = (
                float(np.mean(np.asarray(to_si(x[x > 0], one.unit, "m3/s"))))
                if (x > 0).any()
                else 0.0
            )
    enters = total["feed_flow"] + total.get("polymer_flow", 0.0) + total.get("wash_flow", 0.0)
    closes = 0.7 < total["filtrate_flow"] / enters < 1.25 if enters else False
    for key in total:
        one = found[place[key]]
        sure = max(one.confidence, 0.95) if closes else 0.6 * one.confidence
        told = "water in and out agree" if closes else "water in and out do not agree"
        found[place[key]] = replace(one, confidence=sure, why=f"{one.why}; {told}")
    return found


def propose(
    titles: Sequence[str], units: Sequence[str], cells: Mapping[str, Sequence[str]],
    values: Mapping[str, FloatArray],
) -> tuple[Proposal, ...]:  # fmt: skip
    """What each column may be; each signal goes to the column that is surest of it."""
    units = (*units, *[""] * len(titles))[: len(titles)]
    found = [
        _guess(title, unit, cells.get(title, ()), values.get(title, np.zeros(0)))
        for title, unit in zip(titles, units, strict=True)
    ]
    best: dict[str, int] = {}
    for i, one in enumerate(found):
        if one.key and (one.key not in best or one.confidence > found[best[one.key]].confidence):
            best[one.key] = i
    for i, one in enumerate(found):
        if one.key and best[one.key] != i:
            other = found[best[one.key]].title
            found[i] = replace(
                one, key="", confidence=0.0, why=f"would be {one.key} too, as {other!r} is"
            )
    return tuple(_balanced(found, values))
