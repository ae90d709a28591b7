"""The flow diagram of a balance: its streams are the lines, their ends the apparatus."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib.resources import files

from cakewright.jobs.findings import BalanceFinding, StreamFinding
from cakewright.reports.drawings.graph import DrawingGraph, Edge, LineKind, Node

__all__ = ["balance_graph", "is_boundary", "passed_through"]


@cache
def _apparatus() -> dict[str, dict[str, str]]:
    shelf = files("cakewright.reports.drawings").joinpath("apparatus.toml")
    return tomllib.loads(shelf.read_text(encoding="utf-8"))


def balance_graph(balance: BalanceFinding, machine: str, label: str) -> DrawingGraph:
    """Graph of a balance; what only supplies or only receives is split from its other end.

    A flocculation tank that the balance doses into but does not let anything out of is drawn
    where it stands: between the feed and the press.
    """
    streams = balance.streams
    both = {s.source for s in streams} & {s.target for s in streams}
    split = {key for key in both if is_boundary(key)}
    through = passed_through(balance)
    nodes: dict[str, Node] = {}
    edges = []
    for number, stream in enumerate(streams, 1):
        end = stream.target
        kind = _kind(stream)
        if kind is LineKind.MAIN and end in through.values():
            end = next(tank for tank, press in through.items() if press == end)
        source = _end(nodes, stream.source, ">" if stream.source in split else "", machine, label)
        target = _end(nodes, end, "<" if end in split else "", machine, label)
        edges.append(Edge(stream.key, source, target, kind, str(number), stream.label))
    for tank, press in through.items():
        edges.append(Edge(f"{tank} joined", tank, _end(nodes, press, "", machine, label)))
    return DrawingGraph("Flow diagram", tuple(nodes.values()), tuple(edges))


def passed_through(balance: BalanceFinding) -> dict[str, str]:
    """Flocculation tanks that the balance counts as part of the press, and that press."""
    sources = {s.source for s in balance.streams}
    targets = {s.target for s in balance.streams}
    tanks = [k for k in targets - sources if _entry(k)["kind"] == "flocculation_tank"]
    press = next((k for k in targets & sources if _entry(k)["kind"] == "press"), None)
    return dict.fromkeys(sorted(tanks), press) if press else {}


def is_boundary(key: str) -> bool:
    """True for what lies outside the line, so that its streams need not balance."""
    return _entry(key)["kind"] == "boundary"


def _entry(key: str) -> dict[str, str]:
    words = key.replace("_", " ")
    return _apparatus().get(words, {"kind": "block", "label": words})


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
