"""The plain tables, one look-up each: yields, peaks, storage, polymer, liquor, cake, carbon."""

from __future__ import annotations

from cakewright.reference.rows import Row, row

__all__ = [
    "cake_handling",
    "carbon_factor",
    "cost_share",
    "make_down",
    "outlet",
    "peaking",
    "return_liquor",
    "sludge_yield",
    "specific_resistance",
    "storage_rule",
]

#: Tables whose rows all have the same plain columns.
PLAIN_TABLES = (
    "sludge_yields",
    "peaking",
    "storage_rules",
    "make_down",
    "return_liquor",
    "cake_handling",
    "outlets",
    "cost_shares",
    "carbon_factors",
    "specific_resistance",
)


def sludge_yield(key: str) -> Row:
    """Sludge per person, per volume or per load, and the make-up of raw sludges."""
    return row("sludge_yields", key)


def peaking(key: str) -> Row:
    """Peak over annual mean of the sludge mass: ``peak_month``, ``peak_week``, ``peak_day``."""
    return row("peaking", key)


def storage_rule(key: str) -> Row:
    """Storage, redundancy and shift rules."""
    return row("storage_rules", key)


def make_down(key: str) -> Row:
    """Polymer activity, strength, ageing and shelf life."""
    return row("make_down", key)


def return_liquor(key: str) -> Row:
    """Strength of filtrate and centrate."""
    return row("return_liquor", key)


def cake_handling(key: str) -> Row:
    """Cake and lime densities, voids, conveyor fill, slope factors and friction."""
    return row("cake_handling", key)


def outlet(key: str) -> Row:
    """Tests and limits of outlets; the local permit always comes first."""
    return row("outlets", key)


def cost_share(key: str) -> Row:
    """Share of sludge in cost, maintenance share, capacity exponents."""
    return row("cost_shares", key)


def carbon_factor(key: str) -> Row:
    """Emission factor or landfill, soil and burning parameter."""
    return row("carbon_factors", key)


def specific_resistance(key: str) -> Row:
    """Specific resistance to filtration, or its exponent of pressure."""
    return row("specific_resistance", key)
