"""How well a number is known, shown by letter and frame, never by colour alone."""

from __future__ import annotations

from dataclasses import dataclass

from cakewright.quantities import Basis, Mark

__all__ = ["BASIS_WORDS", "MARK_WORDS", "Badge", "badge", "legend"]

BASIS_WORDS = {
    Basis.MEASURED: "measured on site",
    Basis.BENCH: "fitted to bench tests",
    Basis.PUBLISHED: "published, with source",
    Basis.PRACTICE: "common practice, no source",
    Basis.ASSUMED: "assumed",
}
MARK_WORDS = {
    Mark.JUDGEMENT: "set by the authors' judgement from the sources named",
    Mark.FROM_MEMORY: "recalled, not looked up; not a proof",
    Mark.INVENTED: "made up for the demonstration",
}
_LETTERS = {
    Basis.MEASURED: "M",
    Basis.BENCH: "B",
    Basis.PUBLISHED: "P",
    Basis.PRACTICE: "C",
    Basis.ASSUMED: "A",
}


@dataclass(frozen=True, slots=True)
class Badge:
    """The basis of a number as a framed letter, and its warning in words."""

    letter: str
    kind: str
    meaning: str
    warning: str = ""


def badge(basis: Basis, mark: Mark = Mark.NONE) -> Badge:
    """Badge of a number."""
    return Badge(_LETTERS[basis], basis.value, BASIS_WORDS[basis], mark.value)


def legend() -> tuple[Badge, ...]:
    """Every badge once, strongest basis first."""
    return tuple(badge(basis) for basis in Basis)
