"""One entry of a study file -> a value or a word, or the fault with it."""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Mapping, Sequence
from datetime import date
from functools import lru_cache
from typing import Any

from cakewright.errors import Fault, QuantityError
from cakewright.machines.registry import data_of
from cakewright.quantities import Basis, Given, from_si, house_name
from cakewright.quantities.unit_text import squeezed
from cakewright.sources import sources
from cakewright.study.fields import Field, class_default, class_labels, fields
from cakewright.study.model import Word
from cakewright.study.quantity_text import (
    AmbiguousQuantityError,
    Decimals,
    Spread,
    parse_quantity,
)
from cakewright.study.unit_words import words

__all__ = ["default_given", "default_word", "parse_value", "parse_word", "read_quantity", "said_as"]

_VALUE_KEYS = {"value", "low", "typical", "high", "basis", "source", "note"}
_TITLE_BLOCK = 80
_BARE_NOTE = "given without a basis"


def parse_value(
    field: Field, raw: Any, place: str, currency: str, decimals: Decimals = Decimals.POINT
) -> Given | Fault:
    """Quantity or plain number of a field."""
    table = raw if isinstance(raw, dict) else {"value": raw}
    problem = _table_problem(table)
    if problem:
        return Fault(place, problem, _allowed(field), _example(field))
    try:
        spread, written = _spread(field, table, currency, decimals)
    except QuantityError as error:
        return Fault(place, str(error), _allowed(field, currency), _example(field, currency))
    outside = _outside(field, spread, currency)
    if outside:
        read = "" if spread.understood in ("", written) else f", read as {spread.understood}"
        return Fault(
            place,
            f"{written}{read} ({outside})",
            _allowed(field, currency),
            _meant(field, spread, currency),
        )
    return _given(field, table, spread, written, place)


def _table_problem(table: dict[str, Any]) -> str:
    unknown = sorted(set(table) - _VALUE_KEYS)
    if unknown:
        return f"unknown key {unknown[0]!r} (known: {', '.join(sorted(_VALUE_KEYS))})"
    triple = {"low", "typical", "high"} & set(table)
    if "value" in table and triple:
        return "both `value` and low/typical/high"
    if "value" not in table and triple != {"low", "typical", "high"}:
        return "neither `value` nor all of low, typical, high"
    if "basis" in table and table["basis"] not in [basis.value for basis in Basis]:
        return f"basis {table['basis']!r} (known: {', '.join(basis.value for basis in Basis)})"
    return ""


def _spread(
    field: Field, table: dict[str, Any], currency: str, decimals: Decimals
) -> tuple[Spread, str]:
    if "value" in table:
        return _read(field, table["value"], currency, decimals), str(table["value"])
    keys = ("low", "typical", "high")
    parts = [_read(field, table[key], currency, decimals).value for key in keys]
    written = " .. ".join(str(table[key]) for key in keys)
    if not parts[0] <= parts[1] <= parts[2]:
        raise QuantityError(f"{written}: low, typical and high must rise")
    return Spread(parts[1], parts[0], parts[2]), written


def _read(field: Field, raw: Any, currency: str, decimals: Decimals) -> Spread:
    if isinstance(raw, bool) or not isinstance(raw, (str, int, float)):
        raise QuantityError(f"{_shown(raw)} is not a quantity")
    if not isinstance(raw, str):
        # A bare number of the file has a point for its decimals and takes the field's unit.
        if (isinstance(raw, int) and abs(raw) > 10**25) or not math.isfinite(raw):
            raise QuantityError(f"{str(raw)[:30]} is not a number that is measured")
        raw, decimals = f"{float(raw)!r}", Decimals.POINT
    return read_quantity(field, raw, currency, decimals)


def read_quantity(field: Field, text: str, currency: str, decimals: Decimals) -> Spread:
    """What a text means in a field; what can only be read one way inside its limits is no question.

    Raises
    ------
    QuantityError
        If it is no quantity of the field, or two readings are possible.
    """
    try:
        return _quantity(field, text, currency, decimals)
    except AmbiguousQuantityError as error:
        possible = [one for one in error.readings if not _outside(field, one, currency)]
        if len(possible) == 1:
            return possible[0]
        raise


def _quantity(field: Field, text: str, currency: str, decimals: Decimals) -> Spread:
    return parse_quantity(
        text,
        house_name(field.name).unit,
        also=field.also,
        currency=currency,
        bare=field.unit.replace("currency", currency or "EUR"),
        decimals=decimals,
    )


