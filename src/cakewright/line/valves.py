"""Valve list: what stands on each line by where it runs, in one scheme of tags."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache

from cakewright.line.balance import Balance
from cakewright.line.items import Edge, EdgeKind, ItemKind, LineGraph, PipeLine
from cakewright.quantities.tables import packaged_table

__all__ = ["Valve", "pipe_of_edge", "valves"]

_PUMPS = (ItemKind.PUMP_DISPLACEMENT, ItemKind.PUMP_CENTRIFUGAL, ItemKind.PUMP_PLUNGER)
_TANKS = (
    ItemKind.TANK,
    ItemKind.MEASURING_TANK,
    ItemKind.FLOCCULATION_TANK,
    ItemKind.CONDITIONING_TANK,
    ItemKind.BREAK_TANK,
    ItemKind.VESSEL,
)
_LETTERS = {"non-return valve": "NV", "relief valve": "PSV"}
_SLUDGE, _CAKE, _SOLUTION = "sludge", "cake", "chemical"


@dataclass(frozen=True, slots=True)
class Valve:
    """One valve on the line from ``source`` to ``target``.

    ``order`` counts along the line, negative from its end; ``nominal`` is 0 where the pipe is not
    sized here [mm]; ``normal`` says how it stands while the line runs.
    """

    tag: str
    kind: str
    source: str
    target: str
    order: int
    nominal: int
    medium: str
    normal: str
    why: str
    pipe: str = ""
    source_id: str = "PRACTICE"


@dataclass(frozen=True, slots=True)
class _Rule:
    at: str
    kind: str
    order: int
    normal: str
    why: str


@cache
def _rules() -> tuple[_Rule, ...]:
    return tuple(
        _Rule(**row) for row in packaged_table("cakewright.line", "data", "valves.toml")["valve"]
    )


def pipe_of_edge(edge: Edge, graph: LineGraph, pipes: Sequence[PipeLine]) -> PipeLine | None:
    """The sized pipe an edge is a part of: its own, or that of the pump it leads to."""
    known = {pipe.tag: pipe for pipe in pipes}
    if edge.pipe:
        return known.get(edge.pipe)
    after = (e for e in graph.edges if e.source == edge.target and e.pipe)
    pipe = next((known[e.pipe] for e in after if e.pipe in known), None)
    return pipe if pipe is not None and pipe.source == edge.source else None


def _places(edge: Edge, graph: LineGraph, medium: str, drained: set[str]) -> Iterator[str]:
    """Names of the places of the rules that one edge has."""
    kinds = {node.tag: node.kind for node in graph.nodes}
    source, target = kinds[edge.source], kinds[edge.target]
    if source in _TANKS and edge.source not in drained:
        drained.add(edge.source)
        yield "tank"
    if source == "boundary":
        yield "entry"
    elif target in _PUMPS:
        yield "suction"
    if source in _PUMPS:
        yield "delivery"
        if source != ItemKind.PUMP_CENTRIFUGAL:
            yield "displacement"
        if medium == _SLUDGE:
            yield "sludge"
        elif medium == _SOLUTION:
            yield "dosing"
    if target == ItemKind.PRESS and medium == _SLUDGE:
        yield "machine"


def valves(graph: LineGraph, pipes: Sequence[PipeLine], streams: Balance) -> tuple[Valve, ...]:
    """Every valve of the line's own pipes, in order of the edges and along them.

    Parameters
    ----------
    graph : LineGraph
        Nodes and edges of the line.
    pipes : sequence
        Sized pipes; they give the nominal sizes. [mm]
    streams : Balance
        Streams by number; what flows decides which valves an edge has.

    Returns
    -------
    valves : tuple
        Valves with tags HV (by hand), NV (non-return) and PSV (relief), numbered in the hundred
        of the area of the line's start.

    Notes
    -----
    Common practice, no source. Cake, air and oil have none here: they belong to the packages.
    """
    media = {s.number: s.kind for s in streams.streams}
    pumps = {node.tag for node in graph.nodes if node.kind in _PUMPS}
    drained: set[str] = set()
    found: list[Valve] = []
    counts: dict[tuple[str, str], int] = {}
    for edge in graph.edges:
        pipe = pipe_of_edge(edge, graph, pipes)
        # what only goes round, as water of a squeeze or acid, is no stream of the balance
        round_ = pipe.medium if pipe and pumps & {edge.source, edge.target} else ""
        medium = media.get(edge.stream, round_)
        if edge.kind is EdgeKind.SIGNAL or not medium or medium == _CAKE:
            continue
        places = set(_places(edge, graph, medium, drained))
        for rule in sorted(
            (r for r in _rules() if r.at in places), key=lambda r: (r.order < 0, r.order)
        ):
            letters = _LETTERS.get(rule.kind, "HV")
            area = _area(edge)
            counts[letters, area] = counts.get((letters, area), 0) + 1
            found.append(
                Valve(
                    tag=f"{letters}-{area}{counts[letters, area]:02d}",
                    kind=rule.kind,
                    source=edge.source,
                    target=edge.target,
                    order=rule.order,
                    nominal=pipe.nominal if pipe else 0,
                    medium=medium,
                    normal=rule.normal,
                    why=rule.why,
                    pipe=pipe.tag if pipe else "",
                )
            )
    return tuple(found)


def _area(edge: Edge) -> str:
    """Hundred of the tag at the start of a line, or of its end where it comes from the site."""
    for tag in (edge.source, edge.target):
        number = tag.rpartition("-")[2]
        if number[:1].isdigit():
            return number[0]
    return "0"
