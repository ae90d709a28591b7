"""Every public function of the engineering rooms documents its arguments, units and sources."""

from __future__ import annotations

import importlib
import inspect
import pkgutil
import re
from collections.abc import Callable, Iterator
from typing import Any

import pytest

import cakewright
from cakewright.errors import QuantityError
from cakewright.quantities import to_si
from cakewright.sources import sources

ROOMS = ("physics", "economics", "statistics")
UNIT = re.compile(r"\[([^\[\]]+)\]\s*$")
FREE = {"object", "1"}


def _functions() -> Iterator[tuple[str, Callable[..., Any]]]:
    for room in ROOMS:
        package = importlib.import_module(f"cakewright.{room}")
        for info in pkgutil.walk_packages(package.__path__, package.__name__ + "."):
            if info.name.rpartition(".")[2].startswith("_"):
                continue  # a module its room keeps to itself
            module = importlib.import_module(info.name)
            for name, thing in vars(module).items():
                public = not name.startswith("_") and getattr(thing, "__module__", "") == info.name
                if public and inspect.isfunction(inspect.unwrap(thing)):
                    yield f"{info.name}.{name}", inspect.unwrap(thing)


FUNCTIONS = dict(_functions())


def _section(doc: str, title: str) -> list[str]:
    match = re.search(rf"^{title}\n-+\n(.*?)(?=^\w[\w ]*\n-+\n|\Z)", doc, re.M | re.S)
    return match.group(1).splitlines() if match else []


def _entries(lines: list[str]) -> dict[str, str]:
    found: dict[str, str] = {}
    heads: list[str] = []
    for line in lines:
        if line and not line.startswith(" "):
            heads = [part.strip() for part in line.split(":")[0].split(",")]
            for head in heads:
                found[head] = ""
        elif line.strip() and heads:
            for head in heads:
                found[head] = f"{found[head]} {line.strip()}".strip()
    return found


def _unit_known(text: str) -> bool:
    if text in FREE:
        return True
    try:
        to_si(1.0, text, text.split(" or ")[0])
        from cakewright.quantities.convert import _line

        _line(text, text)
    except QuantityError:
        return False
    return True


@pytest.mark.parametrize("name", sorted(FUNCTIONS))
def test_docstring_is_complete(name: str) -> None:
    """Arguments are documented in order with known units, and sources exist."""
    function = FUNCTIONS[name]
    doc = inspect.getdoc(function) or ""
    assert doc, "no docstring"
    arguments = [p for p in inspect.signature(function).parameters if p not in ("self", "cls")]
    documented = _entries(_section(doc, "Parameters"))
    assert [d.lstrip("*") for d in documented] == arguments
    for what, text in {**documented, **_entries(_section(doc, "Returns"))}.items():
        match = UNIT.search(text)
        assert match, f"{what}: no [unit] at the end of {text!r}"
        assert _unit_known(match.group(1)), f"{what}: unit {match.group(1)!r} is not known"
    references = [line.strip() for line in _section(doc, "References") if line.strip()]
    cited = [m.group(1) for line in references if (m := re.match(r"\.\. \[\d+\] (\w+)", line))]
    assert cited, "no References section with a source id"
    assert set(cited) <= set(sources()), f"unknown source ids {set(cited) - set(sources())}"


def test_package_has_version() -> None:
    """The package says which version it is."""
    assert cakewright.__version__
