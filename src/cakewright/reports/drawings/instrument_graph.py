"""The piping and instrument diagram as a graph: valves on its lines, bubbles over all of it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import pairwise

from cakewright.line.design import LineDesign
from cakewright.line.items import Edge as LineEdge
from cakewright.line.items import EdgeKind, PipeLine
from cakewright.line.valves import Valve
from cakewright.reports.drawings.from_line import line_graph
from cakewright.reports.drawings.graph import DrawingGraph, Edge, Node

__all__ = ["instrument_graphs", "line_number"]

# Pressure classes in use, as multiples of 1e5 Pa (the designations of the flange standards).
_CLASSES = (10, 16, 25, 40, 63, 100)
_BAR = 1e5
_RELIEF = 1.1  # relief valves open so far above the pump's duty (common practice, no source)


def line_number(pipe: PipeLine, pressure: float) -> str:
    """Number of a line with its size and the class above its relief pressure. [Pa]"""
    above = next((n for n in _CLASSES if n * _BAR >= _RELIEF * pressure), _CLASSES[-1])
    return f"{pipe.tag} DN {pipe.nominal} PN {above}"


def instrument_graphs(design: LineDesign, machine: str, title: str) -> tuple[DrawingGraph, ...]:
    """Two sheets: the feed with its conditioners, and the machine with what follows it."""
    whole = _whole(design, machine, title)
    ahead = {node.key for node in whole.nodes if _is_ahead(node.key, design)}
    first = _sheet(whole, ahead, 1)
    return first, _sheet(whole, {node.key for node in whole.nodes} - ahead, 2)


def _is_ahead(key: str, design: LineDesign) -> bool:
    """Whether a node belongs to the areas before the machine."""
    ends = {v.tag: v.source if v.order > 0 else v.target for v in design.valves}
    home = ends.get(key, key)
    return home in ("IN", "IN-WATER") or home.rpartition("-")[2][:1] in ("1", "2")


def _sheet(whole: DrawingGraph, shown: set[str], number: int) -> DrawingGraph:
    """The part of a diagram on one sheet, with a mark wherever a line goes on elsewhere."""
    other = 3 - number
    nodes = [node for node in whole.nodes if node.key in shown]
    edges = []
    for edge in whole.edges:
        if not {edge.source, edge.target} & shown:
            continue
        if edge.source not in shown:
            mark = Node(f"from {edge.key}", "boundary", f"sheet {other}: {edge.source}")
            nodes.append(mark)
            edge = replace(edge, source=mark.key)
        elif edge.target not in shown:
            mark = Node(f"to {edge.key}", "boundary", f"sheet {other}: {edge.target}")
            nodes.append(mark)
            edge = replace(edge, target=mark.key)
        edges.append(edge)
    used = sorted({node.cell[0] for node in nodes if node.cell})
    columns = {col: at for at, col in enumerate(used)}
    placed = [
        replace(node, cell=(columns[node.cell[0]], node.cell[1])) if node.cell else node
        for node in nodes
    ]
    return DrawingGraph(f"{whole.title}, sheet {number} of 2", tuple(placed), tuple(edges))


def _whole(design: LineDesign, machine: str, title: str) -> DrawingGraph:
    """The flow diagram's apparatus with every valve, instrument and line number of the design."""
    plain = line_graph(design.graph, machine, title)
    chains = [_chain(edge, design.valves) for edge in design.graph.edges]
    cells = _spread(plain.nodes, design.graph.edges, chains)
    held = _held(design, {node.key for node in plain.nodes})
    spare = {item.tag for item in design.items if item.standby and item.tag.startswith("P-")}
    nodes = [
        replace(
            node,
            tag=f"{node.tag} A/B" if node.key in spare else node.tag,
            size="",
            cell=cells[node.key],
            bubbles=tuple(_parts(tag) for tag in held.get(node.key, ())),
        )
        for node in plain.nodes
    ]
    nodes += _apart(held, design, {node.key for node in nodes}, cells)
    edges: list[Edge] = []
    numbers = _line_numbers(design)
    for edge, line, chain in zip(plain.edges, design.graph.edges, chains, strict=True):
        nodes += [Node(v.tag, v.kind, "", v.tag, "", cells[v.tag]) for v in chain]
        edges += _pieces(edge, chain, numbers.get(line.pipe, ""))
    return DrawingGraph(title, tuple(nodes), tuple(edges))


