"""One figure of an offer carried from its test to the site: by the sludge law or by the bands."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import ndtr, ndtri

from cakewright.jobs.draws import StudyDraws
from cakewright.jobs.offer_law import Ends, LawGround, Moved, figure_on_site, moved_by_law
from cakewright.jobs.offer_text import Offer, OfferTest, offer_table
from cakewright.machines import Duty, Frame, Kind, Machine, machine_types
from cakewright.quantities import FloatArray
from cakewright.quantities.constants import NORMAL_90
from cakewright.sludge import Composition, Feed, RunLoad, blend, sludge_direct
from cakewright.study import Study, fields, parse_quantity
from cakewright.study.fields import class_default

__all__ = [
    "CARRIED",
    "How",
    "OfferFigure",
    "OfferSite",
    "Way",
    "carried",
    "figure_name",
    "refused",
    "way_of",
]

CARRIED = ("cake_solids", "capture", "polymer", "power", "wash_water")
_GRID = np.linspace(0.005, 0.995, 199)
_BY_LAW = ("cake_solids", "capture", "polymer")


class How:
    """How a figure came to the site, in the words a reader sees."""

    LAW = "sludge law"
    PRIOR = "law of the class"
    BAND = "published band"
    STUDY = "dose of the study"
    STATED = "as stated"


@dataclass(frozen=True, slots=True)
class OfferFigure:
    """One figure of one offer: as stated, and on the site's sludge with its band, SI.

    ``share`` is where the offer stands in the published band of its own test (0.5 typical);
    ``on_site`` is None where the figure cannot be brought over, and ``why`` says so. ``how`` is one
    of `How`'s words, ``weight`` what the statement counts against the law's own answer.
    """

    name: str
    stated: float | None
    share: float | None
    on_site: float | None
    low: float | None
    high: float | None
    why: str = ""
    how: str = ""
    weight: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class OfferSite:
    """The site all offers are brought to; ``ground`` holds the samples the law is run on."""

    study: Study
    draws: StudyDraws
    feed: Feed
    load: RunLoad
    duty: Duty
    frames: Sequence[Frame]
    ground: LawGround

    def point(self, name: str) -> float:
        """One property of the feed in the point case."""
        return float(np.ravel(getattr(self.feed.mix, name))[0])


@dataclass(frozen=True, slots=True, eq=False)
class Way:
    """Both ends of one offer, what was not stated, and what the law says of the way.

    ``moved`` is None where the bands alone carry the offer; ``how`` names what does.
    """

    test: Ends
    site: Ends
    silent: tuple[str, ...]
    tested: Feed | None
    moved: Moved | None
    how: str


def way_of(site: OfferSite, offer: Offer, test: OfferTest) -> Way:
    """From the test of an offer to the site."""
    tested = None if test.own_sludge else _tested_feed(test)
    here = _site_ends(site, offer, test)
    there, silent = _test_ends(site, offer, test, here, tested)
    if tested is not None and site.ground.law is None:
        return Way(there, here, silent, tested, None, How.BAND)
    how = How.LAW if site.ground.law is not None else How.PRIOR
    offered = _one_basis(offer, "polymer")[0] if tested is not None else None
    moved = moved_by_law(site.ground, Kind(offer.machine), there, here, tested, offered)
    return Way(there, here, silent, tested, moved, how if moved.lines else How.BAND)


def _site_ends(site: OfferSite, offer: Offer, test: OfferTest) -> Ends:
    """Feed of the study, its dose or else the one offered, its mean load in the hours allowed."""
    stated = offer.figures.get("throughput")
    mean = float(np.ravel(site.load.dry_solids_flow)[0])
    share = mean / (stated * offer.machines) if stated else test.load or 1.0
    dosed = site.study.given("polymer.dose")
    dose = dosed.value if dosed else None
    if dose is None and test.own_sludge:
        dose = _one_basis(offer, "polymer")[0]
    return Ends(
        total_solids=site.point("total_solids"),
        ash=site.point("ash"),
        temperature=site.point("temperature"),
        dose=test.dose if dose is None and test.own_sludge else dose,
        load_share=min(share, 1.0),
    )


def _test_ends(
    site: OfferSite, offer: Offer, test: OfferTest, here: Ends, tested: Feed | None
) -> tuple[Ends, tuple[str, ...]]:
    """Conditions of the test; what it does not state is as on the site, or the class's."""
    usual = here.ash if tested is None else float(np.ravel(tested.mix.ash)[0])
    dose = test.dose if test.dose is not None else _one_basis(offer, "polymer")[0]
    given = {
        "ash": test.ash,
        "temperature": test.temperature,
        "dose": dose,
        "load": test.load if offer.figures.get("throughput") else here.load_share,
        "screw speed": test.speed if "screw" in offer.machine else 0.0,
    }
    ends = Ends(
        total_solids=test.total_solids,
        ash=usual if test.ash is None else test.ash,
        temperature=here.temperature if test.temperature is None else test.temperature,
        dose=dose,
        load_share=here.load_share if given["load"] is None else float(given["load"]),
        speed=test.speed if "screw" in offer.machine else None,
    )
    return ends, tuple(name for name, value in given.items() if value is None)


