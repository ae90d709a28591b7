"""The streams of the line in each case: one numbering, by parts, with what joins what."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from cakewright.errors import InfeasibleError, OutOfRangeError
from cakewright.line.case import Case
from cakewright.line.conditioning import ProductLine
from cakewright.line.inputs import Press, point
from cakewright.line.items import Stream
from cakewright.physics.balance import Additive, DewateringBalance, balance_dewatering
from cakewright.physics.balance import Stream as Parts
from cakewright.physics.conveying import cake_bulk_density
from cakewright.quantities import FloatArray
from cakewright.quantities.constants import HOUR
from cakewright.quantities.tables import packaged_table
from cakewright.sludge.cases import CaseKey

__all__ = ["Balance", "balance", "boundary", "wash_mean", "wash_peak", "with_pressures"]

FEED, PUMPED, SURPLUS, MEASURED = (
    *("sludge to feed tank", "feed pumped", "surplus returned", "feed measured"),
)
MIXED, WASH, CAKE, FILTRATE = (*("flocculated sludge", "wash water", "cake", "liquor returned"),)
_OUTSIDE = ("works", "works, return", "supply", "water supply", "outlet", "feed tank")
_SUMMED = ("mass_flow", "dry_solids_flow", "suspended", "dissolved", "conditioner", "water")
# Conditioners react with the sludge there: what they form takes or gives water.
_REACTED = ("mass_flow", "suspended", "dissolved")


@dataclass(frozen=True, slots=True, eq=False)
class Balance:
    """Streams of one case and the loads that go with them, over samples.

    ``filtrate_solids`` are suspended solids lost with the filtrate, conditioner included;
    ``cake_density`` is the bulk density of the cake.
    """

    case: CaseKey
    streams: tuple[Stream, ...]
    cake_mass: FloatArray
    cake_solids: FloatArray
    cake_density: FloatArray
    filtrate_mass: FloatArray
    filtrate_volume: FloatArray
    filtrate_solids: FloatArray
    conditioner_in_cake: FloatArray
    wash: FloatArray
    make_up_water: FloatArray
    flocculated_volume: FloatArray

    @property
    def closures(self) -> Mapping[str, float]:
        """Largest relative gap of the sums round every apparatus, press first."""
        return _gaps(self.streams)

    @property
    def closure(self) -> float:
        """The largest gap of all."""
        return max(self.closures.values())

    def stream(self, name: str) -> Stream:
        """One stream by name."""
        return next(s for s in self.streams if s.name == name)

    def number(self, name: str) -> int:
        """Number of a stream; 0 where this line has none of that name."""
        return next((s.number for s in self.streams if s.name == name), 0)


def boundary(place: str) -> bool:
    """True for what lies outside the line, or stores, so that its streams need not balance."""
    return place in _OUTSIDE


def wash_mean(presses: Sequence[Press], hours_per_day: float) -> float:
    """Wash water of all duty shafts, averaged over the hours run, stop rinses included. [m3/s]"""
    total = 0.0
    for p in presses:
        share = 1.0 if p.burst is None else min(p.burst / p.interval, 1.0)
        stop = p.wash_per_stop / (hours_per_day * HOUR)
        total += p.units * p.shafts * (p.wash_flow * share + stop)
    return total


def wash_peak(presses: Sequence[Press], stop_rinse_time: float) -> float:
    """Wash water at one moment: bursts and stop rinses one machine after the other."""
    steady = sum(p.units * p.shafts * p.wash_flow for p in presses if p.burst is None)
    turns = [p.shafts * p.wash_flow for p in presses if p.burst is not None]
    turns += [p.shafts * p.wash_per_stop / stop_rinse_time for p in presses]
    return steady + max(turns, default=0.0)


@cache
def _labels() -> Mapping[str, Mapping[str, str]]:
    return packaged_table("cakewright.line", "data", "streams.toml")


def _wash(case: Case) -> FloatArray:
    """Wash water while the presses run. [m3/s]"""
    running = case.cases.running
    if case.inputs.wash_specific is None:
        hours = 24.0 * point(running.hours_per_day)
        return np.full(running.volume_flow.shape, wash_mean(case.inputs.presses, hours))
    return np.asarray(case.inputs.wash_specific * running.dry_solids_flow)


def _pressed(
    case: Case, products: Sequence[ProductLine], key: CaseKey, share: FloatArray
) -> DewateringBalance:
    """The press with its conditioning in one case; ``share`` scales what is sized for design."""
    feed, cake = case.inputs.feed, case.inputs.cake
    capture, wanted = np.asarray(cake.capture, float), np.asarray(cake.total_solids, float)
    if np.any((capture < 0) | (capture > 1)):
        raise OutOfRangeError(
            f"capture: got {100 * point(capture):.1f} %; allowed: 0 to 100 %; check the capture"
        )
    if np.any((wanted <= 0) | (wanted >= 1)):
        raise OutOfRangeError(
            f"cake solids: got {100 * point(wanted):.2f} %; allowed: above 0 to below 100 %; "
            "check the cake solids"
        )
    added = [
        Additive(
            f"{p.product.name} solution",
            p.solids_flow * share,
            ((p.stock_flow + p.dilution_flow) * p.product.density - p.solids_flow) * share,
            p.retained_flow / np.where(p.solids_flow > 0, p.solids_flow, 1.0),
        )
        for p in products
    ]
    load = case.cases[key]
    # Washing goes with the hours, not with the load: the same flow in every case but the mean.
    wash = _wash(case) * (case.cases.running.run_share if key is CaseKey.MEAN_YEAR else 1.0)
    try:
        return balance_dewatering(
            load.dry_solids_flow,
            feed.total_solids,
            feed.dissolved_share,
            wanted,
            capture,
            added,
            wash,
            feed.solids_density,
            case.water_density,
        )
    except InfeasibleError as wet:
        raise OutOfRangeError(
            f"cake solids: got {100 * point(wanted):.2f} % from a feed of "
            f"{100 * point(feed.total_solids):.2f} %; allowed: thicker than the conditioned feed "
            f"and than what is dissolved in its water ({wet}); check both and the dissolved share"
        ) from None


@dataclass(slots=True)
class _Rows:
    """Streams as they are numbered."""

    like: FloatArray
    share: float
    rows: list[Stream]

    def add(
        self,
        name: str,
        volume: FloatArray,
        parts: Mapping[str, FloatArray],
        heat: float,
        product: str = "",
        weekly: float | None = None,
        note: str = "",
    ) -> None:
        """One stream; ``name`` may hold "{product}"."""
        row = _labels()[name]
        wide = {k: np.asarray(v + self.like) for k, v in parts.items()}
        dry = wide["suspended"] + wide["dissolved"] + wide["conditioner"]
        self.rows.append(
            Stream(
                number=len(self.rows) + 1,
                name=name.format(product=product),
                kind=row["kind"],
                volume_flow=np.asarray(volume + self.like),
                mass_flow=np.asarray(dry + wide["water"]),
                dry_solids_flow=np.asarray(dry),
                weekly_share=self.share if weekly is None else weekly,
                note=note,
                suspended=wide["suspended"],
                dissolved=wide["dissolved"],
                conditioner=wide["conditioner"],
                source=row["source"].format(product=product),
                target=row["target"].format(product=product),
                temperature=heat,
                check=row.get("check", ""),
            )
        )


def _parts(stream: Parts, factor: FloatArray | float = 1.0) -> dict[str, FloatArray]:
    names = ("suspended", "dissolved", "conditioner", "water")
    return {name: np.asarray(getattr(stream, name) * factor) for name in names}


def _only(conditioner: FloatArray, water: FloatArray) -> dict[str, FloatArray]:
    none = np.zeros(1)
    return {"suspended": none, "dissolved": none, "conditioner": conditioner, "water": water}


def _sludge_side(rows: _Rows, case: Case, feed: Parts, returned: FloatArray, heat: float) -> None:
    """From the works to the metering device; the return comes round as sludge like the rest."""
    surplus, weekly = case.surplus_share, rows.share
    mean = "mean over the week"
    if case.inputs.feed_includes_return:
        again = np.clip(case.book["recaught_share"] * returned / feed.dry, 0.0, 1.0)
        for name, part in (
            ("sludge of the works", 1 - again),
            ("sludge made of the return", again),
        ):
            share = part * weekly
            rows.add(name, feed.volume * share, _parts(feed, share), heat, weekly=1.0, note=mean)
    whole = _parts(feed, weekly)
    rows.add(FEED, feed.volume * weekly, whole, heat, weekly=1.0, note=mean)
    flows = ((PUMPED, 1 + surplus), (SURPLUS, surplus), (MEASURED, 1.0))
    for name, factor in (f for f in flows if f[1] > 0):
        rows.add(name, feed.volume * factor, _parts(feed, factor), heat)


def _solutions(rows: _Rows, case: Case, products: Sequence[ProductLine], share: FloatArray) -> None:
    """Each product from its store to the sludge."""
    water = case.water_density
    cold = case.book["supply_water_temperature"]
    for p in products:
        # As it was dosed; what it forms in the sludge is its own from the flocculation on.
        name, density, dry = p.product.name, p.product.density, p.active * share
        neat = p.active / p.activity * share
        stock, thin = p.stock_flow * density * share, p.dilution_flow * density * share
        own = _only(dry, neat - dry)
        rows.add("{product} as supplied", neat / density, own, cold, name)
        made = stock - neat
        rows.add("{product} make-up water", made / water, _only(0 * dry, made), cold, name)
        rows.add(
            "{product} stock solution",
            p.stock_flow * share,
            _only(dry, stock - dry),
            cold,
            name,
        )
        rows.add("{product} dilution water", thin / water, _only(0 * dry, thin), cold, name)
        whole = _only(dry, stock + thin - dry)
        rows.add("{product} solution", (p.stock_flow + p.dilution_flow) * share, whole, cold, name)


def _mixed_heat(flows: Sequence[tuple[FloatArray, float]]) -> float:
    """Temperature of a mix, by mass. [K]"""
    masses = [point(mass) for mass, _ in flows]
    total = sum(masses)
    return sum(m * t for m, (_, t) in zip(masses, flows, strict=True)) / total if total else 288.15


def _gaps(streams: Sequence[Stream]) -> dict[str, float]:
    """Largest gap of every sum round an apparatus, relative to the mass that goes in."""
    found: dict[str, float] = {}
    inner = dict.fromkeys(s.target for s in streams if not boundary(s.target))
    for place in sorted(inner, key=lambda name: name != "press"):
        into = [s for s in streams if s.target == place]
        out = [s for s in streams if s.source == place]
        scale = np.asarray(sum(s.mass_flow for s in into))
        scale = np.where(scale > 0, scale, 1.0)
        for kind in _REACTED if place == "flocculation" else _SUMMED:
            come = np.asarray(sum(getattr(s, kind) for s in into))
            gone = np.asarray(sum(getattr(s, kind) for s in out))
            gap = float(np.max(np.abs(come - gone) / scale))
            name = f"press, {kind.replace('_flow', '').replace('_', ' ')}"
            key = name if place == "press" else place
            found[key] = max(found.get(key, 0.0), gap)
    return found


def balance(case: Case, products: Sequence[ProductLine], key: CaseKey = CaseKey.RUNNING) -> Balance:
    """Every stream of the line in one case; ``MEAN_YEAR`` gives means over the year.

    Salts a metal conditioner leaves dissolved are not counted as dry solids. The volume of the cake
    is that of loose cake, with its voids.

    Raises
    ------
    OutOfRangeError
        If the cake is wetter than the feed or the capture is outside 0 to 1.
    """
    feed, cake, load = case.inputs.feed, case.inputs.cake, case.cases[key]
    share = np.asarray(load.dry_solids_flow / case.solids_design)
    press = _pressed(case, products, key, share)
    own, out, drain, wash = (press.streams[k] for k in ("sludge", "cake", "filtrate", "wash"))
    like = np.zeros(out.mass.shape)
    weekly = 1.0 if key is CaseKey.MEAN_YEAR else point(load.run_share)
    warm, cold = point(feed.temperature), case.book["supply_water_temperature"]
    rows = _Rows(like, weekly, [])
    lost = np.asarray(drain.suspended + drain.conditioner)
    _sludge_side(rows, case, own, lost, warm)
    _solutions(rows, case, products, share)
    solutions = [press.streams[f"{p.product.name} solution"] for p in products]
    mixed = {
        name: np.asarray(getattr(own, name) + sum(getattr(s, name) for s in solutions))
        for name in ("suspended", "dissolved", "conditioner", "water")
    }
    poured = np.asarray(sum((p.stock_flow + p.dilution_flow) * share for p in products) + like)
    heat = _mixed_heat([(own.mass, warm), *((s.mass, cold) for s in solutions)])
    rows.add(MIXED, own.volume + poured, mixed, heat)
    rows.add(WASH, wash.volume, _parts(wash), cold)
    bulk = cake.bulk_density
    if bulk is None:
        bulk = cake_bulk_density(
            cake.total_solids, feed.solids_density, case.water_density, case.book["cake_voids"]
        )
    density = np.broadcast_to(np.asarray(bulk, dtype=float), like.shape)
    rows.add(CAKE, out.mass / density, _parts(out), heat, note="loose, with its voids")
    drained = _mixed_heat([(drain.mass - wash.mass, heat), (wash.mass, cold)])
    rows.add(FILTRATE, drain.volume, _parts(drain), drained)
    made = [s.volume_flow for s in rows.rows if s.kind == "water" and s.name != WASH]
    return Balance(
        case=key,
        streams=tuple(rows.rows),
        cake_mass=np.asarray(out.mass + like),
        cake_solids=np.asarray(out.dry + like),
        cake_density=density,
        filtrate_mass=np.asarray(drain.mass + like),
        filtrate_volume=np.asarray(drain.volume + like),
        filtrate_solids=np.asarray(lost + like),
        conditioner_in_cake=np.asarray(out.conditioner + like),
        wash=np.asarray(wash.volume + like),
        make_up_water=np.asarray(np.sum(made, axis=0) + like),
        flocculated_volume=np.asarray(own.volume + poured),
    )


def with_pressures(found: Balance, pressures: Mapping[str, float]) -> Balance:
    """The same streams with the pressure of those that are pumped. [Pa]"""
    streams = (replace(s, pressure=pressures.get(s.name, 0.0)) for s in found.streams)
    return replace(found, streams=tuple(streams))
