"""Links from figures to their calculation lines."""

from __future__ import annotations

from tests.unit.reports.findings_sample import sample_findings

from cakewright.reports.book import Book, anchor
from cakewright.reports.numbers import Units


def test_a_figure_points_to_its_own_line() -> None:
    """The chosen machine's cake solids point to that machine's line."""
    book = Book(sample_findings(), Units.SI)
    link = book.line_link("cake_solids", "multi_disc_press")
    assert link == anchor("line", "multi_disc_press.cake_solids")


def test_a_machine_line_never_stands_in_for_another() -> None:
    """The decanter's cake solids have no line here, so they point nowhere."""
    assert Book(sample_findings(), Units.SI).line_link("cake_solids", "decanter") == ""


def test_an_ambiguous_name_points_nowhere() -> None:
    """Two lines give a dry solids flow; neither is guessed at."""
    assert Book(sample_findings(), Units.SI).line_link("dry_solids_flow") == ""


def test_the_only_line_of_a_name_is_found() -> None:
    """One line gives run hours, so any run hours may point to it."""
    link = Book(sample_findings(), Units.SI).line_link("run_hours_per_day")
    assert link == anchor("line", "press.run_hours_per_day")


def test_anchors_are_safe_in_any_page() -> None:
    """Whatever is in a key, its anchor holds letters, digits and dashes only."""
    assert anchor("line", 'a"b<c>.é') == "line-a-b-c---"
