"""Flow diagrams: placed, routed and drawn without anything on top of anything."""

from __future__ import annotations

import random
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.unit.reports.graph_sample import sample_graph

from cakewright.reports.drawings.check import overlaps
from cakewright.reports.drawings.flow import flow_diagram
from cakewright.reports.drawings.graph import DrawingGraph, Edge, LineKind, Node
from cakewright.reports.drawings.placing import place
from cakewright.reports.drawings.shapes import Box, Drawing, Stroke
from cakewright.reports.drawings.sheet import SHEETS, SheetTable, on_sheet
from cakewright.reports.drawings.svg import drawing_svg
from cakewright.reports.drawings.symbols import SYMBOLS, symbol, symbol_size

FIELDS = (("drawing", "Flow diagram"), ("site", "an invented works"))


def sample_table() -> SheetTable:
    """A stream table with one row for each numbered line."""
    rows = tuple(
        (edge.number, "a stream of usual name", "9.10", "9000", "112.5", "1.25")
        for edge in sample_graph().edges
        if edge.number
    )
    return SheetTable(("no.", "stream", "m³/h", "kg/h", "kg DS/h", "TS, %"), rows)


def test_whole_line_has_no_overlaps() -> None:
    """Two dozen apparatus with recycles, dosing and signals: every text and line is free."""
    assert overlaps(flow_diagram(sample_graph())) == []


def test_every_numbered_line_shows_its_number() -> None:
    """No stream number was left out for want of room."""
    drawing = flow_diagram(sample_graph())
    shown = {box.what for box in drawing.boxes if box.what.startswith("tag ")}
    assert shown == {f"tag {edge.key}" for edge in sample_graph().edges if edge.number}


def test_main_line_runs_left_to_right_in_one_row() -> None:
    """The main line's apparatus stand in one row, each right of the one before."""
    cells = place(sample_graph())
    main = ["works", "tank", "pump", "measure", "floc", "press", "conveyor", "skip", "outlet"]
    assert len({cells[key][1] for key in main}) == 1
    assert [cells[key][0] for key in main] == sorted({cells[key][0] for key in main})


def test_what_feeds_stands_above_and_what_leaves_below() -> None:
    """Dosing and water stand above the main line, filtrate below it."""
    cells = place(sample_graph())
    row = cells["press"][1]
    assert all(cells[key][1] < row for key in ("dosing", "makedown", "water", "cpump"))
    assert all(cells[key][1] > row for key in ("sump", "rpump", "back"))


def test_line_weights() -> None:
    """Main lines 1.0 mm, minor lines 0.5 mm, signals 0.25 mm and dashed."""
    weights: dict[str, set[float]] = {}
    for shape in flow_diagram(sample_graph()).shapes:
        if isinstance(shape, Stroke) and shape.layer.startswith("lines") and not shape.fill:
            weights.setdefault(shape.layer, set()).add(shape.weight)
            assert shape.dashed == (shape.layer == "lines signal")
    assert weights == {
        "lines main": {1.0},
        "lines secondary": {0.5},
        "lines utility": {0.5},
        "lines signal": {0.25},
    }


def test_the_less_important_line_is_broken() -> None:
    """Where a signal crosses a main line the signal has the gap."""
    nodes = (
        Node("a", "tank", "a", cell=(0, 0)),
        Node("b", "tank", "b", cell=(2, 0)),
        Node("s", "meter", "LI", cell=(0, -1)),
        Node("t", "meter", "LI", cell=(1, 1)),
    )
    edges = (Edge("main", "a", "b"), Edge("signal", "s", "t", LineKind.SIGNAL))
    drawing = flow_diagram(DrawingGraph("crossing", nodes, edges))
    assert overlaps(drawing) == []
    strokes = [s for s in drawing.shapes if isinstance(s, Stroke) and not s.fill]
    main = [s for s in strokes if s.layer == "lines main"]
    signal = [s for s in strokes if s.layer == "lines signal"]
    corners = len(dict(drawing.runs)["signal"])
    assert len(main) == 1
    assert len(signal) == (corners - 1) + 1


