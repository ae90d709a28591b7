"""Where the sludge comes from, what it is made of, how sludges blend, and the sludge law."""

from cakewright.sludge.stream import Composition, Feed, Sludge, blend

__all__ = ["Composition", "Feed", "Sludge", "blend"]
