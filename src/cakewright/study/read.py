"""Text of a study file -> Study, or every fault in it at once."""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Iterable, Mapping
from types import MappingProxyType
from typing import Any

from cakewright.errors import Fault, StudyError
from cakewright.quantities import Given
from cakewright.quantities.toml_text import parse_toml
from cakewright.study.contradictions import contradictions
from cakewright.study.entry import default_given, default_word, parse_value, parse_word
from cakewright.study.fields import Field, fields, origin_kinds
from cakewright.study.model import Study, Word
from cakewright.study.number_text import Decimals
from cakewright.study.places import key_lines

__all__ = ["FORMAT_VERSION", "parse_study"]

FORMAT_VERSION = 1
_QUANTITIES = ("quantity", "number")


def parse_study(text: str, name: str = "study") -> Study:
    """Study from the text of its file.

    Raises
    ------
    StudyError
        With every fault found: place and line, what was got, what is allowed, what to try.
    """
    return _Reader(text, name).study()


class _Reader:
    """Collects values, words and faults on one pass over the file."""

    def __init__(self, text: str, name: str) -> None:
        self.text, self.name = text, name
        self.lines = key_lines(text)
        self.faults: list[Fault] = []
        self.values: dict[str, Given] = {}
        self.words: dict[str, Word] = {}
        self.currency, self.decimals = "EUR", Decimals.ASK

    def study(self) -> Study:
        table = self._toml()
        self._version(table)
        self._section("study", "", table)
        count = self._sludges(table)
        for section in fields():
            if section not in ("study", "sludge", "origin"):
                self._named_section(section, table.get(section, {}))
        self._unknown_tables(table)
        self.faults += contradictions(self.values, self.words, count)
        if self.faults:
            raise StudyError(self.name, [self._with_line(fault) for fault in self.faults])
        return Study(
            text=self.text,
            values=MappingProxyType(self.values),
            words=MappingProxyType(self.words),
            lines=MappingProxyType(self.lines),
            sludges=count,
        )

    def _toml(self) -> dict[str, Any]:
        try:
            return parse_toml(self.text)
        except tomllib.TOMLDecodeError as error:
            match = re.search(r"line (\d+)", str(error))
            line = int(match.group(1)) if match else None
            fault = Fault(
                "the file", str(error), "TOML", "check quotes, brackets and doubled keys", line
            )
            raise StudyError(self.name, [fault]) from None

    def _version(self, table: Mapping[str, Any]) -> None:
        version = table.get("cakewright")
        if isinstance(version, int) and version > FORMAT_VERSION:
            fault = Fault(
                "cakewright",
                f"format version {version}, written by a newer program",
                f"versions up to {FORMAT_VERSION}",
                "update the program, or ask for the study in the older format",
            )
            raise StudyError(self.name, [self._with_line(fault)])

    def _named_section(self, section: str, raw: Any) -> None:
        if not isinstance(raw, dict):
            self._fault(section, repr(raw), "a table", f"write [{section}] on its own line")
            raw = {}
        self._section(section, section, raw)

    def _section(self, section: str, prefix: str, raw: Mapping[str, Any]) -> None:
        known = fields()[section]
        for key in raw:
            if key not in known and not self._is_table(section, key):
                names = [*known, *fields()] if section == "study" else known
                self._unknown(f"{prefix}.{key}" if prefix else key, key, names)
        first = ("currency", "decimals")
        ordered = sorted(known.values(), key=lambda field: field.key not in first)
        for field in ordered if section == "study" else known.values():
            place = f"{prefix}.{field.key}" if prefix else field.key
            self._field(field, place, raw, self.word_of(prefix, "class"))
            if section == "study" and field.key == "currency":
                self.currency = str(self.words.get("currency", "EUR"))
            if section == "study" and field.key == "decimals":
                self.decimals = Decimals(str(self.words.get("decimals", "ask")))

    def word_of(self, prefix: str, key: str) -> str:
        """Text already read at a place."""
        return str(self.words.get(f"{prefix}.{key}", ""))

    @staticmethod
    def _is_table(section: str, key: str) -> bool:
        return (section == "study" and key in fields()) or (section == "sludge" and key == "origin")

    def _field(self, field: Field, place: str, raw: Mapping[str, Any], sludge_class: str) -> None:
        if field.key in raw:
            self._take(field, place, raw[field.key])
        elif field.required:
            self._fault(place, "nothing", field.help, f"add {field.key} = ...")
        elif field.kind in _QUANTITIES:
            given = default_given(field, place, sludge_class, self.currency)
            if given and not (field.key == "ash" and "volatile" in raw):
                self.values[place] = given
        else:
            word = default_word(field)
            if word is not None:
                self.words[place] = word

    def _take(self, field: Field, place: str, raw: Any) -> None:
        if field.kind in _QUANTITIES:
            value = parse_value(field, raw, place, self.currency, self.decimals)
            if isinstance(value, Fault):
                self.faults.append(value)
            else:
                self.values[place] = value
            return
        word = parse_word(field, raw, place)
        if isinstance(word, Fault):
            self.faults.append(word)
        else:
            self.words[place] = word

    def _sludges(self, table: Mapping[str, Any]) -> int:
        raw = table.get("sludge")
        if not isinstance(raw, list) or not raw or not all(isinstance(x, dict) for x in raw):
            got = "nothing" if raw is None else repr(raw)[:40]
            self._fault("sludge", got, "one or more [[sludge]] tables", "add [[sludge]]")
            return 0
        for index, sludge in enumerate(raw):
            self._sludge(f"sludge.{index}", sludge)
        return len(raw)

    def _sludge(self, prefix: str, raw: Mapping[str, Any]) -> None:
        self._section("sludge", prefix, raw)
        direct = [key for key in ("flow", "total_solids") if key in raw]
        if "origin" in raw:
            if direct:
                self._fault(
                    f"{prefix}.{direct[0]}",
                    "both a direct figure and [sludge.origin]",
                    "one of the two",
                    f"drop `{direct[0]}` or the origin",
                )
            self._origin(f"{prefix}.origin", raw["origin"])
        else:
            for key in ("flow", "total_solids"):
                if key not in raw:
                    self._fault(
                        f"{prefix}.{key}",
                        "nothing",
                        "flow and total_solids, or a [sludge.origin]",
                        f'add {key} = "{"48 m3/d" if key == "flow" else "0.8 %"}"',
                    )

    def _origin(self, prefix: str, raw: Any) -> None:
        if not isinstance(raw, dict):
            self._fault(prefix, repr(raw)[:40], "a table", "write [sludge.origin]")
            return
        self._section("origin", prefix, raw)
        for key in origin_kinds().get(self.word_of(prefix, "kind"), ()):
            if key not in raw and key != "wastewater_flow":
                field = fields()["origin"][key]
                self._fault(f"{prefix}.{key}", "nothing", field.help, f"add {key} = ...")

    def _unknown_tables(self, table: Mapping[str, Any]) -> None:
        for key, value in table.items():
            if isinstance(value, list) and key in fields() and key != "sludge":
                self._fault(key, "[[...]]", f"one [{key}] table", f"write [{key}]")

    def _unknown(self, place: str, key: str, known: Iterable[str]) -> None:
        names = list(known)
        near = difflib.get_close_matches(key, names, n=1, cutoff=0.4)
        hint = f"did you mean `{near[0]}`? " if near else ""
        hint += f"known keys: {', '.join(names)}"
        already = any(fault.where == place for fault in self.faults)
        if not already:
            self._fault(place, f"unknown key `{key}`", "the keys of the study format", hint)

    def _fault(self, where: str, got: str, allowed: str, try_this: str) -> None:
        self.faults.append(Fault(where, got, allowed, try_this))

    def _with_line(self, fault: Fault) -> Fault:
        line = fault.line
        place = fault.where
        while line is None and place:
            line = self.lines.get(place)
            place = place.rpartition(".")[0]
        return Fault(fault.where, fault.got, fault.allowed, fault.try_this, line)
