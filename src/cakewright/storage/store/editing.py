"""Edits of a study's text in place: comments, order and everything untouched stay as they were."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Mapping, MutableMapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError

from cakewright.errors import InputFileError, UnknownNameError
from cakewright.quantities.toml_text import parse_toml
from cakewright.study import Field, fields

__all__ = ["Edit", "Part", "apply_edits", "changed_places", "overlapping", "raw_value", "tables"]

_INTEGER = re.compile(r"[+-]?\d{1,18}$")
_NUMBER = re.compile(r"[+-]?(?:\d{1,30}\.\d{1,30}|\d{1,18})(?:[eE][+-]?\d{1,3})?$")
_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ud800-\udfff]")
_SLUDGE = re.compile(r"sludge\.(\d{1,3})(?:\.(.+))?$")
_MOST_SLUDGES = 12
_LONGEST = 4000


class Part(StrEnum):
    """What of an entry an edit changes."""

    VALUE = "value"
    BASIS = "basis"
    NOTE = "note"
    SOURCE = "source"


@dataclass(frozen=True, slots=True)
class Edit:
    """One change: a place, which part of the entry, and what was typed (empty takes it out).

    ``action`` is set, add (a sludge), remove (a sludge or an origin), or origin (work a sludge's
    flow out from what makes it).
    """

    place: str
    typed: str | tuple[str, ...] = ""
    part: Part = Part.VALUE
    action: str = "set"

    @property
    def touches(self) -> str:
        """Place this edit changes; adding or taking out a sludge moves all of them."""
        if self.action == "set":
            return self.place
        inside = self.action == "origin" or self.place.endswith(".origin")
        return self.place.removesuffix(".origin") if inside else "sludge"


def tables(text: str) -> dict[str, Any]:
    """The text as plain tables.

    Raises
    ------
    InputFileError
        If it is not TOML.
    """
    try:
        return parse_toml(text.removeprefix("\ufeff"))
    except tomllib.TOMLDecodeError as error:
        raise InputFileError(
            f"the study text is not TOML ({error}); mend it on the text page, or undo"
        ) from None


def apply_edits(text: str, edits: Iterable[Edit]) -> str:
    """Text with the edits made and nothing else moved.

    Raises
    ------
    InputFileError
        If the text is not TOML, or what was typed cannot stand in one.
    UnknownNameError
        If a place does not exist in the study format.
    """
    mark = "\ufeff" if text.startswith("\ufeff") else ""
    tables(text)
    try:
        document = tomlkit.parse(text.removeprefix("\ufeff"))
    except (TOMLKitError, ValueError) as error:
        raise InputFileError(f"the study text is not TOML ({error}); mend it first") from None
    ending = "\r\n" if "\r\n" in text else "\n"
    for edit in edits:
        _checked(edit)
        if edit.action == "add":
            _add_sludge(document)
        elif edit.action == "remove":
            _remove(document, edit.place)
        elif edit.action == "origin":
            _add_origin(document, edit.place)
        else:
            _set(document, edit)
    written = tomlkit.dumps(document)
    if ending == "\r\n":
        written = re.sub(r"(?<!\r)\n", "\r\n", written)
    return mark + written


def _checked(edit: Edit) -> None:
    parts = (edit.typed,) if isinstance(edit.typed, str) else edit.typed
    if len(parts) > 40 or any(len(part) > _LONGEST for part in parts):
        raise InputFileError(
            f"{edit.place}: got {sum(map(len, parts))} characters; at most {_LONGEST} fit here; "
            "put long texts in a file beside the study"
        )
    if any(_CONTROL.search(part) for part in parts):
        raise InputFileError(
            f"{edit.place}: got characters that are no text; type it, or paste it as plain text"
        )


def _field(place: str) -> tuple[Field, str, str]:
    """Field of a place with the table it stands in and its key."""
    table, _, key = place.rpartition(".")
    section = re.sub(r"^sludge\.\d+$", "sludge", re.sub(r"^sludge\.\d+\.origin$", "origin", table))
    found = fields().get(section or "study", {}).get(key)
    if found is None or place == "cakewright":
        raise UnknownNameError(f"{place[:80]!r} is not a place of the study format")
    return found, table, key


def _table(document: MutableMapping[str, Any], path: str, *, make: bool) -> Any:
    """The table at a path, made where it is missing."""
    if not path:
        return document
    if match := _SLUDGE.match(path):
        sludges = document.get("sludge", [])
        number = int(match.group(1))
        if not isinstance(sludges, list) or number >= len(sludges):
            raise UnknownNameError(f"{path}: the study has {len(sludges)} sludges")
        return _inside(sludges[number], "origin", make) if match.group(2) else sludges[number]
    return _inside(document, path, make)


def _inside(table: MutableMapping[str, Any], key: str, make: bool) -> Any:
    if key not in table and make:
        table[key] = tomlkit.table()
    found = table.get(key)
    if found is not None and not isinstance(found, MutableMapping):
        raise InputFileError(f"{key}: is not a table in the study text; mend it on the text page")
    return found


def _set(document: MutableMapping[str, Any], edit: Edit) -> None:
    field, path, key = _field(edit.place)
    table = _table(document, path, make=bool(edit.typed))
    if table is None:
        return
    if edit.part is Part.VALUE:
        _set_value(table, key, field, edit.typed)
    elif field.kind in ("quantity", "number"):
        _set_beside(table, key, edit)
    else:
        raise UnknownNameError(f"{edit.place}: only quantities carry a {edit.part.value}")


def _set_value(
    table: MutableMapping[str, Any], key: str, field: Field, typed: str | tuple[str, ...]
) -> None:
    entry = table.get(key)
    if not typed:
        table.pop(key, None)
    elif isinstance(entry, MutableMapping):
        for name in ("low", "typical", "high"):
            entry.pop(name, None)
        _replace(entry, "value", raw_value(field, typed))
    else:
        _replace(table, key, raw_value(field, typed))


def _replace(table: MutableMapping[str, Any], key: str, value: Any) -> None:
    """Put a value in place of another, keeping the comment behind it."""
    old = table.get(key)
    item = tomlkit.item(value)
    if old is not None and hasattr(old, "trivia"):
        item.trivia.comment_ws, item.trivia.comment = old.trivia.comment_ws, old.trivia.comment
        item.trivia.trail = old.trivia.trail
    table[key] = item


def _set_beside(table: MutableMapping[str, Any], key: str, edit: Edit) -> None:
    entry = table.get(key)
    if entry is None:
        raise InputFileError(f"{edit.place}: give the value before its {edit.part.value}")
    if not isinstance(entry, MutableMapping):
        inline = tomlkit.inline_table()
        inline["value"] = entry.unwrap() if hasattr(entry, "unwrap") else entry
        _replace_table(table, key, entry, inline)
        entry = table[key]
    if edit.typed:
        entry[edit.part.value] = str(edit.typed)
    else:
        entry.pop(edit.part.value, None)


def _replace_table(table: MutableMapping[str, Any], key: str, old: Any, new: Any) -> None:
    if hasattr(old, "trivia"):
        new.trivia.comment_ws, new.trivia.comment = old.trivia.comment_ws, old.trivia.comment
        new.trivia.trail = old.trivia.trail
    table[key] = new


def raw_value(field: Field, typed: str | Sequence[str]) -> Any:
    """What was typed as it stands in the file: numbers bare, everything else as text.

    Text that is no number stays text, so that the fault shows what was typed.
    """
    if not isinstance(typed, str):
        return list(typed)
    plain = typed.strip()
    if field.kind == "flag" and plain in ("true", "false"):
        return plain == "true"
    if field.kind == "words":
        return [plain] if field.choices else [each.strip() for each in plain.split(",")]
    if field.kind in ("integer", "number") and _INTEGER.match(plain):
        return int(plain)
    if field.kind == "number" and _NUMBER.match(plain):
        return tomlkit.value(plain.removeprefix("+"))
    return typed if field.kind == "text" else plain


def _add_sludge(document: MutableMapping[str, Any]) -> None:
    sludges = document.get("sludge")
    if sludges is None:
        sludges = document["sludge"] = tomlkit.aot()
    if len(sludges) >= _MOST_SLUDGES:
        raise InputFileError(f"sludge: got {len(sludges)} already; at most {_MOST_SLUDGES}")
    names = {str(sludge.get("name", "")) for sludge in sludges}
    table = tomlkit.table()
    number = next(n for n in range(1, 99) if f"sludge {n}" not in names)
    for key, value in (
        ("name", f"sludge {number}"),
        ("class", "was"),
        ("flow", "10 m3/d"),
        ("total_solids", "1 %"),
    ):
        table[key] = value
    table.add(tomlkit.nl())
    sludges.append(table)


def _remove(document: MutableMapping[str, Any], place: str) -> None:
    match = _SLUDGE.match(place)
    if not match or match.group(2) not in (None, "origin"):
        raise UnknownNameError(f"{place[:80]!r} cannot be taken out; only sludges and origins can")
    sludge = _table(document, f"sludge.{match.group(1)}", make=False)
    if match.group(2):
        solids = (sludge.pop("origin", None) or {}).get("total_solids")
        if solids is not None and "total_solids" not in sludge:
            sludge["total_solids"] = solids
    elif len(document["sludge"]) == 1:
        raise InputFileError(f"{place}: a study has at least one sludge; edit this one instead")
    else:
        del document["sludge"][int(match.group(1))]


def _add_origin(document: MutableMapping[str, Any], place: str) -> None:
    """Let the wastewater give the flow: what was typed for the solids moves along."""
    if not re.fullmatch(r"sludge\.\d{1,3}", place):
        raise UnknownNameError(f"{place[:80]!r} is no sludge")
    sludge = _table(document, place, make=False)
    origin = _inside(sludge, "origin", make=True)
    sludge.pop("flow", None)
    solids = sludge.pop("total_solids", None)
    origin.setdefault("kind", "biological, net yield")
    if solids is not None:
        origin.setdefault("total_solids", solids)


def changed_places(before: str, after: str) -> dict[str, Any]:
    """Places whose value differs, with the value after (None where it is gone).

    Raises
    ------
    InputFileError
        If either text is not TOML.
    """
    old, new = _flat(tables(before)), _flat(tables(after))
    changed = {place: new.get(place) for place in (*old, *new) if old.get(place) != new.get(place)}
    counts = [sum(1 for p in flat if re.fullmatch(r"sludge\.\d+", p)) for flat in (old, new)]
    return changed if counts[0] == counts[1] else {"sludge": None, **changed}


def _flat(table: Mapping[str, Any], prefix: str = "") -> dict[str, Any]:
    found: dict[str, Any] = {}
    for key, value in table.items():
        place = f"{prefix}{key}"
        if key == "sludge" and not prefix and isinstance(value, list):
            for number, sludge in enumerate(value):
                found[f"sludge.{number}"] = True
                if isinstance(sludge, dict):
                    found |= _flat(sludge, f"sludge.{number}.")
        elif isinstance(value, dict) and (key in fields() or key == "origin"):
            found |= _flat(value, f"{place}.")
        else:
            found[place] = value
    return found


def overlapping(mine: Iterable[str], theirs: Iterable[str]) -> tuple[str, ...]:
    """Places that both sides changed; a place and one inside it overlap."""
    others = list(theirs)
    return tuple(a for a in mine if any(a == b or _within(a, b) or _within(b, a) for b in others))


def _within(inner: str, outer: str) -> bool:
    return inner.startswith(f"{outer}.")


def merged_text(base: str, mine: str, head: str) -> tuple[str | None, tuple[str, ...]]:
    """The other side's text with this side's changes put in, or None and the places in the way.

    Only changes of values are merged: a text whose comments or order moved too is never mixed
    with another one.
    """
    wanted = changed_places(base, mine)
    both = overlapping(wanted, changed_places(base, head))
    if both or "sludge" in wanted or _with_values(base, wanted) != mine:
        return None, both or tuple(wanted) or ("comments or order",)
    return _with_values(head, wanted), ()


def _with_values(text: str, wanted: Mapping[str, Any]) -> str:
    document = tomlkit.parse(text.removeprefix("\ufeff"))
    for place, value in wanted.items():
        path, _, key = place.rpartition(".")
        table = _table(document, path, make=value is not None)
        if value is None:
            if table is not None:
                table.pop(key, None)
        else:
            _replace(table, key, value)
    return tomlkit.dumps(document)
