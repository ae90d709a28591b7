"""The flow diagram of a balance: its streams are the lines, their ends the apparatus."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib.resources import files

from cakewright.jobs.findings import BalanceFinding, StreamFinding
from cakewright.reports.drawings.graph import DrawingGraph, Edge, LineKind, Node

__all__ = ["balance_graph", "is_boundary"]


@cache
def _apparatus() -> dict[str, dict[str, str]]:
    shelf = files("cakewright.reports.drawings").joinpath("apparatus.toml")
    return tomllib.loads(shelf.read_text(encoding="utf-8"))


def balance_graph(balance: BalanceFinding, machine: str, label: str) -> DrawingGraph:
    """Graph of a balance; what only supplies or only receives is split from its other end."""
    streams = balance.streams
    both = {s.source for s in streams} & {s.target for s in streams}
    split = {key for key in both if is_boundary(key)}
    nodes: dict[str, Node] = {}
    edges = []
    for number, stream in enumerate(streams, 1):
        source = _end(nodes, stream.source, ">" if stream.source in split else "", machine, label)
        target = _end(nodes, stream.target, "<" if stream.target in split else "", machine, label)
        edges.append(Edge(stream.key, source, target, _kind(stream), str(number), stream.label))
    return DrawingGraph("Flow diagram", tuple(nodes.values()), tuple(edges))


def is_boundary(key: str) -> bool:
    """True for what lies outside the line, so that its streams need not balance."""
    return _entry(key)["kind"] == "boundary"


def _entry(key: str) -> dict[str, str]:
    return _apparatus().get(key, {"kind": "block", "label": key.replace("_", " ")})


def _end(nodes: dict[str, Node], key: str, end: str, machine: str, label: str) -> str:
    entry = _entry(key)
    kind, words = entry["kind"], entry["label"]
    if kind == "press":
        kind, words = machine, label
    name = key + end
    nodes.setdefault(name, Node(name, kind, words))
    return name


def _kind(stream: StreamFinding) -> LineKind:
    target, source = _entry(stream.target), _entry(stream.source)
    if source.get("supplies") == "utility":
        return LineKind.UTILITY
    if source.get("supplies") == "secondary" or target.get("receives") == "secondary":
        return LineKind.SECONDARY
    if target["kind"] == "boundary":
        return LineKind.SECONDARY
    return LineKind.MAIN
