"""Offers brought to one basis: the site's sludge, the same prices; what compares and what not."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from cakewright.jobs.bill import bill_of
from cakewright.jobs.draws import study_draws
from cakewright.jobs.line import line_of
from cakewright.jobs.money import CAPITAL, money_of, yearly_of
from cakewright.jobs.offer_carry import (
    CARRIED,
    How,
    OfferFigure,
    OfferSite,
    Way,
    carried,
    refused,
    way_of,
)
from cakewright.jobs.offer_law import law_ground
from cakewright.jobs.offer_text import Offer, OfferTest, offer_table
from cakewright.jobs.options import ENVELOPE_FIGURES, Option, duty_of, load_of, options_of
from cakewright.jobs.streams import feed_of
from cakewright.machines import Frame, Kind, machine_types, shipped_catalogue
from cakewright.quantities import Basis, Figure, Mark, house_name
from cakewright.sludge.law import SludgeLaw
from cakewright.study import Study, class_labels

__all__ = ["ComparedOffer", "Condition", "OffersFindings", "compare_offers"]

_ASH_APART = 0.10
_PRICE_APART = 4.0  # times the catalogue's price, either way (judgement)
_CONDITIONS = ("total_solids", "ash", "temperature", "dose", "load_share", "speed")


@dataclass(frozen=True, slots=True)
class Condition:
    """One condition of a test against the basis, SI; None where it is not stated or free.

    ``step`` is the cake [1] that this condition alone moves on its way to the site.
    """

    test: float | None
    site: float | None
    step: float | None


@dataclass(frozen=True, slots=True)
class ComparedOffer:
    """One offer on one basis; ``comparable`` is False where nothing of it could be brought over.

    ``left_out`` are the house names it does not say; ``price_asked``: its price is unlikely.

    ``means`` is what its figures are meant as, ``how`` what carries cake and capture over.
    """

    name: str
    machine: str
    label: str
    comparable: bool
    figures: Mapping[str, OfferFigure]
    cost_specific: float | None
    notes: tuple[str, ...]
    means: str = ""
    how: str = ""
    sludge: str = ""
    conditions: Mapping[str, Condition] = field(default_factory=dict)
    left_out: tuple[str, ...] = ()
    price_asked: bool = False


@dataclass(frozen=True, slots=True)
class OffersFindings:
    """All offers, cheapest on one basis first, those that cannot be compared last.

    ``law`` says which sludge law carries them; ``basis`` and ``conditioning`` are the feed and the
    conditioning that all are brought to.
    """

    title: str
    site: str
    invented: bool
    currency: str
    price_year: int
    load: float
    total_solids: float
    sludge: str
    law: str
    basis: Mapping[str, float]
    conditioning: tuple[str, ...]
    offers: tuple[ComparedOffer, ...]
    notes: tuple[str, ...]


def compare_offers(
    study: Study,
    offers: Sequence[Offer],
    frames: Sequence[Frame] | None = None,
    law: SludgeLaw | None = None,
) -> OffersFindings:
    """Every offer on the study's sludge and prices.

    ``law`` is the sludge law from bench tests; without it an offer tested on the site's own sludge
    is moved by the law usual for its class, every other one by the published bands.
    """
    site = _site(study, tuple(frames or shipped_catalogue()), law)
    compared = [_compared(site, offer) for offer in offers]
    order = sorted(compared, key=lambda o: (not o.comparable, o.cost_specific or np.inf))
    return OffersFindings(
        title=study.word("title"),
        site=study.word("site"),
        invented=study.flag("invented"),
        currency=study.word("currency"),
        price_year=study.count("price_year"),
        load=float(site.load.design_dry_solids_flow[0]),
        total_solids=site.point("total_solids"),
        sludge=" and ".join(class_labels()[key] for key in sorted(site.feed.shares)),
        law=_law_words(law),
        basis=_basis(site),
        conditioning=_conditioning(site),
        offers=tuple(order),
        notes=_METHOD,
    )


_METHOD = (
    "By the sludge law: the machine's path is run twice on the same samples, under the conditions "
    "of the test and on the basis. What the offer states then counts as one measurement of its "
    "machine: on this sludge nearly alone, on another sludge little beside the law's own answer. A "
    "frame of the catalogue stands for the machine offered.",
    "By the published band: an offer's figure is placed in the band of its kind on the sludge it "
    "was tested on; the same place in the band on the site's sludge is what it is worth there. "
    "Power and wash water always go this way.",
    "How far a test carries over is judged by its kind: full scale, pilot or bench.",
    "Cost: offered price with the study's installation, prices, life and interest.",
)


def _law_words(law: SludgeLaw | None) -> str:
    if law is None:
        return (
            "No bench tests: the study has no sludge law. Offers tested on the site's own sludge "
            "are moved by the law usual for its class (judgement), others by the published bands."
        )
    invented = " (invented)" if law.invented else ""
    return f"Offers are moved by the sludge law from bench tests of {law.sludge}{invented}."


def _basis(site: OfferSite) -> dict[str, float]:
    """Feed and conditioning that every offer is brought to, by house name, SI."""
    found = {name: site.point(key) for name, key in _FEED.items()}
    given = site.study.given("polymer.dose")
    if given is not None:
        found["polymer_dose"] = given.value
    hours = float(np.ravel(site.duty.hours_per_day)[0])
    return found | {"run_hours_per_day": hours}


_FEED = {
    "total_solids": "total_solids",
    "ash_share": "ash",
    "oil_share": "oil",
    "temperature": "temperature",
}


def _conditioning(site: OfferSite) -> tuple[str, ...]:
    dose = (
        "the study's dose for every offer, in active polymer per dry solids"
        if site.study.given("polymer.dose")
        else "each offer at its own dose, in active polymer per dry solids; where it was tested on "
        "another sludge, in proportion to the dose each sludge needs"
    )
    coagulant = site.study.word("coagulant.kind")
    return (
        f"conditioning: {dose}",
        "no inorganic conditioner"
        if coagulant in ("", "none")
        else f"conditioned with {coagulant}",
        "load: the mean of an operating day over the hours allowed, on the machines offered",
        "setting: the driest that keeps its distance to the limits of the machine",
    )


def _site(study: Study, frames: tuple[Frame, ...], law: SludgeLaw | None) -> OfferSite:
    one = replace(study, words={**study.words, "sampling.samples": 0})
    kinds = tuple(kind.value for kind in machine_types())
    draws = study_draws(one, kinds, (*ENVELOPE_FIGURES, CAPITAL))
    feed = feed_of(one, draws)
    load, duty = load_of(draws, feed), duty_of(one, draws)
    return OfferSite(one, draws, feed, load, duty, frames, law_ground(study, law, frames))


def _compared(site: OfferSite, offer: Offer) -> ComparedOffer:
    label = machine_types()[Kind(offer.machine)].label
    if offer.test is None:
        why = "no test conditions are stated, so nothing says on which sludge it holds"
        figures = {k: refused(offer, k, why) for k in CARRIED if k in offer.figures}
        words = f"Not comparable: {why}. Ask for kind of test, sludge, total solids and ash."
        bare = ComparedOffer(offer.name, offer.machine, label, False, figures, None, (words,))
        return replace(bare, means=offer.means, left_out=_left_out(offer))
    way = way_of(site, offer, offer.test)
    figures = {key: carried(site, offer, offer.test, way, key) for key in CARRIED}
    cost, cost_notes = _cost(site, offer, figures)
    notes = (*_notes(site, offer, offer.test, way, figures), *cost_notes)
    return ComparedOffer(
        name=offer.name,
        machine=offer.machine,
        label=label,
        comparable=any(figure.on_site is not None for figure in figures.values()),
        figures=figures,
        cost_specific=cost,
        notes=notes,
        means=offer.means,
        how=way.how,
        sludge=_sludge_words(offer.test),
        conditions=_conditions(way, figures["polymer"].on_site),
        left_out=_left_out(offer),
        price_asked=cost is not None and bool(cost_notes),
    )


def _left_out(offer: Offer) -> tuple[str, ...]:
    """House names of what a bid should say and this one does not."""
    asked = offer_table()["figures"]
    return tuple(
        asked[key]["name"] for key in (*CARRIED, "throughput", "price") if key not in offer.figures
    )


def _sludge_words(test: OfferTest) -> str:
    return "this site's" if test.own_sludge else class_labels()[test.sludge_class]


def _conditions(way: Way, dose: float | None) -> dict[str, Condition]:
    """Every condition at both ends; ``dose`` is what is used on the site."""
    steps = way.moved.steps if way.moved is not None else {}
    silent = {_SILENT.get(name, name) for name in way.silent}
    here = {key: getattr(way.site, key) for key in _CONDITIONS}
    here["dose"] = dose if here["dose"] is None else here["dose"]
    found = {}
    for key in _CONDITIONS:
        test = None if key in silent else getattr(way.test, key)
        found[key] = Condition(test, here[key], steps.get(key))
    if way.tested is not None:
        found["sludge"] = Condition(None, None, steps.get("sludge"))
    return found


_SILENT = {"load": "load_share", "screw speed": "speed"}


def _notes(
    site: OfferSite,
    offer: Offer,
    test: OfferTest,
    way: Way,
    figures: Mapping[str, OfferFigure],
) -> tuple[str, ...]:
    notes = [
        f"{figure.name.replace('_', ' ')}: {figure.why}"
        for figure in figures.values()
        if figure.why
    ]
    notes += _way_notes(site, test, way, figures)
    if "capture" not in offer.figures:
        notes.append("capture is not stated: dry cake may be bought with lost solids")
    if offer.means == "guaranteed":
        notes.append("figures are guaranteed: what is expected lies on the better side of them")
    return (*notes, *_too_small(site, offer))


def _way_notes(
    site: OfferSite, test: OfferTest, way: Way, figures: Mapping[str, OfferFigure]
) -> list[str]:
    """What carries the offer over, and what does not go with it."""
    notes = [_HOW[way.how].format(frame=way.moved.frame if way.moved else "")]
    counts = [(f.name, f.weight) for f in figures.values() if f.weight is not None]
    if counts:
        each = ", ".join(f"{100 * w:.0f} % of {house_name(n).label}" for n, w in counts)
        notes.append(f"what the offer states counts for {each}; the rest is the law's own answer")
    if way.moved is not None and way.moved.why:
        notes.append(f"not moved by the law: {way.moved.why}")
    if way.tested is not None:
        notes += _other_sludge(site, test, way)
    site_ash = site.point("ash")
    if way.how == How.BAND and test.ash is not None and abs(test.ash - site_ash) > _ASH_APART:
        notes.append(
            f"ash tested {100 * test.ash:.0f} %, site {100 * site_ash:.0f} %: more ash presses "
            "drier; the bands do not carry that over"
        )
    if way.silent and way.how == How.BAND:
        notes.append(f"not stated, and not carried by the bands: {', '.join(way.silent)}; ask")
    elif way.silent:
        others = "as on the site" if way.tested is None else "as on the site, ash that of the class"
        notes.append(f"not stated, taken {others}: {', '.join(way.silent)}; ask for them")
    return notes


_HOW = {
    How.LAW: "cake and capture are moved by the sludge law on frame {frame}",
    How.PRIOR: (
        "cake and capture are moved from the conditions of the test by the law usual for this "
        "class on frame {frame} (judgement): bench tests would make it this sludge's"
    ),
    How.BAND: "cake and capture are carried over by the published bands",
}


def _other_sludge(site: OfferSite, test: OfferTest, way: Way) -> list[str]:
    if test.sludge_class in site.feed.shares:
        return ["tested on a sludge of this class, not on this site's: it may press otherwise"]
    theirs = " and ".join(class_labels()[name] for name in sorted(site.feed.shares))
    by_law = way.how != How.BAND
    how = "by the law usual for that class" if by_law else "by the published bands of both"
    return [
        f"tested on {class_labels()[test.sludge_class]}, the site has {theirs}: carried over "
        f"{how}, with care"
    ]


def _too_small(site: OfferSite, offer: Offer) -> tuple[str, ...]:
    needed = float(site.load.design_dry_solids_flow[0])
    stated = offer.figures.get("throughput")
    if stated is None:
        return ("throughput is not stated: whether it carries the load cannot be said",)
    if stated * offer.machines < needed:
        return (
            f"too small: {3600 * stated * offer.machines:.0f} kg/h of dry solids where the design "
            f"week needs {3600 * needed:.0f} kg/h in the hours allowed",
        )
    return ()


def _cost(
    site: OfferSite, offer: Offer, figures: Mapping[str, OfferFigure]
) -> tuple[float | None, tuple[str, ...]]:
    """Whole-life cost per dry solids at the offered price and the figures on one basis."""
    if "price" not in offer.figures:
        return None, ("price is not stated: no cost on one basis",)
    short = [house_name(f.name).label for f in figures.values() if f.on_site is None]
    if short:
        words = ", ".join(short)
        return None, (f"no cost on one basis: {words} cannot be brought over",)
    one = replace(site.study, words={**site.study.words, "machines.kinds": (offer.machine,)})
    (option,) = options_of(one, site.draws, site.feed, site.load, site.duty, site.frames)
    if option.plan is None:
        return None, ("the catalogue has no frame of this kind for the load: no running hours",)
    option = _with_offer(option, figures)
    plan = option.plan
    if plan is None:
        return None, ()
    line = line_of(one, site.draws, site.feed, plan, option.performance)
    yearly = yearly_of(option, line, site.feed, site.draws)
    price = offer.figures["price"] / plan.machines
    currency, year = one.word("currency"), one.count("price_year")
    frame = replace(plan.frame, budget_price=price, currency=currency, price_year=year)
    bill = bill_of(one, line, replace(plan, frame=frame))
    money = money_of(one, bill, yearly, site.draws)
    book = plan.frame.budget_price * plan.machines
    return float(np.ravel(money.per_dry_solids)[0]), _price_notes(
        offer, book, currency, plan.frame.mark
    )


def _price_notes(offer: Offer, book: float, currency: str, mark: Mark) -> tuple[str, ...]:
    """Asks about a price far from the catalogue's for the same kind and load."""
    price = offer.figures["price"]
    if book <= 0.0 or _PRICE_APART > price / book > 1.0 / _PRICE_APART:
        return ()
    way = "below" if price < book else "above"
    whose = f"the {mark.value} catalogue's" if mark else "the catalogue's"
    return (
        f"price {price:.0f} {currency} is far {way} {whose} {book:.0f} {currency} for "
        "machines of this kind and load: ask what it holds, and whether a digit was lost",
    )


def _with_offer(option: Option, figures: Mapping[str, OfferFigure]) -> Option:
    brought = [
        Figure(
            f.name, np.array([f.on_site]), Basis.ASSUMED, Mark.JUDGEMENT, "OWN", "from the offer"
        )
        for f in figures.values()
        if f.on_site is not None
    ]
    return replace(option, performance=option.performance.replaced(*brought))
