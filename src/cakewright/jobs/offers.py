"""Offers brought to one basis: the site's sludge, the same prices; what compares and what not."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import ndtr, ndtri

from cakewright.jobs.balance import balance_of
from cakewright.jobs.draws import StudyDraws, study_draws
from cakewright.jobs.money import CAPITAL, money_of, yearly_of
from cakewright.jobs.offer_text import Offer, OfferTest, offer_table
from cakewright.jobs.options import ENVELOPE_FIGURES, Option, duty_of, load_of, options_of
from cakewright.jobs.streams import feed_of
from cakewright.machines import Duty, Frame, Kind, MachineType, machine_types, shipped_catalogue
from cakewright.quantities import Basis, Figure, FloatArray, Mark, house_name
from cakewright.sludge import Composition, Feed, RunLoad, blend, sludge_direct
from cakewright.study import Study, class_labels, fields, parse_quantity
from cakewright.study.fields import class_default

__all__ = ["ComparedOffer", "OfferFigure", "OffersFindings", "compare_offers"]

_CARRIED = ("cake_solids", "capture", "polymer", "power", "wash_water")
_GRID = np.linspace(0.005, 0.995, 199)
_Z90 = float(ndtri(0.9))
_ASH_APART = 0.10


@dataclass(frozen=True, slots=True)
class OfferFigure:
    """One figure of one offer: as stated, and on the site's sludge with its band, SI.

    ``share`` is where the offer stands in the published band of its own test (0.5 typical);
    ``on_site`` is None where the figure cannot be brought over, and ``why`` says so.
    """

    name: str
    stated: float | None
    share: float | None
    on_site: float | None
    low: float | None
    high: float | None
    why: str = ""


@dataclass(frozen=True, slots=True)
class ComparedOffer:
    """One offer on one basis; ``comparable`` is False where nothing of it could be brought over."""

    name: str
    machine: str
    label: str
    comparable: bool
    figures: Mapping[str, OfferFigure]
    cost_specific: float | None
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class OffersFindings:
    """All offers, cheapest on one basis first, those that cannot be compared last."""

    title: str
    site: str
    invented: bool
    currency: str
    price_year: int
    load: float
    total_solids: float
    offers: tuple[ComparedOffer, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Site:
    study: Study
    draws: StudyDraws
    feed: Feed
    load: RunLoad
    duty: Duty
    frames: Sequence[Frame]


def compare_offers(
    study: Study, offers: Sequence[Offer], frames: Sequence[Frame] | None = None
) -> OffersFindings:
    """Every offer on the study's sludge and prices, at the study's point case."""
    site = _site(study, frames or shipped_catalogue())
    compared = [_compared(site, offer) for offer in offers]
    order = sorted(compared, key=lambda o: (not o.comparable, o.cost_specific or np.inf))
    return OffersFindings(
        title=study.word("title"),
        site=study.word("site"),
        invented=study.flag("invented"),
        currency=study.word("currency"),
        price_year=study.count("price_year"),
        load=float(site.load.design_dry_solids_flow[0]),
        total_solids=float(site.feed.mix.total_solids[0]),
        offers=tuple(order),
        notes=(
            "An offer's figure is placed in the published band of its kind on the sludge it was "
            "tested on; the same place in the band on the site's sludge is what it is worth there.",
            "How far a test carries over is judged by its kind: full scale, pilot or bench.",
            "Cost: offered price with the study's installation, prices, life and interest.",
        ),
    )


def _site(study: Study, frames: Sequence[Frame]) -> _Site:
    one = replace(study, words={**study.words, "sampling.samples": 0})
    kinds = tuple(kind.value for kind in machine_types())
    draws = study_draws(one, kinds, (*ENVELOPE_FIGURES, CAPITAL))
    feed = feed_of(one, draws)
    load, duty = load_of(draws, feed), duty_of(one, draws)
    return _Site(one, draws, feed, load, duty, frames)


def _compared(site: _Site, offer: Offer) -> ComparedOffer:
    kind = machine_types()[Kind(offer.machine)]
    if offer.test is None:
        why = "no test conditions are stated, so nothing says on which sludge it holds"
        figures = {k: _not(site, offer, k, why) for k in _CARRIED if k in offer.figures}
        words = f"Not comparable: {why}. Ask for kind of test, sludge, total solids and ash."
        return ComparedOffer(offer.name, offer.machine, kind.label, False, figures, None, (words,))
    figures = {key: _figure(site, kind, offer, offer.test, key) for key in _CARRIED}
    cost, cost_notes = _cost(site, offer, figures)
    notes = (*_notes(site, offer, offer.test, figures), *cost_notes)
    comparable = any(figure.on_site is not None for figure in figures.values())
    return ComparedOffer(offer.name, offer.machine, kind.label, comparable, figures, cost, notes)


def _name(key: str) -> str:
    return str(offer_table()["figures"][key]["name"])


def _not(site: _Site, offer: Offer, key: str, why: str) -> OfferFigure:
    return OfferFigure(_name(key), offer.figures.get(key), None, None, None, None, why)


def _figure(site: _Site, kind: MachineType, offer: Offer, test: OfferTest, key: str) -> OfferFigure:
    if key not in offer.figures:
        return _not(site, offer, key, "not stated")
    value, why = _one_basis(offer, key)
    if value is None:
        return _not(site, offer, key, why)
    name = _name(key)
    band = _band(kind, _tested_feed(test), name)
    share = _place(value, band)
    score = float(ndtri(share))
    spread = float(offer_table()["tests"][test.kind]["spread"])
    scores = score + spread * np.array([0.0, -_Z90, _Z90])
    there = _at(kind, site.feed, site.duty, name, np.asarray(ndtr(scores)))
    on_site, low, high = (float(x) for x in there)
    why = "; ".join(words for words in (why, _outside(share)) if words)
    return OfferFigure(name, offer.figures[key], share, on_site, low, high, why)


def _one_basis(offer: Offer, key: str) -> tuple[float | None, str]:
    """Polymer per active mass; everything else as it stands."""
    value = offer.figures[key]
    if key != "polymer":
        return value, ""
    if offer.polymer_counts == "active":
        return value, ""
    if offer.polymer_counts == "product" and "polymer_activity" in offer.figures:
        active = value * offer.figures["polymer_activity"]
        return active, f"stated as product; {1000.0 * active:.3g} kg/t as active matter"
    if offer.polymer_counts == "product":
        return None, "counted as product, and the active share is not stated"
    return None, "the offer does not say whether active matter or product is counted"


def _place(value: float, band: FloatArray) -> float:
    """Share of the published band below a value; the ends where it lies outside."""
    rising = np.maximum.accumulate(band)
    return float(np.interp(value, rising, _GRID))


def _outside(share: float) -> str:
    if share > _GRID[-1] - 1e-9:
        return "above everything published for this kind and sludge; taken at the upper end"
    if share < _GRID[0] + 1e-9:
        return "below everything published for this kind and sludge; taken at the lower end"
    return ""


def _band(kind: MachineType, feed: Feed, name: str) -> FloatArray:
    return _at(kind, feed, Duty(), name, _GRID)


def _at(kind: MachineType, feed: Feed, duty: Duty, name: str, shares: FloatArray) -> FloatArray:
    """One figure at several places of its band, on the point case of a feed."""
    return np.asarray(kind.performance(feed, duty, {name: shares}).samples(name), dtype=float)


def _tested_feed(test: OfferTest) -> Feed:
    """The sludge an offer was tested on; what it does not state is the class's."""
    one = np.ones(1)

    def usual(key: str) -> FloatArray:
        field = fields()["sludge"][key]
        text = class_default(test.sludge_class, key) if field.by_class else field.default or "0"
        return one * parse_quantity(text, "1", also=field.also).value

    ash = usual("ash") if test.ash is None else one * test.ash
    oil = np.minimum(usual("oil"), 1.0 - ash)
    composition = Composition(
        total_solids=one * test.total_solids,
        ash=ash,
        oil=oil,
        fibre=np.minimum(usual("fibre"), 1.0 - ash - oil),
        grit=np.minimum(usual("grit"), ash),
        dissolved=one * 0.03,
        temperature=one * 291.15,
        ph=one * 7.0,
        chloride=one * 0.2,
    )
    return blend([sludge_direct("tested", test.sludge_class, composition, one * 1e-3)])