def figure_name(key: str) -> str:
    """House name of a figure of an offer."""
    return str(offer_table()["figures"][key]["name"])


def refused(offer: Offer, key: str, why: str) -> OfferFigure:
    """A figure that cannot be brought over."""
    return OfferFigure(figure_name(key), offer.figures.get(key), None, None, None, None, why)


def carried(site: OfferSite, offer: Offer, test: OfferTest, way: Way, key: str) -> OfferFigure:
    """One figure on the site's sludge."""
    if key not in offer.figures:
        return refused(offer, key, "not stated")
    value, why = _one_basis(offer, key)
    if value is None:
        return refused(offer, key, why)
    kind = machine_types()[Kind(offer.machine)]
    tested = way.tested or _with_solids(site.feed, way.test)
    place = _place(value, _band(kind, tested, figure_name(key)))
    edge = _outside(place)
    if way.moved is not None and way.how != How.BAND and key in _BY_LAW:
        found = _by_law(site, kind, test, way, key, value)
        why = "; ".join(words for words in (why, edge) if words)
        return replace(found, stated=offer.figures[key], share=place, why=why)
    if edge:
        edge = f"{edge}; taken at the {'upper' if place > 0.5 else 'lower'} end"
    why = "; ".join(words for words in (why, edge) if words)
    on_site, low, high = _by_band(site, kind, test, figure_name(key), place)
    stated = offer.figures[key]
    return OfferFigure(figure_name(key), stated, place, on_site, low, high, why, How.BAND)


def _one_basis(offer: Offer, key: str) -> tuple[float | None, str]:
    """Polymer per active mass; everything else as it stands."""
    value = offer.figures.get(key)
    if key != "polymer" or value is None or offer.polymer_counts == "active":
        return value, ""
    if offer.polymer_counts == "product" and "polymer_activity" in offer.figures:
        active = value * offer.figures["polymer_activity"]
        return active, f"stated as product; {1000.0 * active:.3g} kg/t as active matter"
    if offer.polymer_counts == "product":
        return None, "counted as product, and the active share is not stated"
    return None, "the offer does not say whether active matter or product is counted"


def _by_law(
    site: OfferSite, kind: Machine, test: OfferTest, way: Way, key: str, value: float
) -> OfferFigure:
    if way.moved is None:
        return OfferFigure(figure_name(key), value, None, None, None, None)
    if key == "polymer":
        return _dose(site, way, value)
    name = figure_name(key)
    found, weight = figure_on_site(
        min(value, 0.9999),
        way.moved.lines[key],
        float(offer_table()["model"][key]),
        _test_error(site, kind, test, name),
        site.ground.draws.draws.seed,
    )
    low, high = (float(x) for x in np.quantile(found[1:], (0.1, 0.9)))
    point = float(found[0])
    ends = min(low, point), max(high, point)
    return OfferFigure(name, value, None, point, *ends, how=way.how, weight=weight)