def _random_graph(seed: int) -> DrawingGraph:
    chance = random.Random(seed)
    kinds = sorted(SYMBOLS)
    count = chance.randint(2, 14)
    nodes = tuple(
        Node(
            f"n{at}",
            chance.choice(kinds),
            " ".join(chance.choices(["feed", "sludge", "pump", "tank", "of", "measuring"], k=3)),
            chance.choice(["", f"P{at}"]),
            chance.choice(["", "4–12 m³/h, 1.5 kW"]),
        )
        for at in range(count)
    )
    edges = []
    for at in range(chance.randint(1, 2 * count)):
        a, b = chance.sample(range(count), 2)
        kind = chance.choice(list(LineKind))
        edges.append(Edge(f"e{at}", f"n{a}", f"n{b}", kind, str(at)))
    return DrawingGraph("any", nodes, tuple(edges))


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10**6))
def test_any_graph_is_drawn_without_overlaps(seed: int) -> None:
    """Whatever is joined to whatever, no text, symbol or line ends up on another."""
    drawing = flow_diagram(_random_graph(seed))
    assert overlaps(drawing) == []


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10**6))
def test_every_node_has_a_cell_of_its_own(seed: int) -> None:
    """No two apparatus share a place, and none is left out."""
    graph = _random_graph(seed)
    cells = place(graph)
    assert set(cells) == {node.key for node in graph.nodes}
    assert len(set(cells.values())) == len(graph.nodes)


def test_wished_cells_are_kept() -> None:
    """A design that says where its apparatus stand gets them there."""
    nodes = tuple(
        Node(k, "tank", k, cell=c) for k, c in (("a", (0, 0)), ("b", (2, -1)), ("c", (2, 1)))
    )
    graph = DrawingGraph("wishes", nodes, (Edge("1", "a", "b"), Edge("2", "a", "c")))
    assert place(graph) == {"a": (0, 1), "b": (2, 0), "c": (2, 2)}
    assert overlaps(flow_diagram(graph)) == []


def test_overlap_check_sees_overlaps() -> None:
    """The check itself finds a text on a symbol, a line through a box, two lines on each other."""
    boxes = (Box(0, 0, 10, 10, "symbol a"), Box(5, 5, 20, 9, "text b"))
    runs = (("x", ((0.0, 4.0), (30.0, 4.0))), ("y", ((25.0, 4.0), (40.0, 4.0))))
    found = overlaps(Drawing("bad", 35, 20, (), boxes, runs))
    assert "symbol a on text b" in found
    assert "line x on symbol a" in found
    assert "line x along line y" in found


@pytest.mark.parametrize("kind", sorted(SYMBOLS))
def test_symbols_stay_in_their_place(kind: str) -> None:
    """No symbol reaches more than a hand's breadth of the pen outside its rectangle."""
    width, height = symbol_size(kind)
    for shape in symbol(kind):
        points = shape.points if isinstance(shape, Stroke) else ()
        assert all(abs(x) <= width / 2 + 3.1 and abs(y) <= height / 2 + 1.1 for x, y in points)


def test_sheet_holds_diagram_and_table() -> None:
    """On A3 the line, its stream table and the title strip stand free of each other."""
    sheet = on_sheet(flow_diagram(sample_graph()), FIELDS, sample_table())
    assert (sheet.width, sheet.height) == SHEETS["A3"]
    assert overlaps(sheet) == []


def test_texts_on_a_sheet_stay_legible() -> None:
    """No text is set smaller than 2 mm; a larger line gets a larger sheet instead."""
    sheet = on_sheet(flow_diagram(sample_graph()), FIELDS, sample_table())
    svg = drawing_svg(sheet, "sheet")
    assert min(float(size) for size in re.findall(r'font-size="([\d.]+)"', svg)) >= 2.0
    long = tuple(Node(f"n{at}", "tank", "tank") for at in range(24))
    edges = tuple(Edge(f"e{at}", f"n{at}", f"n{at + 1}") for at in range(23))
    large = on_sheet(flow_diagram(DrawingGraph("long", long, edges)), FIELDS)
    assert large.width > SHEETS["A3"][0]
    assert overlaps(large) == []


def test_drawing_is_the_same_each_time() -> None:
    """The same graph gives the same drawing."""
    assert drawing_svg(flow_diagram(sample_graph()), "a") == drawing_svg(
        flow_diagram(sample_graph()), "a"
    )


def test_svg_says_what_it_shows() -> None:
    """The drawing carries its words for those who cannot see it, escaped."""
    svg = drawing_svg(flow_diagram(sample_graph()), 'a "line" <here>')
    assert 'aria-label="a &quot;line&quot; &lt;here&gt;"' in svg
