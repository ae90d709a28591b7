"""Indicators per shift and over a period, each with its spread and the coverage behind it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import special

from cakewright.errors import DataError, Fault
from cakewright.quantities import FloatArray
from cakewright.running.reconcile import WATER, BalanceTable
from cakewright.running.shifts import ShiftTable
from cakewright.running.signals import signal

__all__ = [
    "Against",
    "Indicator",
    "Prices",
    "Promise",
    "against_promise",
    "availability",
    "indicators",
    "period_indicators",
]

BoolArray = NDArray[np.bool_]
PARTS = ("polymer", "power", "water", "cake", "filtrate")
CARBON_PARTS = ("polymer", "power", "cake")


@dataclass(frozen=True, slots=True)
class Prices:
    """Prices and carbon factors in SI; what is not given costs nothing and is said so.

    polymer per kg active; power per J; water per m3; cake per kg wet (haul and outlet);
    filtrate per kg of solids returned. Carbon: kg CO2e per kg active, J, kg wet cake.
    """

    polymer: float = 0.0
    power: float = 0.0
    water: float = 0.0
    cake: float = 0.0
    filtrate: float = 0.0
    carbon_polymer: float = 0.0
    carbon_power: float = 0.0
    carbon_cake: float = 0.0
    currency: str = "currency"

    @property
    def left_out(self) -> tuple[str, ...]:
        """Cost parts without a price."""
        return tuple(part for part in PARTS if getattr(self, part) == 0)

    @property
    def carbon_left_out(self) -> tuple[str, ...]:
        """Carbon parts without a factor."""
        return tuple(part for part in CARBON_PARTS if getattr(self, f"carbon_{part}") == 0)


@dataclass(frozen=True, slots=True, eq=False)
class Indicator:
    """One indicator per shift (NaN: cannot be said), its standard uncertainty, its coverage."""

    name: str
    value: FloatArray
    spread: FloatArray
    coverage: FloatArray


@dataclass(frozen=True, slots=True)
class Promise:
    """What was promised: house name -> SI value, and whether more or less is better."""

    values: Mapping[str, float]

    LESS = frozenset(
        {"polymer_dose", "specific_energy", "wash_water_specific", "cost_specific",
         "carbon_specific"}
    )  # fmt: skip

    def better(self, name: str) -> int:
        """+1 where more is better, -1 where less is."""
        return -1 if name in self.LESS else 1


@dataclass(frozen=True, slots=True)
class Against:
    """A period against its promise: value, standard uncertainty, promise, chance of being kept."""

    name: str
    value: float
    spread: float
    promised: float
    chance: float
    coverage: float
    shifts: int


def _ratio(top: FloatArray, bottom: FloatArray) -> FloatArray:
    good = np.isfinite(top) & np.isfinite(bottom) & (bottom > 0)
    return np.asarray(np.divide(top, bottom, out=np.full(top.shape, np.nan), where=good))


def _cover(table: ShiftTable, *keys: str) -> FloatArray:
    """Coverage of the poorest reading behind an indicator."""
    return np.asarray(np.minimum.reduce([table.cover(key) for key in keys]))


def _or_read(table: ShiftTable, balance: BalanceTable, key: str) -> tuple[FloatArray, FloatArray]:
    """Reconciled value; the plain reading where the balance has no answer."""
    best, read = balance.column(key), table.get(key)
    spread = np.hypot(signal(key).relative * read, signal(key).absolute)
    known = np.isfinite(best)
    return np.where(known, best, read), np.where(known, balance.column_spread(key), spread)


def _load(table: ShiftTable, balance: BalanceTable) -> tuple[FloatArray, FloatArray]:
    flow, solids = table.get("feed_flow"), table.get("feed_solids")
    read = flow * WATER * solids
    share = float(np.hypot(signal("feed_flow").relative, signal("feed_solids").relative))
    known = np.isfinite(balance.solids_load)
    return (
        np.where(known, balance.solids_load, read),
        np.where(known, balance.solids_load_spread, share * read),
    )


def _dose(
    table: ShiftTable, balance: BalanceTable, load: FloatArray
) -> tuple[FloatArray, FloatArray]:
    active = table.get("polymer_flow") * WATER * table.get("polymer_strength")
    read = _ratio(active, load)
    keys = ("feed_flow", "feed_solids", "polymer_flow", "polymer_strength")
    share = float(np.sqrt(sum(signal(key).relative ** 2 for key in keys)))
    known = np.isfinite(balance.dose)
    return (
        np.where(known, balance.dose, read),
        np.where(known, balance.dose_spread, share * read),
    )


def indicators(table: ShiftTable, balance: BalanceTable, prices: Prices) -> Mapping[str, Indicator]:
    """All indicators per shift, by house name; cost and carbon only where anything is priced."""
    run = table.run_time > 0
    feed, feed_u = _or_read(table, balance, "feed_flow")
    cake, cake_u = _or_read(table, balance, "cake_solids")
    load, load_u = _load(table, balance)
    dose, dose_u = _dose(table, balance, load)
    power = table.get("drive_power")
    wash = table.get("wash_flow")
    energy, water = _ratio(power, load), _ratio(wash, load)
    share = _ratio(load_u, load)
    wet = _ratio(balance.column("cake_flow"), load)
    returned = 1.0 - balance.capture
    cost = (
        prices.polymer * dose
        + prices.power * _known(energy, prices.power)
        + prices.water * _known(water, prices.water)
        + prices.cake * wet
        + prices.filtrate * returned
    )
    carbon = (
        prices.carbon_polymer * dose
        + prices.carbon_power * _known(energy, prices.carbon_power)
        + prices.carbon_cake * wet
    )
    doubt = wet * _ratio(cake_u, cake)
    cost_u = np.hypot(prices.polymer * dose_u, prices.cake * doubt)
    solids = _cover(table, "feed_flow", "feed_solids")

    fed = _cover(table, "feed_flow", "feed_solids", "filtrate_solids")
    dosed = _cover(table, "feed_flow", "feed_solids", "polymer_flow")
    powered = np.minimum(solids, table.cover("drive_power"))
    washed = np.minimum(solids, table.cover("wash_flow"))
    rows = {
        "dry_solids_flow": (load, load_u, solids),
        "volume_flow": (feed, feed_u, _cover(table, "feed_flow")),
        "cake_solids": (cake, cake_u, _cover(table, "cake_solids")),
        "capture": (balance.capture, balance.capture_spread, fed),
        "polymer_dose": (dose, dose_u, dosed),
        "specific_energy": (energy, np.abs(energy) * share, powered),
        "wash_water_specific": (water, np.abs(water) * np.hypot(share, 0.03), washed),
        "cost_specific": (cost, cost_u, solids),
        "carbon_specific": (carbon, np.abs(carbon) * share, solids),
    }
    found = {
        name: Indicator(name, np.where(run, value, np.nan), np.where(run, spread, np.nan), cover)
        for name, (value, spread, cover) in rows.items()
    }
    seen = _ratio(table.seen_time, table.span)
    if len(prices.left_out) == len(PARTS):
        del found["cost_specific"]
    if len(prices.carbon_left_out) == len(CARBON_PARTS):
        del found["carbon_specific"]
    hours = _ratio(table.run_time, table.span)
    nothing = np.zeros(table.size)
    found["run_hours_per_day"] = Indicator("run_hours_per_day", hours, nothing, seen)
    return found


def _known(value: FloatArray, price: float) -> FloatArray:
    """A part without a price does not spoil the sum for want of a reading."""
    return value if price else np.zeros(value.shape)


def _independent(value: FloatArray) -> float:
    """How many independent shifts a period holds."""
    if value.size < 8 or np.ptp(value) == 0:
        return float(value.size)
    centred = value - value.mean()
    lag = float(centred[1:] @ centred[:-1]) / float(centred @ centred) + 1 / value.size
    lag = min(max(lag, 0.0), 0.95)
    return max(value.size * (1 - lag) / (1 + lag), 1.0)


def period_indicators(
    found: Mapping[str, Indicator], table: ShiftTable, rows: BoolArray
) -> Mapping[str, Against]:
    """Each indicator over the shifts in ``rows``, weighted by solids or by time.

    The spread joins the scatter between shifts (neighbours count as alike) and the common part
    of the instruments' uncertainty, which does not average out.
    """
    flow = found["dry_solids_flow"].value
    known = bool(np.isfinite(flow[rows]).any())
    load = (np.nan_to_num(flow) if known else 1.0) * table.run_time  # by time if load is unknown
    result = {}
    for name, one in found.items():
        timed = name in ("run_hours_per_day", "dry_solids_flow", "volume_flow")
        weight = table.span if name == "run_hours_per_day" else table.run_time if timed else load
        good = rows & np.isfinite(one.value) & (weight > 0)
        count = int(good.sum())
        covered = _covered(one, table, rows)
        if not count:
            continue
        value, share = one.value[good], weight[good] / weight[good].sum()
        mean = float(share @ value)
        scatter = float(np.sqrt(share @ (value - mean) ** 2 / max(_independent(value) - 1, 1)))
        common = float(share @ one.spread[good])
        spread = float(np.hypot(scatter, common))
        result[name] = Against(name, mean, spread, float("nan"), float("nan"), covered, count)
    return result


def _covered(one: Indicator, table: ShiftTable, rows: BoolArray) -> float:
    """Share with readings of the time that the plant itself ran; of all time for its hours."""
    time = table.span if one.name == "run_hours_per_day" else table.run_time
    total = float(time[rows].sum())
    return float((one.coverage[rows] * time[rows]).sum()) / total if total > 0 else 0.0


def against_promise(period: Mapping[str, Against], promise: Promise) -> tuple[Against, ...]:
    """Indicators that were promised, with the chance that the promise is being kept.

    Raises
    ------
    DataError
        If nothing promised can be said from the log.
    """
    found = []
    for name, promised in promise.values.items():
        if name not in period:
            continue
        one = period[name]
        off = promise.better(name) * (one.value - promised)
        chance = float(special.ndtr(off / one.spread)) if one.spread > 0 else float(off >= 0)
        found.append(
            Against(name, one.value, one.spread, promised, chance, one.coverage, one.shifts)
        )
    if promise.values and not found:
        fault = Fault("promise", ", ".join(promise.values), "an indicator the log can give",
                      "map the readings it needs")  # fmt: skip
        raise DataError("promise", [fault])
    return tuple(found)


def availability(table: ShiftTable, rows: BoolArray, planned: float) -> float:
    """Hours run per hours planned (both in the period), at most 1.

    ``planned`` is the share of the period the machine was called to run.
    """
    span = float(table.span[rows].sum())
    return min(float(table.run_time[rows].sum()) / (span * planned), 1.0) if span * planned else 0.0