@lru_cache(maxsize=1024)
def _limit(field: Field, text: str, currency: str) -> float | None:
    if not text:
        return None
    written = text.replace("currency", currency or "EUR")
    return _quantity(field, written, currency or "EUR", Decimals.POINT).value


def _outside(field: Field, spread: Spread, currency: str) -> str:
    low, high = _limit(field, field.low, currency), _limit(field, field.high, currency)
    ends = [x for x in (spread.low, spread.value, spread.high) if x is not None]
    slack = 1e-12
    if low is not None and (min(ends) < low - slack or (field.open and min(ends) <= low)):
        return "too low" if spread.low in (None, spread.value) else "its low end is too low"
    if high is not None and max(ends) > high * (1 + slack) + slack:
        return "too high" if spread.high in (None, spread.value) else "its high end is too high"
    return ""


def _given(field: Field, table: dict[str, Any], spread: Spread, written: str, place: str) -> Given:
    note = str(table.get("note", ""))
    source = str(table.get("source", "")) or None
    if source and source not in sources():
        note = f"{note}; source: {source}".strip("; ")
        source = None
    note = "; ".join(filter(None, (note, *spread.remarks)))
    if "basis" not in table:
        note = f"{note}; {_BARE_NOTE}".strip("; ")
    return Given(
        name=field.name,
        value=spread.value,
        basis=Basis(table.get("basis", Basis.ASSUMED)),
        source=source,
        note=note,
        low=spread.low,
        high=spread.high,
        where=place,
        as_written=written,
    )


def default_given(field: Field, place: str, sludge_class: str, currency: str) -> Given | None:
    """What stands in for a quantity nobody gave; None when nothing may."""
    text, source, mark = field.default, field.source or None, field.mark
    if field.by_class and sludge_class:
        text = class_default(sludge_class, field.key)
        source, mark = "JUDGEMENT", type(field.mark)("judgement")
    if text is None:
        return None
    text = text.replace("currency", currency)
    spread = _quantity(field, text, currency, Decimals.POINT)
    return Given(
        name=field.name,
        value=spread.value,
        basis=field.basis,
        mark=mark,
        source=source,
        note=field.note,
        low=spread.low,
        high=spread.high,
        default=True,
        where=place,
        as_written=text,
    )


def parse_word(field: Field, raw: Any, place: str) -> Word | Fault:
    """Text, choice, flag, whole number or list of words."""
    if field.kind == "flag":
        return raw if isinstance(raw, bool) else _wrong(field, raw, place)
    if field.kind == "integer":
        if isinstance(raw, bool) or not isinstance(raw, int):
            return _wrong(field, raw, place)
        inside = int(field.low or raw) <= raw <= int(field.high or raw)
        return raw if inside else _wrong(field, raw, place)
    if field.kind == "words":
        return _parse_words(field, raw, place)
    if not isinstance(raw, str) or len(raw) > 2000:
        return _wrong(field, raw, place)
    if field.choices and raw not in field.choices:
        return _spoken_word(field, raw, place)
    if field.section == "document" and field.kind == "text":
        return _document_word(field, raw, place)
    if field.key == "currency" and not (len(raw) == 3 and raw.isalpha() and raw.isupper()):
        return Fault(place, repr(raw), "a three-letter currency code", 'write currency = "EUR"')
    return raw


def _document_word(field: Field, raw: str, place: str) -> Word | Fault:
    """A field of the title block: short, on one line; a number and a date of their own form."""
    if len(raw) > _TITLE_BLOCK or any(not sign.isprintable() for sign in raw):
        allowed = f"up to {_TITLE_BLOCK} printable signs on one line"
        return Fault(place, repr(raw[:60]), allowed, f'write {field.key} = "..." shorter')
    if field.key in ("number", "revision") and not re.fullmatch(r"[\w.\-/+ ]{0,40}", raw):
        allowed = "letters, digits, spaces and . _ / + -, up to 40"
        kept = re.sub(r"[^\w.\-/+ ]", "-", raw)[:40]
        return Fault(place, repr(raw), allowed, f'write {field.key} = "{kept}"')
    if field.key == "date" and raw:
        try:
            date.fromisoformat(raw)
        except ValueError:
            return Fault(place, repr(raw), "a day as year-month-day", 'write date = "2026-03-01"')
    return raw


