"""Streams of the line while it runs: mass, volume and dry solids, over samples."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from cakewright.errors import OutOfRangeError
from cakewright.line.case import Case
from cakewright.line.conditioning import ProductLine
from cakewright.line.inputs import HOUR, Press, RunPattern, point
from cakewright.line.items import Stream
from cakewright.physics.conveying import cake_bulk_density
from cakewright.quantities import FloatArray

__all__ = ["Balance", "balance", "wash_mean", "wash_peak"]


@dataclass(frozen=True, slots=True, eq=False)
class Balance:
    """Streams and the loads that go with them, per time of running, over samples.

    ``filtrate_solids`` are suspended solids lost with the filtrate, conditioner included;
    ``cake_density`` is the bulk density of the cake; ``closure`` the relative mass gap.
    """

    streams: tuple[Stream, ...]
    cake_mass: FloatArray
    cake_solids: FloatArray
    cake_density: FloatArray
    filtrate_mass: FloatArray
    filtrate_volume: FloatArray
    filtrate_solids: FloatArray
    conditioner_in_cake: FloatArray
    wash: FloatArray
    flocculated_volume: FloatArray
    closure: float

    def stream(self, name: str) -> Stream:
        """One stream by name."""
        return next(s for s in self.streams if s.name == name)


def wash_mean(presses: Sequence[Press], run: RunPattern) -> float:
    """Wash water of all duty shafts, averaged over run time, stop rinses included. [m3/s]"""
    total = 0.0
    for p in presses:
        share = 1.0 if p.burst is None else min(p.burst / p.interval, 1.0)
        stop = p.wash_per_stop / (run.hours_per_day * HOUR)
        total += p.units * p.shafts * (p.wash_flow * share + stop)
    return total


def wash_peak(presses: Sequence[Press], stop_rinse_time: float) -> float:
    """Wash water at one moment: bursts and stop rinses one machine after the other."""
    steady = sum(p.units * p.shafts * p.wash_flow for p in presses if p.burst is None)
    turns = [p.shafts * p.wash_flow for p in presses if p.burst is not None]
    turns += [p.shafts * p.wash_per_stop / stop_rinse_time for p in presses]
    return steady + max(turns, default=0.0)


def _cake(
    case: Case, suspended: FloatArray, kept: FloatArray, dissolved: FloatArray, water: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Cake mass and its dry solids: captured solids plus what is dissolved in the cake's water.

    M TS = S + c (1 - TS) M, with c the dissolved mass per mass of water.

    Raises
    ------
    OutOfRangeError
        If the cake is no thicker than the salt in its water.
    """
    cake = case.inputs.cake
    solids = np.asarray(cake.total_solids, dtype=float)
    salt = dissolved / water
    net = solids - salt * (1 - solids)
    if np.any(net <= 0) or np.any(solids >= 1):
        raise OutOfRangeError(
            f"cake solids: got {100 * point(solids):.2f} %; allowed: above the "
            f"{100 * point(np.atleast_1d(salt)):.2f} % dissolved in its water and below 100 %; "
            "check the dissolved share and the cake solids"
        )
    mass = (suspended * np.asarray(cake.capture, dtype=float) + kept) / net
    if np.any(mass >= suspended + dissolved + water):
        raise OutOfRangeError(
            f"cake solids: got {100 * point(solids):.2f} %; allowed: thicker than the conditioned "
            "feed; a cake wetter than its feed is no dewatering: check both"
        )
    return mass, mass * solids


def _sum(arrays: Sequence[FloatArray], like: FloatArray) -> FloatArray:
    return np.asarray(np.sum([np.broadcast_to(a, like.shape) for a in arrays], axis=0))


