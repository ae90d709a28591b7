"""Performance of a kind of machine from the published envelope, blended over the feed's classes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from statistics import NormalDist
from typing import Any

import numpy as np

from cakewright.errors import OutOfRangeError
from cakewright.machines.interface import Duty, Floats, Kind, Performance
from cakewright.machines.registry import data_of
from cakewright.quantities import Basis, Figure, FloatArray, Mark, weakest
from cakewright.reference import PerformanceBand, performance_band
from cakewright.sludge import Feed

__all__ = ["NAMES", "envelope", "split_normal"]

_Z90 = NormalDist().inv_cdf(0.9)
_BANDS = {
    "cake_solids": "cake_ts",
    "capture": "capture",
    "polymer_dose": "polymer_active",
    "specific_energy": "specific_energy",
    "wash_water_specific": "washwater",
}
NAMES = (*_BANDS, "sound_level", "attention_per_day")
_CEILING = {"cake_solids": 0.95, "capture": 0.9995}
_MARKS = (Mark.NONE, Mark.JUDGEMENT, Mark.INVENTED, Mark.FROM_MEMORY)


def split_normal(low: float, typical: float, high: float, quantile: Floats) -> FloatArray:
    """Value at a quantile when low, typical and high are the 10, 50 and 90 % points.

    A half of a normal curve on each side; cut where each half-width has been passed twice, because
    nothing is published beyond, and never below a third of ``low``. Quantile 0.5 gives ``typical``.

    Raises
    ------
    OutOfRangeError
        If the three are not in order, or a quantile is not between 0 and 1.
    """
    if not 0.0 <= low <= typical <= high:
        raise OutOfRangeError(
            f"band: got {low:g}, {typical:g}, {high:g}; allowed: 0 <= low <= typical <= high"
        )
    q = np.asarray(quantile, dtype=float)
    if not ((q > 0.0) & (q < 1.0)).all():
        raise OutOfRangeError("band: quantile: allowed: between 0 and 1, ends left out")
    from scipy.special import ndtri

    z = np.clip(ndtri(q) / _Z90, -2.0, 2.0)
    value = typical + z * np.where(z < 0.0, typical - low, high - typical)
    return np.maximum(value, low / 3.0)


def envelope(
    kind: Kind,
    feed: Feed,
    duty: Duty,
    quantile: Floats | Mapping[str, Floats],
    names: Sequence[str] = NAMES,
    conditioning: str = "polymer",
) -> Performance:
    """The figures ``names`` of one kind on this feed, all of them when left out.

    ``quantile`` is one array for all figures or one per figure name (missing: typical).
    ``conditioning`` is the word of the tables that decides which cakes answer.
    """
    figures = [_figure(kind, feed, duty, name, _at(quantile, name), conditioning) for name in names]
    return Performance(kind, {figure.name: figure for figure in figures})


def _figure(
    kind: Kind, feed: Feed, duty: Duty, name: str, quantile: Floats, conditioning: str
) -> Figure:
    if name == "sound_level":
        return _sound(kind, feed, quantile)
    if name == "attention_per_day":
        return _attention(kind, feed, duty, quantile)
    return _blended(kind, feed, name, quantile, conditioning)


def _at(quantile: Floats | Mapping[str, Floats], name: str) -> Floats:
    if isinstance(quantile, Mapping):
        return quantile.get(name, 0.5)
    return quantile


def _blended(kind: Kind, feed: Feed, name: str, quantile: Floats, conditioning: str) -> Figure:
    bands = {key: _band(kind, key, _BANDS[name], conditioning) for key in feed.shares}
    total: Any = 0.0
    for key, share in feed.shares.items():
        value = _sampled(kind, feed, name, bands[key], quantile)
        # Cake is blended by water per dry mass: each part keeps its own water.
        total = total + share * ((1.0 / value - 1.0) if name == "cake_solids" else value)
    samples = 1.0 / (1.0 + total) if name == "cake_solids" else np.asarray(total)
    return Figure(
        name=name,
        samples=np.atleast_1d(samples),
        basis=weakest(band.basis for band in bands.values()),
        mark=max((band.mark for band in bands.values()), key=_MARKS.index),
        source=_sources(bands.values()),
        note=_note(bands),
    )


def _band(kind: Kind, key: str, quantity: str, conditioning: str = "polymer") -> PerformanceBand:
    """What is published of a kind; one that no publication knows yet brings its own figures."""
    own = data_of(kind, "bands.toml").get(quantity)
    if own is None:
        return performance_band(kind.value, key, quantity, conditioning=conditioning)
    low, typical, high = (float(value) for value in own["values"])
    return PerformanceBand(
        machine=kind.value,
        sludge_class=key,
        quantity=quantity,
        low=low,
        typical=typical,
        high=high,
        unit=own["unit"],
        basis=Basis(own["basis"]),
        mark=Mark(own["mark"]),
        source=own["source"],
        note=own["note"],
        rows=(),
    )


def _sampled(
    kind: Kind, feed: Feed, name: str, band: PerformanceBand, quantile: Floats
) -> FloatArray:
    low, typical, high = band.low, band.typical, band.high
    own = data_of(kind, "kind.toml")
    if name == "specific_energy" and own.get("energy_per_volume"):
        volume = _band(kind, band.sludge_class, "specific_energy_vol")
        per_volume = split_normal(volume.low, volume.typical, volume.high, quantile)
        per_volume = np.maximum(per_volume, volume.low / 3.0)
        return np.asarray(per_volume / (feed.mix.total_solids * feed.mix.density))
    value = split_normal(low, typical, high, quantile)
    warmth = own.get("warmth", {})
    if name == "cake_solids" and band.sludge_class == warmth.get("class"):
        above = np.clip(feed.mix.temperature, warmth["low"], warmth["high"]) - warmth["low"]
        value = value + warmth["cake_per_kelvin"] * above
    return np.asarray(np.minimum(value, _CEILING.get(name, np.inf)))


def _sources(bands: Any) -> str:
    ids = [part for band in bands for part in (band.source, *_based_on(band))]
    return " ".join(dict.fromkeys(part for text in ids for part in text.split()))


def _based_on(band: PerformanceBand) -> tuple[str, ...]:
    return tuple(source for row in band.rows for source in row.based_on)


def _note(bands: Mapping[str, PerformanceBand]) -> str:
    notes = [f"{key}: {band.note}" if len(bands) > 1 else band.note for key, band in bands.items()]
    return "; ".join(note for note in dict.fromkeys(notes) if note)


def _sound(kind: Kind, feed: Feed, quantile: Floats) -> Figure:
    row = data_of(kind, "kind.toml")["attendance"]
    return _judged("sound_level", _spread(row["sound"], quantile), feed, row["sources"])


def _attention(kind: Kind, feed: Feed, duty: Duty, quantile: Floats) -> Figure:
    row = data_of(kind, "kind.toml")["attendance"]
    run = _spread(row["attend_run"], quantile) * np.asarray(duty.hours_per_day, float)
    day = _spread(row["attend_day_h"], quantile) / 24.0
    note = "operator time per operating day: watching while it runs, and start, stop and rinse"
    return _judged("attention_per_day", run + day, feed, row["sources"], note)


def _spread(row: Sequence[float], quantile: Floats) -> FloatArray:
    low, typical, high = row
    return split_normal(low, typical, high, quantile)


def _judged(name: str, samples: FloatArray, feed: Feed, sources: str, note: str = "") -> Figure:
    wide = np.atleast_1d(samples)
    if wide.shape != feed.mix.total_solids.shape:
        wide = np.broadcast_arrays(wide, feed.mix.total_solids)[0]
    return Figure(name, wide, Basis.ASSUMED, Mark.JUDGEMENT, sources, note)
