"""Piping and instrument diagrams: everything of the line's lists stands on them, and nothing on
anything else."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import pytest
from tests.unit.line.lines_for_tests import FERRIC, LIME, kind_line

from cakewright.line.design import design
from cakewright.line.items import PipeLine
from cakewright.machines import Kind
from cakewright.reports.drawings.check import overlaps
from cakewright.reports.drawings.flow import flow_diagram
from cakewright.reports.drawings.instrument_graph import instrument_graphs, line_number
from cakewright.reports.drawings.legend import with_legend
from cakewright.reports.drawings.shapes import Words
from cakewright.reports.drawings.sheet import on_sheet

FIELDS = (("drawing", "Piping and instrument diagram"), ("site", "an invented works"))


@pytest.mark.parametrize("kind", list(Kind))
def test_everything_is_drawn_once_and_free(kind: Kind) -> None:
    """Two sheets of every kind: no overlap; each valve and instrument once, each pump, each sized
    pipe with its number."""
    line = design(kind_line(kind))
    words: Counter[str] = Counter()
    held: Counter[str] = Counter()
    for graph in instrument_graphs(line, kind.value, "P&I"):
        sheet = on_sheet(with_legend(flow_diagram(graph), graph, ("a note",)), FIELDS)
        assert overlaps(sheet) == []
        words.update(s.text for s in sheet.shapes if isinstance(s, Words))
        held.update("-".join(each) for node in graph.nodes for each in node.bubbles)
    assert held == Counter(s.tag for s in line.signals)
    assert {tag for tag in words if tag.startswith(("HV-", "NV-", "PSV-"))} == {
        v.tag for v in line.valves
    }
    assert all(words[v.tag] == 1 for v in line.valves)
    for pipe in line.pipes:
        assert any(text.startswith(f"{pipe.tag} DN {pipe.nominal} PN") for text in words), pipe.tag


@pytest.mark.parametrize(("bar", "designation"), [(1, 10), (9.0, 10), (9.2, 16), (60, 100)])
def test_class_stands_above_the_opening_of_the_relief(bar: float, designation: int) -> None:
    """The next class above 1.1 times the pump's pressure."""
    pipe = PipeLine("L-9", "", "", "", "", 50, 0.05, 1, 1, 1, 1, 1, 0, 0, "")
    assert line_number(pipe, bar * 1e5) == f"L-9 DN 50 PN {designation}"


def test_high_pressure_lines_are_of_a_higher_class() -> None:
    """A membrane press's squeeze and cloth wash are not of the class of its feed."""
    line = design(kind_line(Kind.MEMBRANE_PRESS))
    numbers = {
        edge.number.split()[0]: int(edge.number.split()[-1])
        for graph in instrument_graphs(line, "membrane_press", "P&I")
        for edge in graph.edges
        if edge.number
    }
    assert numbers["L-401"] > numbers["L-303"] > numbers["L-402"]


def test_lines_of_one_medium_that_meet_are_of_one_class() -> None:
    """The fill line of a press stands the pressure of the pump that presses behind it."""
    line = design(kind_line(Kind.MEMBRANE_PRESS, products=(replace(FERRIC, dose=0.05),
                                                           replace(LIME, dose=0.15))))  # fmt: skip
    stronger = tuple(
        replace(item, data=tuple(
            replace(d, value=3.5e6) if d.name == "line_pressure" else d for d in item.data
        )) if item.tag == "P-301" else item
        for item in line.items
    )  # fmt: skip
    numbers = {
        edge.number.split()[0]: int(edge.number.split()[-1])
        for graph in instrument_graphs(replace(line, items=stronger), "membrane_press", "P&I")
        for edge in graph.edges
        if edge.number
    }
    assert numbers["L-301"] == numbers["L-302"] == 40
    assert numbers["L-403"] == 10