def _dose(site: OfferSite, way: Way, value: float) -> OfferFigure:
    """The study's dose for every offer; else the offer's own, in proportion to the optimum."""
    given = site.study.given("polymer.dose")
    name = figure_name("polymer")
    if given is not None:
        low, high = (given.value if x is None else x for x in (given.low, given.high))
        return OfferFigure(name, value, None, given.value, low, high, how=How.STUDY)
    if way.tested is None or way.moved is None:
        return OfferFigure(name, value, None, value, value, value, how=How.STATED)
    doses = value * way.moved.dose_ratio
    low, high = np.quantile(doses[1:], (0.1, 0.9))
    return OfferFigure(name, value, None, float(doses[0]), float(low), float(high), how=way.how)


def _test_error(site: OfferSite, kind: Machine, test: OfferTest, name: str) -> float:
    """Error of carrying the test over, on the logit line: as a part of the published band."""
    spread = float(offer_table()["tests"][test.kind]["spread"])
    ends = _at(kind, site.feed, site.duty, name, np.asarray(ndtr(np.array([-1.0, 1.0]))))
    ends = np.clip(ends, 1e-4, 1.0 - 1e-6)
    line = np.log(ends / (1.0 - ends))
    return spread * float(line[1] - line[0]) / 2.0


def _by_band(
    site: OfferSite, kind: Machine, test: OfferTest, name: str, place: float
) -> tuple[float, float, float]:
    """The same place of the published band on the site's sludge."""
    spread = float(offer_table()["tests"][test.kind]["spread"])
    scores = float(ndtri(place)) + spread * np.array([0.0, -NORMAL_90, NORMAL_90])
    there = _at(kind, site.feed, site.duty, name, np.asarray(ndtr(scores)))
    point, low, high = (float(x) for x in there)
    return point, low, high


def _place(value: float, band: FloatArray) -> float:
    """Share of the published band below a value; the ends where it lies outside."""
    rising = np.maximum.accumulate(band)
    return float(np.interp(value, rising, _GRID))


def _outside(share: float) -> str:
    if share > _GRID[-1] - 1e-9:
        return "above everything published for this kind and sludge"
    if share < _GRID[0] + 1e-9:
        return "below everything published for this kind and sludge"
    return ""


def _band(kind: Machine, feed: Feed, name: str) -> FloatArray:
    return _at(kind, feed, Duty(), name, _GRID)


def _at(kind: Machine, feed: Feed, duty: Duty, name: str, shares: FloatArray) -> FloatArray:
    """One figure at several places of its band, on the point case of a feed."""
    return np.asarray(kind.performance(feed, duty, {name: shares}).samples(name), dtype=float)


def _with_solids(feed: Feed, test: Ends) -> Feed:
    """The site's own sludge at the solids and the ash of the test."""
    one = np.ones(feed.mix.size)
    mix = replace(feed.mix, total_solids=one * test.total_solids, ash=one * test.ash)
    return replace(feed, mix=mix)


def _tested_feed(test: OfferTest) -> Feed:
    """The sludge an offer was tested on; what it does not state is the class's."""
    one = np.ones(1)
    usual = _usual(test.sludge_class)
    ash = usual["ash"] if test.ash is None else test.ash
    oil = min(usual["oil"], 1.0 - ash)
    composition = Composition(
        total_solids=one * test.total_solids,
        ash=one * ash,
        oil=one * oil,
        fibre=one * min(usual["fibre"], 1.0 - ash - oil),
        grit=one * min(usual["grit"], ash),
        dissolved=one * 0.03,
        temperature=one * (291.15 if test.temperature is None else test.temperature),
        ph=one * 7.0,
        chloride=one * 0.2,
    )
    return blend([sludge_direct("tested", test.sludge_class, composition, one * 1e-3)])


def _usual(sludge_class: str) -> Mapping[str, float]:
    """What a class is usually made of."""
    found = {}
    for key in ("ash", "oil", "fibre", "grit"):
        field = fields()["sludge"][key]
        text = class_default(sludge_class, key) if field.by_class else field.default or "0"
        found[key] = parse_quantity(text, "1", also=field.also).value
    return found
