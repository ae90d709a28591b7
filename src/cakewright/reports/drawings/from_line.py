"""Drawings of a designed line: its graph and footprints as the drawing room's own input."""

from __future__ import annotations

from cakewright.line.items import LineGraph
from cakewright.line.items import Node as LineNode
from cakewright.machines.registry import data_of
from cakewright.reports.drawings.graph import DrawingGraph, Edge, LineKind, Node

__all__ = ["line_graph", "press_symbol"]

_SYMBOLS = {
    "tank": "stirred_tank",
    "measuring tank": "measuring_tank",
    "flocculation tank": "flocculation_tank",
    "mixing chamber": "mixer",
    "positive displacement pump": "displacement_pump",
    "centrifugal pump": "pump",
    "dosing pump": "dosing_pump",
    "mixer": "mixer",
    "make-down station": "dosing_set",
    "screw conveyor": "conveyor",
    "skip": "skip",
    "sump": "sump",
    "break tank": "tank",
    "fan": "fan",
    "instrument": "meter",
    "plunger pump": "dosing_pump",
    "vessel": "tank",
    "flocculation vessel": "closed_vessel",
    "conditioner": "closed_vessel",
    "conditioning tank": "stirred_tank",
    "in-line mixer": "mixer",
    "macerator": "macerator",
    "compressor": "fan",
    "power pack": "power_pack",
    "bunker": "silo",
    "gate": "gate",
    "hood": "hood",
    "vent": "hood",
    "drip tray": "channel",
}


def line_graph(graph: LineGraph, machine: str, title: str) -> DrawingGraph:
    """Flow diagram of a line; ``machine`` is the kind of machine that presses."""
    nodes = tuple(_node(node, machine) for node in graph.nodes)
    edges = tuple(
        Edge(
            f"{at}",
            edge.source,
            edge.target,
            LineKind(edge.kind.value),
            str(edge.stream) if edge.stream else "",
        )
        for at, edge in enumerate(graph.edges)
    )
    return DrawingGraph(title, nodes, edges)


def press_symbol(machine: str) -> str:
    """Symbol that the folder of a kind asks for; a kind that asks for none is a plain block."""
    found: str = data_of(machine, "kind.toml").get("symbol", "block")
    return found


def _node(node: LineNode, machine: str) -> Node:
    cell = (node.stage, node.lane)
    if node.boundary:
        return Node(node.tag, "boundary", node.label, cell=cell)
    kind = press_symbol(machine) if node.kind == "press" else _SYMBOLS.get(node.kind, "block")
    size = node.size.replace("m3", "m³").replace(" x ", " × ")
    return Node(node.tag, kind, node.label, node.tag, size, cell)
