"""The line as a graph: nodes and edges for the flow diagram, left to right."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise

from cakewright.line.balance import Balance
from cakewright.line.case import Case
from cakewright.line.conditioning import ProductLine, entry_tag, has_first_chamber
from cakewright.line.items import Edge, EdgeKind, Item, ItemKind, LineGraph, Node, PipeLine, Signal

__all__ = ["line_graph"]

_SIZES: Mapping[ItemKind, tuple[str, str, float, str]] = {
    ItemKind.TANK: ("tank_volume", "", 1.0, "m3"),
    ItemKind.MEASURING_TANK: ("line_volume", "", 1e3, "L"),
    ItemKind.FLOCCULATION_TANK: ("line_volume", "", 1e3, "L"),
    ItemKind.MIXING_CHAMBER: ("line_volume", "", 1e3, "L"),
    ItemKind.PUMP_DISPLACEMENT: ("volume_flow", "highest flow", 3600.0, "m3/h"),
    ItemKind.PUMP_CENTRIFUGAL: ("volume_flow", "highest flow", 3600.0, "m3/h"),
    ItemKind.PRESS: ("dry_solids_flow", "rated, per machine", 3600.0, "kg DS/h"),
    ItemKind.CONVEYOR: ("volume_flow", "capacity", 3600.0, "m3/h"),
    ItemKind.SKIP: ("skip_volume", "", 1.0, "m3"),
    ItemKind.SUMP: ("line_volume", "between levels", 1e3, "L"),
    ItemKind.BREAK_TANK: ("line_volume", "", 1e3, "L"),
    ItemKind.MAKE_DOWN: ("active_mass_flow", "active, design", 3600.0, "kg/h active"),
    ItemKind.FAN: ("air_flow", "in all", 3600.0, "m3/h"),
}
# Stage counts left to right, lane top to bottom; lane 0 is the main axis.
_PLACES = {
    "T-101": (2, 0),
    "P-101": (3, 0),
    "T-102": (4, 0),
    "T-300": (5, 0),
    "T-301": (6, 0),
    "H-501": (8, 0),
    "S-501": (9, 0),
    "T-401": (6, 2),
    "P-401": (7, 2),
    "T-402": (7, 3),
    "P-402": (8, 3),
    "V-601": (8, -2),
    "M-201": (4, -2),
    "P-201": (5, -2),
    "M-202": (5, -3),
    "P-202": (6, -3),
    "P-100": (1, 0),
}


def _size(item: Item) -> str:
    if item.kind not in _SIZES:
        return ""
    name, label, factor, unit = _SIZES[item.kind]
    value = next(
        (d.value for d in item.data if d.name == name and (not label or d.label == label)), None
    )
    spare = item.standby and item.kind is not ItemKind.SKIP
    count = f"{item.duty} + {item.standby} x " if spare else ""
    if not spare and item.duty > 1:
        count = f"{item.duty} x "
    return "" if value is None else f"{count}{value * factor:.3g} {unit}"


def _nodes(case: Case, items: Sequence[Item]) -> list[Node]:
    nodes = [Node("IN", "boundary", "sludge", "", 0, 0, True)]
    for item in items:
        if item.kind is ItemKind.MIXER:
            continue
        if item.kind is ItemKind.PRESS:
            # several sizes of press stand one below the other
            number = int(item.tag[-1])
            stage, lane = 7, number - 1
        else:
            stage, lane = _PLACES[item.tag]
        if item.kind in (ItemKind.BREAK_TANK, ItemKind.SUMP) or item.tag in ("P-401", "P-402"):
            lane += len(case.inputs.presses) - 1
        nodes.append(Node(item.tag, item.kind.value, item.label, _size(item), stage, lane))
    nodes.append(Node("OUT-CAKE", "boundary", "cake to outlet", "", 10, 0, True))
    deep = 3 + len(case.inputs.presses) - 1
    nodes.append(Node("OUT-RETURN", "boundary", "return to works", "", 10, deep, True))
    nodes.append(Node("IN-WATER", "boundary", "water", "", 0, -2, True))
    if any(i.kind is ItemKind.BREAK_TANK for i in items):
        nodes.append(Node("IN-WASH", "boundary", "wash water", "", 5, deep - 1, True))
    return nodes


def _pipe(pipes: Sequence[PipeLine], tag: str) -> str:
    return next((f"DN {p.nominal}" for p in pipes if p.tag == tag), "")


def _main(case: Case, pipes: Sequence[PipeLine], streams: Balance) -> list[Edge]:
    main, second, number = EdgeKind.MAIN, EdgeKind.SECONDARY, streams.number
    feed, pumped, measured = (
        number(name) for name in ("sludge to feed tank", "feed pumped", "feed measured")
    )
    mixed, cake, drain = (
        number(name) for name in ("flocculated sludge", "cake", "filtrate and wash water")
    )
    first = ["IN", "P-100", "T-101"] if case.inputs.with_transfer_pump else ["IN", "T-101"]
    edges = [Edge(a, b, main, feed) for a, b in pairwise(first)]
    edges += [
        Edge("T-101", "P-101", main, pumped),
        Edge("P-101", "T-102", main, pumped, _pipe(pipes, "L-101"), "L-101"),
        Edge("T-102", "T-101", second, number("surplus returned"), _pipe(pipes, "L-102"), "L-102"),
    ]
    if has_first_chamber(case):
        edges += [Edge("T-102", "T-300", main, measured), Edge("T-300", "T-301", main, measured)]
    else:
        edges.append(Edge("T-102", "T-301", main, measured))
    for k in range(1, len(case.inputs.presses) + 1):
        tag = f"D-30{k}"
        edges += [
            Edge("T-301", tag, main, mixed),
            Edge(tag, "H-501", main, cake),
            Edge(tag, "T-402", second, drain, _pipe(pipes, "L-402"), "L-402"),
        ]
    edges += [
        Edge("H-501", "S-501", main, cake),
        Edge("S-501", "OUT-CAKE", main, cake),
        Edge("T-402", "P-402", second, drain),
        Edge("P-402", "OUT-RETURN", second, drain, _pipe(pipes, "L-403"), "L-403"),
    ]
    return edges


def _services(
    case: Case,
    products: Sequence[ProductLine],
    wash: bool,
    pipes: Sequence[PipeLine],
    streams: Balance,
) -> list[Edge]:
    second, number, edges = EdgeKind.SECONDARY, streams.number, []
    washing = number("wash water")
    for k, p in enumerate(products, start=1):
        tag, name = f"L-20{k}", p.product.name
        edges += [
            Edge("IN-WATER", f"M-20{k}", second, number(f"{name} make-up water")),
            Edge(f"M-20{k}", f"P-20{k}", second, number(f"{name} stock solution")),
            Edge(
                f"P-20{k}",
                entry_tag(case, k),
                second,
                number(f"{name} solution"),
                _pipe(pipes, tag),
                tag,
            ),
        ]
    if wash:
        edges += [
            Edge("IN-WASH", "T-401", second, washing),
            Edge("T-401", "P-401", second, washing),
        ]
        edges += [
            Edge("P-401", f"D-30{k}", second, washing, _pipe(pipes, "L-401"), "L-401")
            for k in range(1, len(case.inputs.presses) + 1)
        ]
    return edges


def _signal_edges(signals: Sequence[Signal], products: Sequence[ProductLine]) -> list[Edge]:
    """Loops a reader must see: measured flow leads the dosing, levels lead the pumps."""
    tags = {int(s.tag.rsplit("-", 1)[1]): s.tag for s in signals}
    pairs = [(101, "T-101", "P-101"), (403, "T-402", "P-402"), (502, "S-501", "H-501")]
    pairs += [(107, "T-102", f"P-20{k}") for k in range(1, len(products) + 1)]
    return [Edge(a, b, EdgeKind.SIGNAL, 0, tags[loop]) for loop, a, b in pairs if loop in tags]


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
    drawn = [i for i in items if i.kind is not ItemKind.FAN]
    edges = [
        *_main(case, pipes, streams),
        *_services(case, products, wash, pipes, streams),
        *_signal_edges(signals, products),
    ]
    return LineGraph(tuple(_nodes(case, drawn)), tuple(edges))
