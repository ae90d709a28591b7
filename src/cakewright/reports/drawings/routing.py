"""How lines run: always in the free lanes between rows and columns, never through apparatus."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from cakewright.reports.drawings.graph import DrawingGraph, Edge, LineKind
from cakewright.reports.drawings.placing import Cell

__all__ = ["Port", "Route", "port_offsets", "routes"]

_WEIGHT = {kind: at for at, kind in enumerate(LineKind)}

Port = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Route:
    """One line's way: the sides it leaves and enters by, and the lanes it takes.

    A lane is ("v", c), the channel right of column c, or ("h", g), the gap above row g.
    """

    edge: Edge
    leaves: str
    enters: str
    lanes: tuple[tuple[str, int], ...] = field(default=())

    @property
    def start(self) -> Port:
        """Where it leaves."""
        return self.edge.source, self.leaves

    @property
    def end(self) -> Port:
        """Where it enters."""
        return self.edge.target, self.enters


def routes(graph: DrawingGraph, cells: Mapping[str, Cell]) -> list[Route]:
    """A route for every edge, main lines first."""
    taken = set(cells.values())
    ordered = sorted(graph.edges, key=lambda e: _WEIGHT[e.kind])
    return [_route(graph, edge, cells, taken) for edge in ordered if edge.source != edge.target]


def _route(graph: DrawingGraph, edge: Edge, cells: Mapping[str, Cell], taken: set[Cell]) -> Route:
    (cs, rs), (ct, rt) = cells[edge.source], cells[edge.target]
    if rs == rt and ct > cs and not any((col, rs) in taken for col in range(cs + 1, ct)):
        return Route(edge, "right", "left", (("v", cs),))
    pumped = "pump" in graph.node(edge.source).kind
    if rt == rs + 1 and (cs == ct or not pumped):
        return Route(edge, "bottom", "top", (("h", rt),))
    if rt == rs - 1 and (cs == ct or not pumped):
        return Route(edge, "top", "bottom", (("h", rs),))
    if rs < rt and not pumped:
        return Route(edge, "bottom", "top", (("h", rs + 1), ("v", cs), ("h", rt)))
    if rs < rt or (rs == rt and ct > cs):
        return Route(edge, "right", "top", (("v", cs), ("h", rt)))
    return Route(edge, "right", "bottom", (("v", cs), ("h", rt + 1)))


def port_offsets(
    found: Sequence[Route],
    cells: Mapping[str, Cell],
    sizes: Mapping[str, tuple[float, float]],
    shift: float = 0.0,
) -> dict[tuple[str, str, str], float]:
    """How far from the middle of its side each line meets an apparatus: (edge, node, side).

    ``shift`` moves the lines at left sides and tops, so that they miss those of the apparatus
    before or above.
    """
    sides: dict[Port, list[Route]] = {}
    for route in found:
        sides.setdefault(route.start, []).append(route)
        sides.setdefault(route.end, []).append(route)
    offsets: dict[tuple[str, str, str], float] = {}
    for (node, side), using in sides.items():
        if side in ("left", "right"):
            spread = _from_middle(len(using), sizes[node][1])
            ordered = sorted(using, key=lambda r: (len(r.lanes), _WEIGHT[r.edge.kind]))
        else:
            spread = _evenly(len(using), sizes[node][0])
            ordered = sorted(using, key=lambda r: _far_column(r, node, cells))
        aside = shift if side in ("left", "top") else 0.0
        for route, offset in zip(ordered, spread, strict=True):
            offsets[route.edge.key, node, side] = offset + aside
    return offsets


def _far_column(route: Route, node: str, cells: Mapping[str, Cell]) -> int:
    other = route.edge.target if route.edge.source == node else route.edge.source
    return cells[other][0]


def _from_middle(count: int, height: float) -> Iterable[float]:
    step = min(4.0, 0.8 * height / max(count, 2))
    return [(1 if at % 2 else -1) * ((at + 1) // 2) * step for at in range(count)]


def _evenly(count: int, width: float) -> Iterable[float]:
    step = min(6.0, 0.8 * width / max(count, 1))
    return [(at - (count - 1) / 2) * step for at in range(count)]
