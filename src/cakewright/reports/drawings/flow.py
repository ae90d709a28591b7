"""A flow diagram from plain graph data: placed, routed, measured and drawn by code."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from cakewright.reports.drawings.bubbles import bubbles
from cakewright.reports.drawings.check import shared_runs
from cakewright.reports.drawings.graph import DrawingGraph, Node
from cakewright.reports.drawings.placing import Cell, place
from cakewright.reports.drawings.routing import Route, port_offsets, routes
from cakewright.reports.drawings.running import Line, broken_lines, tag_width, touch
from cakewright.reports.drawings.shapes import (
    Box,
    Drawing,
    Insert,
    Point,
    Shape,
    Words,
    moved,
    words_box,
)
from cakewright.reports.drawings.symbols import symbol, symbol_size
from cakewright.reports.svg_text import text_width

__all__ = ["flow_diagram"]

TAG, LABEL, SMALL = 3.4, 3.2, 2.8
_LINE_HEIGHT = 1.3
_WRAP = 30.0
_MARGIN = 4.0
_LANE = 5.0
_CHANNEL, _GAP = 13.0, 12.0
_BESIDE, _FITTING = 6.0, 3.0
# Tried in turn where two lines would share a stretch.
_SHIFTS = (2.0, 1.3, -1.6, 0.7, 2.6)


@dataclass
class _Measure:
    """Sizes and places worked out on the way."""

    graph: DrawingGraph
    cells: Mapping[str, Cell]
    found: Sequence[Route]
    offsets: Mapping[tuple[str, str, str], float]
    texts: dict[str, list[Words]] = field(default_factory=dict)
    instruments: dict[str, tuple[list[Shape], list[Box]]] = field(default_factory=dict)
    columns: list[float] = field(default_factory=list)
    rows: list[float] = field(default_factory=list)
    channels: list[float] = field(default_factory=list)
    gaps: list[float] = field(default_factory=list)
    lanes: dict[tuple[str, str, int], float] = field(default_factory=dict)
    starts: dict[tuple[str, int], float] = field(default_factory=dict)
    busy: dict[tuple[str, int], bool] = field(default_factory=dict)
    width: float = 0.0
    height: float = 0.0

    def centre(self, key: str) -> Point:
        """Middle of an apparatus on the sheet."""
        col, row = self.cells[key]
        return self.columns[col], self.rows[row]


def flow_diagram(graph: DrawingGraph) -> Drawing:
    """Flow diagram of a line, left to right."""
    cells = place(graph)
    found = routes(graph, cells)
    drawing = _drawn(graph, cells, found, 0.0)
    for shift in _SHIFTS:
        if not shared_runs(drawing):
            break
        drawing = _drawn(graph, cells, found, shift)
    return drawing


def _drawn(
    graph: DrawingGraph, cells: Mapping[str, Cell], found: Sequence[Route], shift: float
) -> Drawing:
    sizes = {n.key: symbol_size(n.kind) for n in graph.nodes}
    measure = _Measure(graph, cells, found, port_offsets(found, cells, sizes, shift))
    _write_texts(measure)
    _hang_instruments(measure)
    _set_columns(measure)
    _set_rows(measure)
    _place_lanes(measure)
    return _draw(measure)


def _wrapped(words: str, size: float, width: float) -> list[str]:
    lines: list[str] = []
    for word in words.split():
        joined = f"{lines[-1]} {word}" if lines else word
        if lines and text_width(joined, size) <= width:
            lines[-1] = joined
        else:
            lines.append(word)
    return lines


def _text_lines(node: Node) -> list[tuple[str, float, bool]]:
    # A fitting's tag is no louder than its line's number.
    lines = [(node.tag, TAG if node.label else SMALL, bool(node.label))] if node.tag else []
    lines += [(line, LABEL, False) for line in _wrapped(node.label, LABEL, _WRAP)]
    return lines + [(line, SMALL, False) for line in _wrapped(node.size, SMALL, _WRAP)]


def _inside(node: Node) -> list[str]:
    """Lines of a label that stands inside its symbol; none when it must stand below."""
    if node.kind not in ("boundary", "meter") or node.tag or node.size:
        return []
    width, height = symbol_size(node.kind)
    lines = _wrapped(node.label, SMALL, width - 2.4 if node.kind == "meter" else width - 5)
    wide = max((text_width(line, SMALL) for line in lines), default=0.0)
    fits = wide <= width - 1.4 and len(lines) * SMALL * _LINE_HEIGHT <= height
    return lines if fits else []


def _write_texts(measure: _Measure) -> None:
    """Words under each symbol, beside the lines that leave it there; inside a boundary mark."""
    for node in measure.graph.nodes:
        if lines := _inside(node):
            first = SMALL * (0.34 - _LINE_HEIGHT * (len(lines) - 1) / 2)
            measure.texts[node.key] = [
                Words((0.0, first + SMALL * _LINE_HEIGHT * at), line, SMALL, "middle")
                for at, line in enumerate(lines)
            ]
            continue
        ports = _ports(measure, node.key, "bottom")
        x = max(ports) + 2.0 if ports else 0.0
        y = symbol_size(node.kind)[1] / 2 + 0.8
        words = []
        for line, size, bold in _text_lines(node):
            y += size * _LINE_HEIGHT
            anchor = "start" if ports else "middle"
            words.append(Words((x, y), line, size, anchor, bold, size == SMALL))
        measure.texts[node.key] = words


def _ports(measure: _Measure, key: str, side: str) -> list[float]:
    """Where lines meet one side of an apparatus, from its middle."""
    return [x for (_, node, at), x in measure.offsets.items() if node == key and at == side]


def _hang_instruments(measure: _Measure) -> None:
    for node in measure.graph.nodes:
        if node.bubbles:
            width, height = symbol_size(node.kind)
            ports = _ports(measure, node.key, "top")
            measure.instruments[node.key] = bubbles(node.bubbles, width, height, ports)


def _extent(measure: _Measure, key: str) -> Box:
    width, height = symbol_size(measure.graph.node(key).kind)
    boxes = [words_box(w) for w in measure.texts[key]]
    boxes += measure.instruments.get(key, ([], []))[1]
    return Box(
        min([-width / 2, *(b.left for b in boxes)]),
        min([-height / 2, *(b.top for b in boxes)]),
        max([width / 2, *(b.right for b in boxes)]),
        max([height / 2, *(b.bottom for b in boxes)]),
    )


def _users(measure: _Measure, way: str, index: int) -> list[Route]:
    users = [r for r in measure.found if (way, index) in r.lanes]
    return sorted(users, key=lambda r: _span(measure, r), reverse=True)


def _span(measure: _Measure, route: Route) -> float:
    (cs, rs), (ct, rt) = (measure.cells[k] for k in (route.edge.source, route.edge.target))
    return abs(ct - cs) + 0.1 * abs(rt - rs)


def _jogs(measure: _Measure, route: Route) -> bool:
    """False when the line is straight and needs no lane of its own."""
    if len(route.lanes) > 1:
        return True
    leave = measure.offsets[route.edge.key, *route.start]
    enter = measure.offsets[route.edge.key, *route.end]
    straight = route.leaves == "right" or _same_column(measure, route)
    return not (straight and abs(leave - enter) < 1e-6)


def _same_column(measure: _Measure, route: Route) -> bool:
    return measure.cells[route.edge.source][0] == measure.cells[route.edge.target][0]


def _spaces(measure: _Measure, way: str, count: int, least: float) -> list[float]:
    """Room for the lanes of each channel or gap, and for the number of a line straight across."""
    rooms = []
    for index in range(count):
        users = [r for r in measure.found if (way, index) in r.lanes]
        lanes = sum(_jogs(measure, r) for r in users)
        wide = [
            tag_width(r.edge.number) + _BESIDE
            for r in users
            if way == "v" and r.edge.number and not _jogs(measure, r)
        ]
        room = least if users else least * 0.5
        if users and _fittings_only(measure, users):
            room = _FITTING
        rooms.append(max(_LANE * (lanes + 1), room, *wide))
        measure.busy[way, index] = lanes > 0
    return rooms


def _fittings_only(measure: _Measure, users: Sequence[Route]) -> bool:
    """Whether all lines of a channel are short ways to or from a fitting."""
    return all(r.edge.plain and not r.edge.number and not _jogs(measure, r) for r in users)


def _set_columns(measure: _Measure) -> None:
    count = 1 + max(col for col, _ in measure.cells.values())
    measure.channels = _spaces(measure, "v", count, _CHANNEL)
    x = _MARGIN
    for col in range(count):
        extents = [_extent(measure, k) for k, (c, _) in measure.cells.items() if c == col]
        left = max((-e.left for e in extents), default=6.0)
        right = max((e.right for e in extents), default=6.0)
        measure.columns.append(x + left)
        x += left + right
        measure.starts["v", col] = x
        if col < count - 1 or measure.busy["v", col]:
            x += measure.channels[col]
    measure.width = x + _MARGIN


def _set_rows(measure: _Measure) -> None:
    count = 1 + max(row for _, row in measure.cells.values())
    measure.gaps = _spaces(measure, "h", count + 1, _GAP)
    y = _MARGIN
    for row in range(count + 1):
        measure.starts["h", row] = y
        if 0 < row < count or measure.busy["h", row]:
            y += measure.gaps[row]
        if row == count:
            break
        extents = [_extent(measure, k) for k, (_, r) in measure.cells.items() if r == row]
        above = max((-e.top for e in extents), default=4.0)
        measure.rows.append(y + above)
        y += above + max((e.bottom for e in extents), default=4.0)
    measure.height = y + _MARGIN


def _place_lanes(measure: _Measure) -> None:
    for way, rooms in (("v", measure.channels), ("h", measure.gaps)):
        for index, room in enumerate(rooms):
            users = [r for r in _users(measure, way, index) if _jogs(measure, r)]
            ordered = _in_order(users, [_pins(measure, r, way, index) for r in users])
            for at, route in enumerate(ordered):
                place = measure.starts[way, index] + room * (at + 1) / (len(ordered) + 1)
                measure.lanes[route.edge.key, way, index] = place


def _pins(measure: _Measure, route: Route, way: str, index: int) -> tuple[list[float], list[float]]:
    """Where a line meets its lane from above (or from the left), and from below (the right)."""
    axis = 1 if way == "v" else 0
    ends = []
    for lane, (key, side) in ((route.lanes[0], route.start), (route.lanes[-1], route.end)):
        if lane == (way, index):
            point = _port(measure, key, side, measure.offsets[route.edge.key, key, side])
            ends.append((side, point[axis]))
    first, second = ("right", "left") if way == "v" else ("bottom", "top")
    return [p for side, p in ends if side == first], [p for side, p in ends if side == second]


def _in_order(
    users: Sequence[Route], pins: Sequence[tuple[list[float], list[float]]]
) -> list[Route]:
    """Lanes so ordered that no line runs along the end of another one."""

    def before(a: int, b: int) -> bool:
        return any(abs(x - y) < 1.0 for x in pins[a][0] for y in pins[b][1])

    left, ordered = list(range(len(users))), []
    while left:
        free = (a for a in left if not any(b != a and before(b, a) for b in left))
        chosen = next(free, left[0])
        left.remove(chosen)
        ordered.append(users[chosen])
    return ordered


def _port(measure: _Measure, key: str, side: str, offset: float) -> Point:
    x, y = measure.centre(key)
    width, height = symbol_size(measure.graph.node(key).kind)
    return {
        "left": (x - width / 2, y + offset),
        "right": (x + width / 2, y + offset),
        "top": (x + offset, y - height / 2),
        "bottom": (x + offset, y + height / 2),
    }[side]


def _points(measure: _Measure, route: Route) -> list[Point]:
    start = _port(measure, *route.start, measure.offsets[route.edge.key, *route.start])
    end = _port(measure, *route.end, measure.offsets[route.edge.key, *route.end])
    points = [start]
    for way, index in route.lanes:
        lane = measure.lanes.get((route.edge.key, way, index))
        if lane is None:
            continue
        x, y = points[-1]
        points.append((lane, y) if way == "v" else (x, lane))
    x, y = points[-1]
    if abs(x - end[0]) > 1e-6 and abs(y - end[1]) > 1e-6:
        points.append((x, end[1]) if route.enters in ("left", "right") else (end[0], y))
    return [*points, end]


def _draw(measure: _Measure) -> Drawing:
    shapes: list[Shape] = []
    boxes: list[Box] = []
    ways = [(r, _points(measure, r)) for r in measure.found]
    lines = [Line(r.edge, _reaching(measure, r, points)) for r, points in ways]
    for node in measure.graph.nodes:
        x, y = measure.centre(node.key)
        width, height = symbol_size(node.kind)
        shapes.append(Insert((x, y), node.kind, tag=node.tag, label=node.label))
        boxes.append(
            Box(x - width / 2, y - height / 2, x + width / 2, y + height / 2, f"symbol {node.key}")
        )
        held, places = measure.instruments.get(node.key, ([], []))
        shapes += [moved(shape, x, y) for shape in held]
        boxes += [Box(b.left + x, b.top + y, b.right + x, b.bottom + y, b.what) for b in places]
        words = [moved(w, x, y) for w in measure.texts[node.key]]
        shapes += words
        if not _inside(node):
            boxes += [words_box(w) for w in words if isinstance(w, Words)]
    drawn, tags = broken_lines(lines, boxes)
    shapes = [*drawn, *shapes, *tags.shapes]
    return Drawing(
        measure.graph.title,
        measure.width,
        measure.height,
        tuple(shapes),
        (*boxes, *tags.boxes),
        tuple((r.edge.key, tuple(points)) for r, points in ways),
    )


_INWARD = {"left": (1.0, 0.0), "right": (-1.0, 0.0), "top": (0.0, 1.0), "bottom": (0.0, -1.0)}


def _reaching(measure: _Measure, route: Route, points: Sequence[Point]) -> tuple[Point, ...]:
    """The same way with its ends moved from the edge of a symbol's place to its outline."""
    first = _outline(measure, *route.start, points[0])
    last = _outline(measure, *route.end, points[-1])
    return (first, *points[1:-1], last)


def _outline(measure: _Measure, key: str, side: str, point: Point) -> Point:
    x, y = measure.centre(key)
    inward = _INWARD[side]
    shapes = symbol(measure.graph.node(key).kind)
    reach = touch(shapes, (point[0] - x, point[1] - y), inward)
    return point[0] + inward[0] * reach, point[1] + inward[1] * reach
