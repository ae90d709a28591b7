"""Offers on one basis: a page, a PDF, plain text and data."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import asdict

from cakewright.jobs.offer_carry import OfferFigure
from cakewright.jobs.offers import ComparedOffer, Condition, OffersFindings
from cakewright.quantities import house_name
from cakewright.reports.content import Bullets, Cell, Column, Paragraph, Section, Table
from cakewright.reports.numbers import (
    Units,
    decimals_for,
    number_text,
    quantity_text,
    shown,
    shown_unit,
    unit_text,
)
from cakewright.reports.running_pages import sections_page, sections_pdf

__all__ = ["offers_documents", "offers_text"]

NOTHING = "–"


def offers_documents(
    findings: OffersFindings, units: Units = Units.SI
) -> Mapping[str, str | bytes]:
    """Comparison by file name."""
    sections = _sections(findings, units)
    title, invented = f"Offers compared: {findings.title}", findings.invented
    return {
        "offers.html": sections_page(title, findings.site, sections, invented=invented),
        "offers.pdf": sections_pdf(title, findings.site, sections, units, invented=invented),
        "offers.json": json.dumps(asdict(findings), indent=1, ensure_ascii=False, allow_nan=False),
    }


def _sections(findings: OffersFindings, units: Units) -> tuple[Section, ...]:
    remarks = [
        Bullets(f"Offer {offer.name}, {offer.label}", offer.notes)
        for offer in findings.offers
        if offer.notes
    ]
    first = (
        Paragraph(_winner(findings, units), "lead"),
        Paragraph(_lead(findings, units)),
        _table(findings, units),
        Bullets("The basis they are brought to", tuple(_basis(findings, units))),
    )
    told = any(offer.conditions for offer in findings.offers)
    moved = (Paragraph(findings.law), *((_conditions(findings, units),) if told else ()))
    return (
        Section("answer", "On one basis", first),
        Section("conditions", "From the test to the basis", moved),
        Section("remarks", "What compares and what does not", tuple(remarks)),
        Section("stated", "As stated", (_stated(findings, units),)),
        Section("how", "How this is done", (Bullets("Method", findings.notes),)),
    )


def _winner(findings: OffersFindings, units: Units) -> str:
    """Which offer is cheapest on one basis, or that none can be named yet and why."""
    priced = [o for o in findings.offers if o.cost_specific is not None]
    open_ = [o for o in findings.offers if o.cost_specific is None]
    waiting = ", ".join(f"{o.name} ({_why_open(o)})" for o in open_)
    if not priced:
        return f"No offer can be named yet. Not comparable: {waiting}."
    first, cost = priced[0], _money(priced[0], findings, units)
    words = f"Offer {first.name}, {first.label}, is cheapest on one basis at {cost}"
    if len(priced) > 1 and priced[1].cost_specific is not None and first.cost_specific is not None:
        apart = priced[1].cost_specific - first.cost_specific
        told = quantity_text("cost_specific", apart, units, findings.currency)
        words += f"; the next, {priced[1].name}, is {told} dearer"
    if first.price_asked:
        words += "; its price is far from the catalogue's and has to be asked about first"
    return f"{words}. Not comparable yet: {waiting}." if open_ else f"{words}."


def _why_open(offer: ComparedOffer) -> str:
    if not offer.comparable:
        return "no test that carries over"
    missing = ", ".join(house_name(name).label for name in offer.left_out)
    return f"does not say {missing}" if missing else "no cost on one basis"


def _money(offer: ComparedOffer, findings: OffersFindings, units: Units) -> str:
    return quantity_text("cost_specific", offer.cost_specific or 0.0, units, findings.currency)


def _lead(findings: OffersFindings, units: Units) -> str:
    load = quantity_text("dry_solids_flow", findings.load, units)
    solids = quantity_text("total_solids", findings.total_solids, units)
    return (
        f"All offers on the site's sludge ({solids} total solids, design week {load} dry) and on "
        f"the study's prices, {findings.currency} of {findings.price_year}."
    )


def _basis(findings: OffersFindings, units: Units) -> Iterator[str]:
    told = (
        f"{house_name(name).label} {quantity_text(name, value, units)}"
        for name, value in findings.basis.items()
    )
    yield f"feed: {findings.sludge}; {', '.join(told)}"
    yield from findings.conditioning


_CONDITIONS = {
    "total_solids": ("total solids", "total_solids"),
    "ash": ("ash", "ash_share"),
    "temperature": ("temperature", "temperature"),
    "dose": ("polymer, active", "polymer_dose"),
    "load_share": ("load, of the stated throughput", "utilisation"),
    "speed": ("screw speed", "screw_speed"),
}


def _conditions(findings: OffersFindings, units: Units) -> Table:
    """Tested against basis, one condition a row, with the cake that it alone moves."""
    offers = [offer for offer in findings.offers if offer.conditions]
    columns = (
        Column("", share=1.9),
        Column("unit", share=0.7),
        *(Column(f"{o.name}: {o.label}", align="right", share=2.2) for o in offers),
    )
    rows: list[tuple[Cell, ...]] = [
        (Cell("sludge tested"), Cell(), *(Cell(_sludge_cell(o)) for o in offers))
    ]
    for key, (label, name) in _CONDITIONS.items():
        cells = [Cell(_condition(o.conditions.get(key), name, units)) for o in offers]
        rows.append((Cell(label), Cell(_unit(name, units, findings)), *cells))
    rows.append((Cell("carried by"), Cell(), *(Cell(o.how) for o in offers)))
    caption = (
        "Tested → on the basis; in brackets what that condition alone moves the cake by, in points "
        "of cake solids (point case, by the law). ?: not stated."
    )
    return Table(columns, tuple(rows), caption)


def _sludge_cell(offer: ComparedOffer) -> str:
    found = offer.conditions.get("sludge")
    return offer.sludge if found is None else f"{offer.sludge}{_step(found)}"


def _condition(found: Condition | None, name: str, units: Units) -> str:
    if found is None or (found.test is None and found.site is None):
        return "?" if found is not None and name != "screw_speed" else NOTHING
    ends = (found.test, found.site)
    free = ("?", "free" if name == "screw_speed" else "same")
    words = [f if x is None else _number(name, x, units) for x, f in zip(ends, free, strict=True)]
    return f"{' → '.join(words)}{_step(found)}"


def _step(found: Condition) -> str:
    if found.step is None:
        return ""
    points = 100.0 * found.step
    return f" ({points:+.1f})" if abs(points) >= 0.05 else " (0)"


def _columns(findings: OffersFindings) -> tuple[Column, ...]:
    return (
        Column("", share=1.6),
        Column("unit", share=0.8),
        *(Column(f"{o.name}: {o.label}", align="right", share=1.8) for o in findings.offers),
    )


def _keys(findings: OffersFindings) -> list[str]:
    return list(dict.fromkeys(key for offer in findings.offers for key in offer.figures))


def _table(findings: OffersFindings, units: Units) -> Table:
    offers = findings.offers
    answers = (Cell("yes" if o.comparable else "no", strong=True) for o in offers)
    meant = (Cell(o.means) for o in offers)
    carried = (Cell(o.how or NOTHING) for o in offers)
    rows: list[tuple[Cell, ...]] = [
        (Cell("comparable", strong=True), Cell(), *answers),
        (Cell("cake and capture by"), Cell(), *carried),
        (Cell("figures are"), Cell(), *meant),
    ]
    for key in _keys(findings):
        name = _name(findings, key)
        cells = [Cell(_on_site(offer.figures.get(key), units)) for offer in offers]
        rows.append((Cell(house_name(name).label), Cell(_unit(name, units, findings)), *cells))
    missing = (", ".join(house_name(n).label for n in o.left_out) or NOTHING for o in offers)
    rows.append((Cell("does not say"), Cell(), *(Cell(words) for words in missing)))
    costs = [Cell(_cost(offer, units)) for offer in offers]
    rows.append((Cell("whole-life cost"), Cell(_unit("cost_specific", units, findings)), *costs))
    caption = (
        "In brackets: P10–P90 of what carrying the test over to the basis leaves open. Cost: whole "
        f"life, {findings.currency} of {findings.price_year}, cheapest first; an offer without "
        "test conditions has no place in the order."
    )
    return Table(_columns(findings), tuple(rows), caption)


def _cost(offer: ComparedOffer, units: Units) -> str:
    if offer.cost_specific is None:
        return NOTHING
    return _number("cost_specific", offer.cost_specific, units)


def _stated(findings: OffersFindings, units: Units) -> Table:
    rows = []
    for key in _keys(findings):
        name = _name(findings, key)
        cells = [Cell(_as_stated(offer, key, units)) for offer in findings.offers]
        rows.append((Cell(house_name(name).label), Cell(_unit(name, units, findings)), *cells))
    caption = (
        "As each offer states it, on its own test; in brackets where it stands in the published "
        "band of that kind on the sludge tested (0 % lowest, 50 % typical, 100 % highest)."
    )
    return Table(_columns(findings), tuple(rows), caption)


def _name(findings: OffersFindings, key: str) -> str:
    return next(o.figures[key].name for o in findings.offers if key in o.figures)


def _unit(name: str, units: Units, findings: OffersFindings) -> str:
    return unit_text(shown_unit(name, units), findings.currency)


def _number(name: str, value: float, units: Units) -> str:
    return number_text(shown(name, value, units), decimals_for(name, (value,), units))


def _on_site(figure: OfferFigure | None, units: Units) -> str:
    if figure is None or figure.on_site is None or figure.low is None or figure.high is None:
        return NOTHING
    value, low, high = (
        _number(figure.name, x, units) for x in (figure.on_site, figure.low, figure.high)
    )
    return value if low == high else f"{value} ({low}–{high})"


def _as_stated(offer: ComparedOffer, key: str, units: Units) -> str:
    figure = offer.figures.get(key)
    if figure is None or figure.stated is None:
        return NOTHING
    text = _number(figure.name, figure.stated, units)
    return text if figure.share is None else f"{text} ({100 * figure.share:.0f} %)"


def offers_text(findings: OffersFindings, units: Units = Units.SI) -> str:
    """The comparison for a terminal."""
    lines = [
        findings.title,
        _winner(findings, units),
        "",
        findings.law,
        *_basis(findings, units),
        "",
    ]
    for offer in findings.offers:
        lines += _offer_lines(offer, findings, units)
    if findings.invented:
        lines += ["", "This study is invented: no real site, person or price."]
    return "\n".join(lines)


def _offer_lines(offer: ComparedOffer, findings: OffersFindings, units: Units) -> list[str]:
    head = f"Offer {offer.name}, {offer.label}"
    if offer.cost_specific is not None:
        cost = quantity_text("cost_specific", offer.cost_specific, units, findings.currency)
        head = f"{head}: {cost} dry solids over its life"
    lines = [head if offer.comparable else f"{head}: NOT COMPARABLE"]
    for figure in offer.figures.values():
        if figure.on_site is not None:
            label, unit = house_name(figure.name).label, _unit(figure.name, units, findings)
            lines.append(f"  {label:<18}{_on_site(figure, units)} {unit}")
    return [*lines, *(f"  - {note}" for note in offer.notes)]
