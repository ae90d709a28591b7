"""What a report is made of: sections of a few kinds of blocks, without any layout.

A new section is a function from findings to a `Section`; page, PDF and workbook need no change.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from cakewright.reports.marks import Badge

__all__ = [
    "Block",
    "Bullets",
    "Calculation",
    "Calculations",
    "Cell",
    "Column",
    "Heading",
    "Paragraph",
    "Picture",
    "Section",
    "Table",
]


@dataclass(frozen=True, slots=True)
class Paragraph:
    """Running text; ``kind`` is plain, lead, note, caution or preformatted."""

    text: str
    kind: str = "plain"


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading inside a section."""

    text: str
    key: str = ""


@dataclass(frozen=True, slots=True)
class Bullets:
    """A short list under a few words."""

    title: str
    items: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell: text, and what may stand beside it.

    ``link`` is the key of an anchor in the same report; ``formula`` sets ``_`` and ``^`` as
    lowered and raised text; ``picture`` is a small SVG with ``alt`` as its words.
    """

    text: str = ""
    link: str = ""
    badge: Badge | None = None
    formula: bool = False
    picture: str = ""
    alt: str = ""
    strong: bool = False


@dataclass(frozen=True, slots=True)
class Column:
    """A column: ``align`` is left, right, middle or point; ``share`` its part of the width."""

    head: str
    unit: str = ""
    align: str = "left"
    share: float = 1.0
    formula: bool = False


@dataclass(frozen=True, slots=True)
class Table:
    """Rows under heads. ``anchors`` gives a row a key that links can point to."""

    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]
    caption: str = ""
    anchors: tuple[str, ...] = ()
    kind: str = "plain"


@dataclass(frozen=True, slots=True)
class Picture:
    """A drawing as SVG text with its words.

    ``wide`` asks for more room than a column; ``sheet`` is the same drawing on a drawing sheet,
    which takes a page of its own size where there are pages.
    """

    svg: str
    alt: str
    caption: str = ""
    wide: bool = False
    sheet: str = ""


@dataclass(frozen=True, slots=True)
class Calculation:
    """One calculation line as shown: symbol = formula = numbers = result."""

    key: str
    title: str
    symbol: str
    formula: str
    numbers: str
    result: str
    unit: str
    terms: tuple[tuple[str, str, str, str], ...]
    source: str
    valid: str
    status: str
    note: str
    mark: str
    agrees: bool | None


@dataclass(frozen=True, slots=True)
class Calculations:
    """The calculation lines of one chapter."""

    title: str
    lines: tuple[Calculation, ...]


Block = Paragraph | Heading | Bullets | Table | Picture | Calculations


@dataclass(frozen=True, slots=True)
class Section:
    """One section of the report; ``annex`` is the letter of one that stands apart, behind it."""

    key: str
    title: str
    blocks: tuple[Block, ...]
    new_page: bool = False
    lead: str = field(default="")
    annex: str = ""

    @property
    def heading(self) -> str:
        """Title as printed, with the letter of an annex."""
        return f"Annex {self.annex}: {self.title}" if self.annex else self.title