def _notes(
    site: _Site, offer: Offer, test: OfferTest, figures: Mapping[str, OfferFigure]
) -> tuple[str, ...]:
    notes = [
        f"{figure.name.replace('_', ' ')}: {figure.why}"
        for figure in figures.values()
        if figure.why
    ]
    classes = {part.sludge_class for part in site.feed.parts}
    if test.sludge_class not in classes:
        theirs = " and ".join(class_labels()[name] for name in sorted(classes))
        notes.append(
            f"tested on {class_labels()[test.sludge_class]}, the site has {theirs}: carried over "
            "by the published bands of both, with care"
        )
    site_ash = float(np.ravel(site.feed.mix.ash)[0])
    if test.ash is None:
        notes.append("ash of the sludge tested is not stated; the class's is taken")
    elif abs(test.ash - site_ash) > _ASH_APART:
        notes.append(
            f"ash tested {100 * test.ash:.0f} %, site {100 * site_ash:.0f} %: more ash presses "
            "drier; the bands do not carry that over"
        )
    if "capture" not in offer.figures:
        notes.append("capture is not stated: dry cake may be bought with lost solids")
    if offer.means == "guaranteed":
        notes.append("figures are guaranteed: what is expected lies on the better side of them")
    return (*notes, *_too_small(site, offer))


def _too_small(site: _Site, offer: Offer) -> tuple[str, ...]:
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
    site: _Site, offer: Offer, figures: Mapping[str, OfferFigure]
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
    balance = balance_of(one, site.draws, site.feed, site.load, option.performance)
    yearly = yearly_of(option, balance, site.feed, site.load, site.draws)
    plan = option.plan
    if plan is None:
        return None, ()
    price = offer.figures["price"] / plan.machines
    currency, year = one.word("currency"), one.count("price_year")
    frame = replace(plan.frame, budget_price=price, currency=currency, price_year=year)
    money = money_of(one, replace(plan, frame=frame), yearly, site.draws)
    return float(np.ravel(money.per_dry_solids)[0]), ()


def _with_offer(option: Option, figures: Mapping[str, OfferFigure]) -> Option:
    brought = [
        Figure(
            f.name, np.array([f.on_site]), Basis.ASSUMED, Mark.JUDGEMENT, "OWN", "from the offer"
        )
        for f in figures.values()
        if f.on_site is not None
    ]
    return replace(option, performance=option.performance.replaced(*brought))
