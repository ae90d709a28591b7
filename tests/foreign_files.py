"""Good files of every kind a person brings, and ways to spoil them."""

from __future__ import annotations

import atexit
import copy
import json
import random
import re
import shutil
import tempfile
import tomllib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import tomlkit

EXAMPLES = Path(__file__).parents[1] / "examples"
HOSTILE: tuple[Any, ...] = (
    5, -1, 1e308, True, "", "x", "\u0000 \u202e", "9" * 5000, "9**9**9 m3/d", "8 m0", [], [1], [[]],
    {}, {"a": 1}, ["x", "y", "z"], float("nan"), float("inf"), "1.200", "..", "%", -1e-320,
)  # fmt: skip


@dataclass(frozen=True)
class Kind:
    """A kind of file: its reader (of a text), and the text of a good one."""

    name: str
    read: Callable[[str], object]
    good: str
    toml: bool = True


def _on_disk(reader: Callable[[Path], object], name: str) -> Callable[[str], object]:
    folder = Path(tempfile.mkdtemp(prefix="cakewright-spoiled-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)

    def read(text: str) -> object:
        path = folder / name
        path.write_bytes(text.encode("utf-8", "surrogatepass"))
        return reader(path)

    return read


@cache
def kinds() -> tuple[Kind, ...]:
    """Every kind of text a person brings."""
    from cakewright.jobs.offer_text import parse_offers
    from cakewright.sludge.law_text import parse_law
    from cakewright.storage.bench_sheets import read_bench_files
    from cakewright.storage.catalogue import read_catalogue
    from cakewright.storage.live.reading import parse_tag_map
    from cakewright.storage.logs import parse_column_map
    from cakewright.storage.logs.site_file import parse_site
    from cakewright.storage.logs.trial_files import parse_protocol, read_results, read_runs
    from cakewright.storage.pilot_runs import read_pilot_runs
    from cakewright.study import parse_study

    def text(name: str) -> str:
        return (EXAMPLES / name).read_text(encoding="utf-8")

    def bench(path: Path) -> object:
        return read_bench_files([path])

    tags = (
        'site = "a"\naddress = "modbus://127.0.0.1:502"\nevery_s = 10\nunit_id = 1\n'
        '[tags.feed_flow]\nregister = 1\nkind = "float32"\nunit = "m3/h"\n'
    )
    return (
        Kind("study", parse_study, text("soy.toml")),
        Kind("offers", lambda t: parse_offers(t, "offers", "EUR"), text("pilot/offers.toml")),
        Kind("law", parse_law, text("pilot/sludge-law.toml")),
        Kind("column map", parse_column_map, text("running/minutes.toml")),
        Kind("site", parse_site, text("running/site.toml")),
        Kind("protocol", parse_protocol, text("running/protocol.toml")),
        Kind("tag map", parse_tag_map, tags),
        Kind("catalogue", _on_disk(read_catalogue, "c.toml"), _catalogue()),
        Kind("bench", _on_disk(bench, "b.csv"), text("bench/filtration.csv"), toml=False),
        Kind("pilot", _on_disk(read_pilot_runs, "p.csv"), text("pilot/runs.csv"), toml=False),
        Kind("samples", _on_disk(read_runs, "s.csv"), _samples(), toml=False),
        Kind("tuning", _on_disk(read_results, "t.csv"), _tuning(), toml=False),
    )


def _catalogue() -> str:
    from cakewright.machines import catalogue_columns

    rows = []
    for key in catalogue_columns():
        rows.append(f'"{key}" = 1')
    return "[[frame]]\n" + "\n".join(rows) + "\n"


def _samples() -> str:
    return (
        "run;minutes;feed_flow [m3/h];feed_solids [%];cake_solids [%];note\n"
        "A;10;5;1.2;18;x\nA;20;5;1.2;18;\n"
    )


def _tuning() -> str:
    return "run;screw_speed [1/min];feed_solids [%];cake_solids [%];kind;note\n1;3;1.2;18;;\n"


def places(table: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Every place in nested tables and lists."""
    items = table.items() if isinstance(table, dict) else enumerate(table)
    for key, value in items:
        yield (*path, key)
        if isinstance(value, dict | list):
            yield from places(value, (*path, key))


def spoiled(kind: Kind, dice: random.Random) -> str:
    """The good text with one thing wrong."""
    if not kind.toml or dice.random() < 0.3:
        return _scrambled(kind.good, dice)
    table = copy.deepcopy(tomllib.loads(kind.good))
    path = dice.choice(list(places(table)))
    holder = table
    for key in path[:-1]:
        holder = holder[key]
    if dice.random() < 0.25:
        del holder[path[-1]]
    else:
        holder[path[-1]] = dice.choice(HOSTILE)
    try:
        return tomlkit.dumps(table)
    except Exception:
        return json.dumps(table, default=str)


@cache
def _values_in(text: str) -> tuple[tuple[int, int], ...]:
    """Where the values of a TOML text stand: texts in quotes, numbers, words."""
    found = re.finditer(r'(?<=[=\[,])\s*("[^"\n]*"|[\w.+-]+)(?=\s*[\],}#\n])', text)
    return tuple(one.span(1) for one in found)


def quickly_spoiled(kind: Kind, dice: random.Random) -> str:
    """The same at the speed of a cut: one or two values exchanged in the text, or it scrambled."""
    spans = _values_in(kind.good) if kind.toml else ()
    if not spans or dice.random() < 0.3:
        return _scrambled(kind.good, dice)
    text = kind.good
    for start, end in sorted(dice.sample(spans, min(len(spans), dice.randrange(1, 3))))[::-1]:
        text = text[:start] + dice.choice(_LITERALS) + text[end:]
    return text


_LITERALS = (
    "5", "-1", "1e308", "true", '""', '"x"', '"\\u0000 \\u202e"', f'"{"9" * 5000}"', "[]", "[1]",
    '"9**9**9 m3/d"', '"8 m0"', "[[]]", "{}", "{ a = 1 }", '["x", "y", "z"]', "nan", "inf", "1.200",
    '".."', '"%"', "-1e-320", "1979-05-27", "0x7fffffffffffffffffff", "''''''", "[", "}", "",
    '"1 .. 2 .. 0.5 kg/t"', '"5 m3/h/h/h/h"', "1e400", '"\\ud800"', '"-0 %"',
)  # fmt: skip


def _scrambled(text: str, dice: random.Random) -> str:
    way = dice.randrange(7)
    lines = text.split("\n")
    at = dice.randrange(len(lines))
    if way == 0:
        return text[: dice.randrange(len(text))]
    if way == 1:
        lines.pop(at)
    elif way == 2:
        lines.insert(at, dice.choice(lines))
    elif way == 3:
        cells = lines[at].split(",")
        cells[dice.randrange(len(cells))] = str(dice.choice(HOSTILE))
        lines[at] = ",".join(cells)
    elif way == 4:
        lines[at] = lines[at].replace(",", ";") + "\r"
    elif way == 5:
        cells = lines[at].split(",")
        lines[at] = ",".join(cells[: dice.randrange(len(cells))])
    else:
        where = dice.randrange(len(text))
        junk = dice.choice(("\0", "\r", '"', "\ufeff", "[[", "=", "é" * 50, "'" * 3, "\ud800"))
        return text[:where] + junk + text[where:]
    return "\n".join(lines)
