"""Each cost of a year as a formula: amounts of the tables times prices of the inputs."""

from __future__ import annotations

from cakewright.reports.sheets.links import Links
from cakewright.reports.sheets.tables import Answers

__all__ = ["yearly_formula"]

# Costs that are an amount per dry solids times one price.
_PLAIN = {
    "coagulant": ("coagulant", "prices.coagulant"),
    "ferric chloride": ("ferric", "prices.ferric"),
    "lime": ("lime", "prices.lime"),
    "water": ("water", "prices.water"),
    "filtrate treatment": ("solids_returned", "prices.filtrate"),
}


def yearly_formula(links: Links, answers: Answers, machine: str, name: str, equipment: str) -> str:
    """Formula of one cost of a year of one kind; ``equipment`` is the cell of its purchase."""

    def of(key: str) -> str:
        return answers.term(machine, key)

    dry, price = of("dry_solids"), links.term
    if name in _PLAIN:
        amount, place = _PLAIN[name]
        return f"{dry}*{of(amount)}*{price(place)}"
    match name:
        case "power":
            demand = f"{of('peak_power')}*{price('prices.demand')}"
            return f"{dry}*{of('energy')}*{_tariff(links)}+{demand}"
        case "polymer":
            dosed = f"{dry}*{of('polymer_dose')}"
            return f"{dosed}*{price('prices.polymer')}/{price('polymer.activity')}"
        case "labour":
            return f"{of('attention')}*{price('prices.labour')}"
        case "maintenance":
            return f"{equipment}*{price('prices.maintenance')}"
        case "haulage":
            way = f"{price('outlet.distance')}*{price('prices.haulage')}"
            trip = f"{price('prices.trip')}/{price('outlet.payload')}"
            return f"{dry}*{of('cake')}*({way}+{trip})"
        case "disposal":
            return f"{dry}*{of('cake')}*{_gate(links, of('cake_out'))}"
    raise ValueError(f"{name!r} is no cost of a year")


def _tariff(links: Links) -> str:
    power = links.term("prices.power")
    if not links.has("prices.peak_power"):
        return power
    share, peak = links.term("prices.peak_share"), links.term("prices.peak_power")
    return f"({share}*{peak}+(1-{share})*{power})"


def _gate(links: Links, cake: str) -> str:
    """Price of the outlet, and of the other one for the share of days it takes none."""
    price = links.term("prices.disposal")
    if not links.has("outlet.least_solids"):
        return price
    above = f"({cake}-{links.term('outlet.least_solids')})/{links.term('decision.day_spread')}"
    taken = f"NORMSDIST({above})"
    return f"({taken}*{price}+(1-{taken})*{links.term('outlet.fallback_price')})"
