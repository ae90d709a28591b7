"""Where each apparatus stands: a grid with the main line left to right in one row.

What feeds the main line stands above it, what leaves it below, chains of such apparatus in a row
of their own, again from left to right.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from cakewright.reports.drawings.graph import DrawingGraph, Edge, LineKind

__all__ = ["Cell", "place"]

Cell = tuple[int, int]
_FARTHEST = 60


def place(graph: DrawingGraph) -> dict[str, Cell]:
    """Column and row of every node; no two share a cell."""
    cells = _wished(graph)
    if not cells:
        cells = {key: (at, 0) for at, key in enumerate(_main_path(graph))}
    if not cells and graph.nodes:
        cells[graph.nodes[0].key] = (0, 0)
    while missing := [n.key for n in graph.nodes if n.key not in cells]:
        found = next(_hanging(graph, cells), None)
        if found is None:
            rows = [row for _, row in cells.values()]
            cells[missing[0]] = (0, max(rows) + 1)
            continue
        key, wanted, side, onward = found
        cells[key] = _nearest_free(wanted, side, onward, set(cells.values()))
    return _shifted(cells)


def _wished(graph: DrawingGraph) -> dict[str, Cell]:
    """Cells asked for; where two ask for one, the later goes on to the next column free."""
    cells: dict[str, Cell] = {}
    for node in graph.nodes:
        if node.cell is None:
            continue
        col, row = node.cell
        while (col, row) in cells.values():
            col += 1
        cells[node.key] = (col, row)
    return cells


def _shifted(cells: Mapping[str, Cell]) -> dict[str, Cell]:
    left = min((col for col, _ in cells.values()), default=0)
    top = min((row for _, row in cells.values()), default=0)
    return {key: (col - left, row - top) for key, (col, row) in cells.items()}


def _main_path(graph: DrawingGraph) -> list[str]:
    """Longest way along main lines, loops opened where they are first met."""
    forward: dict[str, list[str]] = {}
    for edge in graph.edges:
        if edge.kind is LineKind.MAIN and edge.source != edge.target:
            forward.setdefault(edge.source, []).append(edge.target)
    best: list[str] = []
    entered = {t for targets in forward.values() for t in targets}
    starts = [n.key for n in graph.nodes if n.key in forward and n.key not in entered]
    known: dict[str, list[str]] = {}
    for start in starts or list(forward)[:1]:
        path = _longest(start, forward, known, set())
        best = path if len(path) > len(best) else best
    return best


def _longest(
    key: str, forward: Mapping[str, list[str]], known: dict[str, list[str]], open_: set[str]
) -> list[str]:
    if key in known:
        return known[key]
    open_.add(key)
    tails = [_longest(t, forward, known, open_) for t in forward.get(key, []) if t not in open_]
    open_.discard(key)
    path = [key, *max(tails, key=len, default=[])]
    known[key] = path
    return path


def _hanging(
    graph: DrawingGraph, cells: Mapping[str, Cell]
) -> Iterator[tuple[str, Cell, int, int]]:
    """Nodes next to placed ones: their key, the cell they would like, and on which side."""
    for edge in sorted(graph.edges, key=lambda e: _urgency(e, cells)):
        if edge.source in cells and edge.target not in cells:
            yield edge.target, *_after(edge, cells[edge.source])
        elif edge.target in cells and edge.source not in cells:
            yield edge.source, *_before(edge, cells[edge.target])


def _urgency(edge: Edge, cells: Mapping[str, Cell]) -> tuple[bool, int]:
    """What hangs on the main line is placed first, then by how much the line matters."""
    rows = [cells[key][1] for key in (edge.source, edge.target) if key in cells]
    return 0 not in rows, list(LineKind).index(edge.kind)


def _after(edge: Edge, cell: Cell) -> tuple[Cell, int, int]:
    col, row = cell
    if row != 0:
        return (col + 1, row), 1 if row > 0 else -1, 1
    side = -1 if edge.kind is LineKind.SIGNAL else 1
    return (col, side), side, 1


def _before(edge: Edge, cell: Cell) -> tuple[Cell, int, int]:
    col, row = cell
    side = 1 if row > 0 else -1
    return ((col, side), side, -1) if row == 0 else ((col - 1, row), side, -1)


def _nearest_free(wanted: Cell, side: int, onward: int, taken: set[Cell]) -> Cell:
    """Free cell nearest the wish, rather onward (1: to the right) than back."""
    col, row = wanted
    tries = [
        (abs(dc) * (1.0 if dc * onward >= 0 else 3.0) + 1.6 * abs(dr), (col + dc, row + dr))
        for dc in range(-_FARTHEST, _FARTHEST + 1)
        for dr in range(-4, 5)
        if (row + dr) * side > 0
    ]
    return min((cost, cell) for cost, cell in tries if cell not in taken)[1]