def _line_numbers(design: LineDesign) -> dict[str, str]:
    """Numbers by pipe; lines that meet are all of the strongest pump's class."""
    heads = {
        item.tag: datum.value
        for item in design.items
        for datum in item.data
        if item.tag.startswith("P-") and datum.name == "line_pressure"
    }
    known = {pipe.tag: pipe for pipe in design.pipes}
    ends = {e.pipe: e for e in design.graph.edges if e.pipe in known}
    at: dict[str, float] = {}
    for tag, edge in ends.items():
        place = _meeting(edge, known[tag])
        at[place] = max(at.get(place, 0.0), heads.get(edge.source, 0.0))
    return {
        tag: line_number(known[tag], at[_meeting(edge, known[tag])]) for tag, edge in ends.items()
    }


def _meeting(edge: LineEdge, pipe: PipeLine) -> str:
    """Where a line meets others: at its end, but into a machine only sludge meets sludge."""
    into_machine = edge.target.startswith("D-")
    return edge.target if pipe.medium == "sludge" or not into_machine else pipe.tag


def _chain(edge: LineEdge, known: Sequence[Valve]) -> list[Valve]:
    """Valves of an edge in order from its source to its target."""
    if edge.kind is EdgeKind.SIGNAL:
        return []
    return [v for v in known if (v.source, v.target) == (edge.source, edge.target)]


def _pieces(edge: Edge, chain: Sequence[Valve], number: str) -> Iterator[Edge]:
    """The line cut at its valves; its number stands where it runs farthest."""
    stops = [edge.source, *(v.tag for v in chain), edge.target]
    longest = sum(v.order > 0 for v in chain)
    for at, (source, target) in enumerate(pairwise(stops)):
        yield Edge(
            f"{edge.key}.{at}",
            source,
            target,
            edge.kind,
            number if at == longest else "",
            plain=at < len(stops) - 2,
        )


def _spread(
    nodes: Sequence[Node], edges: Sequence[LineEdge], chains: Sequence[Sequence[Valve]]
) -> dict[str, tuple[int, int]]:
    """Cells with columns for the valves between those of the apparatus."""
    old = {node.key: node.cell or (0, 0) for node in nodes}
    before: dict[str, list[Valve]] = {}
    after: dict[str, list[Valve]] = {}
    for edge, chain in zip(edges, chains, strict=True):
        for valve in chain:
            side = after if valve.order > 0 else before
            side.setdefault(edge.source if valve.order > 0 else edge.target, []).append(valve)
    stages = range(max(col for col, _ in old.values()) + 1)
    widths = {
        stage: tuple(
            max(
                (len(side.get(key, ())) for key, (col, _) in old.items() if col == stage), default=0
            )
            for side in (before, after)
        )
        for stage in stages
    }
    columns: dict[int, int] = {}
    at = 0
    for stage in stages:
        columns[stage] = at + widths[stage][0]
        at = columns[stage] + 1 + widths[stage][1]
    cells = {key: (columns[col], row) for key, (col, row) in old.items()}
    for key, (col, row) in old.items():
        first = columns[col] - len(before.get(key, ()))
        cells |= {v.tag: (first + n, row) for n, v in enumerate(before.get(key, ()))}
        cells |= {v.tag: (columns[col] + 1 + n, row) for n, v in enumerate(after.get(key, ()))}
    return cells


def _held(design: LineDesign, shown: Iterable[str]) -> dict[str, list[str]]:
    """Tags of the instruments by the apparatus they are drawn at."""
    known = set(shown)
    machine = next(tag for tag in sorted(known) if tag.startswith("D-"))
    held: dict[str, list[str]] = {}
    for signal in design.signals:
        held.setdefault(_home(signal.item, known, machine), []).append(signal.tag)
    return held


def _home(item: str, known: set[str], machine: str) -> str:
    if item in known:
        return item
    area, number = item.partition("-")[::2]
    vessel = f"T-{number}"
    if area == "A" and vessel in known:
        return vessel  # an agitator stands in its vessel
    return machine if number.startswith("3") else item


def _apart(
    held: Mapping[str, Sequence[str]],
    design: LineDesign,
    shown: set[str],
    cells: Mapping[str, tuple[int, int]],
) -> Iterator[Node]:
    """Apparatus that no line joins but that has instruments, above the end of the line."""
    last = max(col for col, _ in cells.values())
    labels = {item.tag: item.label for item in design.items}
    apart = [tag for tag in held if tag not in shown]
    for at, tag in enumerate(apart):
        kind = "fan" if tag.startswith("V-") else "block"
        tags = tuple(_parts(each) for each in held[tag])
        yield Node(tag, kind, labels.get(tag, ""), tag, "", (last - at, -2), tags)


def _parts(tag: str) -> tuple[str, str]:
    letters, _, number = tag.rpartition("-")
    return letters, number
