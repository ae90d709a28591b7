"""What a flow diagram shows: apparatus and the lines between them, as plain data."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

__all__ = ["DrawingGraph", "Edge", "LineKind", "Node"]


class LineKind(StrEnum):
    """How much a line matters: sets its weight, and which line is broken at a crossing."""

    MAIN = "main"
    SECONDARY = "secondary"
    UTILITY = "utility"
    SIGNAL = "signal"


@dataclass(frozen=True, slots=True)
class Node:
    """One apparatus: ``kind`` picks its symbol; tag, label and size are written beside it.

    ``bubbles`` are its instruments, each the letters and the number of its loop.

    ``cell`` is the column and row it would like, the main line being row 0 and what feeds it
    above; without one it finds its own place.
    """

    key: str
    kind: str
    label: str
    tag: str = ""
    size: str = ""
    cell: tuple[int, int] | None = None
    bubbles: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Edge:
    """One line from apparatus to apparatus; ``number`` is shown on it and in the stream table.

    A ``plain`` line has no arrow head where it ends: at a fitting it only passes.
    """

    key: str
    source: str
    target: str
    kind: LineKind = LineKind.MAIN
    number: str = ""
    plain: bool = False


@dataclass(frozen=True, slots=True)
class DrawingGraph:
    """A whole flow diagram."""

    title: str
    nodes: tuple[Node, ...]
    edges: tuple[Edge, ...]

    def node(self, key: str) -> Node:
        """The node of that key."""
        return next(node for node in self.nodes if node.key == key)
