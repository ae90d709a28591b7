"""Compiler options of the press programs."""

from __future__ import annotations

from cakewright.machines.screw.program import _taken


def test_options_the_compiler_does_not_know_are_left_out() -> None:
    """A release without the option compiles the ordinary way instead of failing."""
    assert _taken({"xla_cpu_an_option_of_another_release": False}) is None