def _parse_words(field: Field, raw: Any, place: str) -> Word | Fault:
    if not isinstance(raw, list) or not raw:
        return _wrong(field, raw, place)
    for word in raw:
        if not isinstance(word, str) or (field.choices and not said_as(field, word)):
            return _wrong(field, word, place)
    meant = [said_as(field, word)[0] if field.choices else word for word in raw]
    return tuple(dict.fromkeys(meant))


def said_as(field: Field, word: str) -> tuple[str, ...]:
    """Choices of a field that a person means by a word: one, several, or none."""
    if word in field.choices:
        return (word,)
    plain = " ".join(squeezed(word).casefold().replace("_", " ").split())
    said = _names(field)
    labels = class_labels() if field.key == "class" else {}
    return tuple(
        choice
        for choice in field.choices
        if plain in (choice.casefold().replace("_", " "), labels.get(choice, "").casefold())
        or plain in said.get(choice, ())
    )


def _names(field: Field) -> Mapping[str, Sequence[str]]:
    """What people call each choice of a field."""
    if field.key == "kinds":
        return {key: data_of(key, "kind.toml").get("called", ()) for key in field.choices}
    found: Mapping[str, Sequence[str]] = words()["classes"] if field.key == "class" else {}
    return found


def machine_said(word: str) -> str:
    """Key of the kind of machine a person means; the word itself where it is none or several."""
    meant = said_as(fields()["machines"]["kinds"], word)
    return meant[0] if len(meant) == 1 else word


def _spoken_word(field: Field, raw: str, place: str) -> Word | Fault:
    meant = said_as(field, raw)
    if len(meant) == 1:
        return meant[0]
    if meant:
        both = " or ".join(meant)
        return Fault(
            place, f"{raw!r}, which can be {both}", both, f'write {field.key} = "{meant[0]}"'
        )
    near = difflib.get_close_matches(raw.casefold(), field.choices, n=1, cutoff=0.5)
    hint = f'did you mean "{near[0]}"?' if near else "take the nearest of these"
    return Fault(place, _shown(raw), _allowed(field), hint)


def default_word(field: Field) -> Word | None:
    """What stands in for a word nobody gave."""
    if field.default is None:
        return None
    if field.kind == "flag":
        return field.default == "true"
    if field.kind == "integer":
        return int(field.default)
    return field.default


def _wrong(field: Field, raw: Any, place: str) -> Fault:
    return Fault(place, _shown(raw), _allowed(field), _example(field))


def _shown(raw: Any) -> str:
    text = repr(raw)
    return text if len(text) <= 60 else text[:57] + "..."


def _allowed(field: Field, currency: str = "EUR") -> str:
    if field.choices:
        return "one of " + ", ".join(field.choices)
    if field.low or field.high:
        above = "above" if field.open else "from"
        ends = f"{above} {field.low or 'any'} to {field.high or 'any'}"
        return ends.replace("currency", currency or "EUR")
    plain = {"text": "text", "flag": "true or false", "integer": "a whole number", "file": "a path"}
    return plain.get(field.kind, "a quantity with its unit")


def _example(field: Field, currency: str = "EUR") -> str:
    if field.choices:
        return f'write {field.key} = "{field.choices[0]}"'
    if field.kind in ("quantity", "number"):
        sample = field.default or _middle(field)
        sample = sample.split("±")[0].split("..")[-1].strip()
        sample = sample if field.kind == "number" else f'"{sample}"'
        return f"write {field.key} = {sample.replace('currency', currency or 'EUR')}"
    return field.help


def _meant(field: Field, spread: Spread, currency: str) -> str:
    """The value a person probably meant: a slip of a power of ten or of a unit."""
    if spread.low is None:
        for factor in (0.01, 0.1, 10.0, 100.0, 0.001, 1000.0):
            near = Spread(spread.value * factor)
            if near.value and not _outside(field, near, currency):
                return f"{_in_unit(field, near.value, currency)}? or {_example(field, currency)}"
    return _example(field, currency)


def _in_unit(field: Field, value: float, currency: str) -> str:
    unit = field.unit or "1"
    number = float(from_si(value, house_name(field.name).unit, unit))
    shown = "" if unit == "1" else f" {unit.replace('currency', currency or 'EUR')}"
    return f"{number:.4g}{shown}"


def _middle(field: Field) -> str:
    examples = {
        "volume_flow": "48 m3/d",
        "total_solids": "0.8 %",
        "polymer_dose": "6 kg/t",
        "wastewater_flow": "600 m3/d",
        "sludge_age": "12 d",
    }
    return examples.get(field.name, field.high or "1")
