"""The line as a graph: nodes and edges for the flow diagram, left to right."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise

from cakewright.line.balance import Balance
from cakewright.line.case import Case
from cakewright.line.conditioning import ProductLine, entry_tag
from cakewright.line.inputs import point
from cakewright.line.items import Edge, EdgeKind, Item, ItemKind, LineGraph, Node, PipeLine, Signal
from cakewright.line.piece_items import piece_rows
from cakewright.machines.piece import PieceEdge, applies

__all__ = ["line_graph"]

_SIZES: Mapping[ItemKind, tuple[str, str, float, str]] = {
    ItemKind.TANK: ("tank_volume", "", 1.0, "m3"),
    ItemKind.PRESS: ("dry_solids_flow", "rated, per machine", 3600.0, "kg DS/h"),
    ItemKind.CONVEYOR: ("volume_flow", "capacity", 3600.0, "m3/h"),
    ItemKind.SKIP: ("skip_volume", "", 1.0, "m3"),
    ItemKind.SUMP: ("line_volume", "between levels", 1e3, "L"),
    ItemKind.MAKE_DOWN: ("active_mass_flow", "active, design", 3600.0, "kg/h active"),
    ItemKind.FAN: ("air_flow", "in all", 3600.0, "m3/h"),
}
_PUMPS = (ItemKind.PUMP_DISPLACEMENT, ItemKind.PUMP_CENTRIFUGAL, ItemKind.PUMP_PLUNGER)
# Places of what every line has: stage counts left to right, lane top to bottom; 0 is the main axis.
_PLACES = {
    "T-101": (2, 0),
    "P-101": (3, 0),
    "H-501": (9, 0),
    "S-501": (10, 0),
    "T-401": (6, 2),
    "P-401": (7, 2),
    "T-402": (7, 3),
    "P-402": (8, 3),
    "V-601": (10, -2),
    "M-201": (4, -2),
    "P-201": (5, -2),
    "M-202": (5, -3),
    "P-202": (6, -3),
    "P-100": (1, 0),
}
_PRESS = 7
PRESS = "PRESS"


def _size(item: Item) -> str:
    if item.kind in _SIZES:
        name, label, factor, unit = _SIZES[item.kind]
    elif item.kind in _PUMPS:
        name, label, factor, unit = "volume_flow", "highest flow", 3600.0, "m3/h"
    else:
        name, label, factor, unit = "line_volume", "", 1e3, "L"
    value = next(
        (d.value for d in item.data if d.name == name and (not label or d.label == label)), None
    )
    spare = item.standby and item.kind is not ItemKind.SKIP
    count = f"{item.duty} + {item.standby} x " if spare else ""
    if not spare and item.duty > 1:
        count = f"{item.duty} x "
    if value is None:
        return ""
    shown = value * factor
    if unit == "L" and shown >= 1000:
        shown, unit = shown / 1000, "m3"
    duty = next((d.value for d in item.data if d.label == "duty point"), None)
    if duty is not None:
        return f"{count}{_digits(duty * factor)} {unit}, at most {_digits(shown)}"
    return f"{count}{_digits(shown)} {unit}"


def _digits(value: float) -> str:
    """Three digits that count, without an exponent."""
    return f"{value:.0f}" if value >= 100 else f"{value:.3g}"


def _nodes(case: Case, items: Sequence[Item], joined: frozenset[str]) -> list[Node]:
    places = _PLACES | {row.tag: row.place for row in piece_rows(case) if row.place}
    more = len(case.inputs.presses) - 1
    nodes = [Node("IN", "boundary", "sludge", "", 0, 0, True)]
    for item in items:
        if item.tag not in joined:
            continue
        if item.kind is ItemKind.PRESS:
            # several sizes of press stand one below the other
            stage, lane = _PRESS, int(item.tag[-1]) - 1
        else:
            stage, lane = places[item.tag]
        if lane >= 2:
            lane += more
        nodes.append(Node(item.tag, item.kind.value, item.label, _size(item), stage, lane))
    nodes.append(Node("OUT-CAKE", "boundary", "cake to outlet", "", 11, 0, True))
    nodes.append(Node("OUT-RETURN", "boundary", "return to works", "", 11, 3 + more, True))
    nodes.append(Node("IN-WATER", "boundary", "water", "", 0, -2, True))
    if any(i.kind is ItemKind.BREAK_TANK for i in items):
        nodes.append(Node("IN-WASH", "boundary", "wash water", "", 5, 2 + more, True))
    return nodes


def _number(streams: Balance, name: str) -> int:
    return next((s.number for s in streams.streams if s.name == name), 0)


def _joins(case: Case, wash: bool, products: Sequence[ProductLine]) -> Iterator[PieceEdge]:
    """Every edge by the names of its streams; the machine stands as PRESS."""
    sludge, drain = "sludge to feed tank", "liquor returned"
    first = ["IN", "P-100", "T-101"] if case.inputs.with_transfer_pump else ["IN", "T-101"]
    yield from (PieceEdge(a, b, sludge) for a, b in pairwise(first))
    own = [e for e in case.chosen.piece.edges if applies(e.when, case.chosen.present)]
    if not any(e.target == "P-101" for e in own):
        yield PieceEdge("T-101", "P-101", "feed pumped")
    yield from own
    trays = {e.target for e in own if e.stream == drain}
    yield from (PieceEdge(tray, "T-402", drain, "secondary", "L-402") for tray in sorted(trays))
    if not trays:
        yield PieceEdge(PRESS, "T-402", drain, "secondary", "L-402")
    yield PieceEdge("H-501", "S-501", "cake")
    yield PieceEdge("S-501", "OUT-CAKE", "cake")
    yield PieceEdge("T-402", "P-402", drain, "secondary")
    yield PieceEdge("P-402", "OUT-RETURN", drain, "secondary", "L-403")
    for k, p in enumerate(products, start=1):
        solution = f"{p.product.name} solution"
        yield PieceEdge("IN-WATER", f"M-20{k}", f"{p.product.name} make-up water", "secondary")
        yield PieceEdge(f"M-20{k}", f"P-20{k}", f"{p.product.name} stock solution", "secondary")
        if point(p.dilution_flow) > 0:
            yield PieceEdge("IN-WATER", f"P-20{k}", f"{p.product.name} dilution water", "secondary")
        yield PieceEdge(f"P-20{k}", entry_tag(case, k), solution, "secondary", f"L-20{k}")
    if wash:
        yield PieceEdge("IN-WASH", "T-401", "wash water", "secondary")
        yield PieceEdge("T-401", "P-401", "wash water", "secondary")
        yield PieceEdge("P-401", PRESS, "wash water", "secondary", "L-401")


def _signal_edges(
    case: Case, signals: Sequence[Signal], products: Sequence[ProductLine]
) -> list[Edge]:
    """Loops a reader must see: measured flow leads the dosing, levels lead the pumps."""
    tags = {int(s.tag.rsplit("-", 1)[1]): s for s in signals}
    pairs = [(101, "T-101", "P-101"), (403, "T-402", "P-402"), (502, "S-501", "H-501")]
    if 107 in tags:
        meter = tags[107].item
        pairs += [(107, meter, f"P-20{k}") for k in range(1, len(products) + 1)]
    return [Edge(a, b, EdgeKind.SIGNAL, 0, tags[loop].tag) for loop, a, b in pairs if loop in tags]


def line_graph(
    case: Case,
    items: Sequence[Item],
    products: Sequence[ProductLine],
    pipes: Sequence[PipeLine],
    signals: Sequence[Signal],
    streams: Balance,
) -> LineGraph:
    """Nodes and edges; every edge joins two nodes that exist, every node is reached."""
    wash = any(i.kind is ItemKind.BREAK_TANK for i in items)
    bores = {p.tag: f"DN {p.nominal}" for p in pipes}
    presses = [f"D-30{k}" for k in range(1, len(case.inputs.presses) + 1)]
    edges = [
        Edge(
            source,
            target,
            EdgeKind(join.kind),
            _number(streams, join.stream),
            bores.get(join.pipe, ""),
            join.pipe,
        )
        for join in _joins(case, wash, products)
        for source in (presses if join.source == PRESS else [join.source])
        for target in (presses if join.target == PRESS else [join.target])
    ]
    edges += _signal_edges(case, signals, products)
    joined = frozenset(tag for e in edges for tag in (e.source, e.target))
    return LineGraph(tuple(_nodes(case, items, joined)), tuple(edges))
