"""The error tree."""

from __future__ import annotations

import inspect

from cakewright import errors
from cakewright.errors import CakewrightError, Fault, StudyError


def test_every_error_is_in_the_drawn_tree() -> None:
    """The docstring's tree names every public error, and each descends from the one base."""
    for name in errors.__all__:
        thing = getattr(errors, name)
        if inspect.isclass(thing) and issubclass(thing, Exception):
            assert issubclass(thing, CakewrightError)
            assert name in (errors.__doc__ or "")


def test_faults_are_all_in_the_message() -> None:
    """A study error lists each fault with line, got, allowed and what to try."""
    error = StudyError("s.toml", [Fault("a", "1", "2", "write 2", 7), Fault("b", "x", "y", "z")])
    assert "s.toml: 2 faults" in str(error)
    assert "line 7: a: got 1; allowed: 2; try: write 2" in str(error)
    assert "b: got x" in str(error)