def balance(case: Case, products: Sequence[ProductLine]) -> Balance:
    """Every stream of the line while the presses run.

    Filtrate mass = feed + solutions + wash water - cake; dry solids likewise. Salts a metal
    conditioner leaves dissolved are not counted as dry solids.

    Raises
    ------
    OutOfRangeError
        If the cake is wetter than the feed or the capture is outside 0 to 1.
    """
    feed, cake = case.inputs.feed, case.inputs.cake
    capture = np.asarray(cake.capture, dtype=float)
    if np.any((capture < 0) | (capture > 1)):
        raise OutOfRangeError(
            f"capture: got {100 * point(capture):.1f} %; allowed: 0 to 100 %; check the capture"
        )
    shape = np.broadcast_shapes(
        case.flow_run.shape,
        capture.shape,
        np.shape(cake.total_solids),
        *(p.dose.shape for p in products),
        np.shape(feed.dissolved_share),
    )
    like = np.zeros(shape or (1,))
    flow, solids, density = (
        np.broadcast_to(a, like.shape) for a in (case.flow_run, case.solids_run, case.density)
    )
    mass = flow * density
    dissolved = solids * feed.dissolved_share
    suspended = solids - dissolved
    liquid = _sum([(p.stock_flow + p.dilution_flow) * p.product.density for p in products], like)
    liquid_volume = _sum([p.stock_flow + p.dilution_flow for p in products], like)
    added = _sum([p.solids_flow for p in products], like)
    kept = _sum([p.retained_flow for p in products], like)
    water = mass - solids + liquid - added
    cake_mass, cake_solids = _cake(case, suspended, kept, dissolved, water)
    wash_volume = np.full_like(like, wash_mean(case.inputs.presses, case.inputs.run))
    wash = wash_volume * case.water_density
    filtrate_total = solids + added - cake_solids
    # water by its own balance, so that the mass closure below is a check
    filtrate = (water - (cake_mass - cake_solids)) + wash + filtrate_total
    lost = suspended * (1 - capture) + added - kept
    bulk = cake.bulk_density
    if bulk is None:
        bulk = cake_bulk_density(
            cake.total_solids, feed.solids_density, case.water_density, case.book["cake_voids"]
        )
    bulk_density = np.broadcast_to(np.asarray(bulk, dtype=float), like.shape)
    filtrate_volume = (
        flow
        + liquid_volume
        + wash_volume
        - cake_mass
        / np.asarray(cake_bulk_density(cake.total_solids, feed.solids_density, case.water_density))
    )
    surplus = case.book["pump_surplus_share"]
    share = case.run_share
    zero = np.zeros_like(like)

    def row(
        number: int,
        name: str,
        kind: str,
        v: FloatArray,
        m: FloatArray,
        s: FloatArray,
        part: float = share,
        note: str = "",
    ) -> Stream:
        return Stream(
            number,
            name,
            kind,
            np.asarray(v + zero),
            np.asarray(m + zero),
            np.asarray(s + zero),
            part,
            note,
        )

    streams = [
        row(
            1,
            "sludge to feed tank",
            "sludge",
            flow * share,
            mass * share,
            solids * share,
            1.0,
            "mean over the week",
        ),
        row(
            2,
            "feed pumped",
            "sludge",
            flow * (1 + surplus),
            mass * (1 + surplus),
            solids * (1 + surplus),
        ),
        row(3, "surplus returned", "sludge", flow * surplus, mass * surplus, solids * surplus),
        row(4, "feed measured", "sludge", flow, mass, solids),
    ]
    for k, p in enumerate(products):
        v = p.stock_flow + p.dilution_flow
        streams.append(
            row(
                5 + k,
                f"{p.product.name} solution",
                "chemical",
                v,
                v * p.product.density,
                p.solids_flow,
            )
        )
    made = _sum(
        [v.stock_flow * (1 - v.stock / v.activity) + v.dilution_flow for v in products], like
    )
    streams += [
        row(7, "make-down water", "water", made, made * case.water_density, zero),
        row(8, "flocculated sludge", "sludge", flow + liquid_volume, mass + liquid, solids + added),
        row(9, "wash water", "water", wash_volume, wash, zero),
        row(10, "cake", "cake", cake_mass / bulk_density, cake_mass, cake_solids),
        row(11, "filtrate and wash water", "filtrate", filtrate_volume, filtrate, filtrate_total),
    ]
    gap = np.abs(mass + liquid + wash - cake_mass - filtrate) / mass
    return Balance(
        streams=tuple(streams),
        cake_mass=cake_mass,
        cake_solids=cake_solids,
        cake_density=bulk_density,
        filtrate_mass=filtrate,
        filtrate_volume=filtrate_volume,
        filtrate_solids=np.asarray(lost),
        conditioner_in_cake=np.asarray(kept),
        wash=wash_volume,
        flocculated_volume=np.asarray(flow + liquid_volume),
        closure=float(gap.max()),
    )
