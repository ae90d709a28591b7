"""The examples in the docstrings run and print what they say."""

from __future__ import annotations

import doctest
import pkgutil
from importlib import import_module

import pytest

ENGINEERING = ("physics", "economics", "statistics", "sludge", "bench", "line", "running")
ROOMS = ("front", "quantities", *ENGINEERING)


def _modules() -> list[str]:
    names = []
    for room in ROOMS:
        package = import_module(f"cakewright.{room}")
        names += [m.name for m in pkgutil.walk_packages(package.__path__, f"{package.__name__}.")]
    return names


@pytest.mark.parametrize("name", _modules())
def test_examples_print_what_they_say(name: str) -> None:
    """Every example of the module gives the result written under it."""
    found = doctest.testmod(import_module(name))
    assert found.failed == 0


def test_examples_are_found() -> None:
    """The walk sees the examples: more than a hundred, not none."""
    finder = doctest.DocTestFinder()
    tests = [t for n in _modules() for t in finder.find(import_module(n)) if t.examples]
    assert len(tests) > 150
