"""Performance of a kind of machine from the published envelope, blended over the feed's classes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from cakewright.machines.interface import Duty, Floats, Kind, Part, Performance
from cakewright.machines.quantiles import split_normal
from cakewright.machines.registry import data_of
from cakewright.machines.trends import FIGURES, Move, moves, strays, told, worked
from cakewright.quantities import Basis, Figure, FloatArray, Mark, weakest
from cakewright.reference import PerformanceBand, performance_band
from cakewright.sludge import Feed

__all__ = ["CEILING", "NAMES", "envelope"]

_BANDS = {
    "cake_solids": "cake_ts",
    "capture": "capture",
    "polymer_dose": "polymer_active",
    "specific_energy": "specific_energy",
    "wash_water_specific": "washwater",
}
NAMES = (*_BANDS, "sound_level", "attention_per_day")
CEILING: Mapping[str, float] = {"cake_solids": 0.95, "capture": 0.9995}
"""No band reaches higher."""
_MARKS = (Mark.NONE, Mark.JUDGEMENT, Mark.INVENTED, Mark.FROM_MEMORY)


def envelope(
    kind: Kind,
    feed: Feed,
    duty: Duty,
    quantile: Floats | Mapping[str, Floats],
    names: Sequence[str] = NAMES,
    conditioning: str = "polymer",
    dose: Floats | None = None,
    supplied: Floats | None = None,
) -> Performance:
    """The figures ``names`` of one kind on this feed, all of them when left out.

    ``quantile`` is one array for all figures or one per figure name (missing: typical); the sizes
    of trends are typical unless it names a lever. ``conditioning`` is the word of the tables that
    decides which cakes answer; ``dose`` the polymer given, which is held against the need, or
    ``supplied`` the share of the need where another conditioner takes its place.
    """
    made = [_figure(kind, feed, duty, name, _at(quantile, name), conditioning) for name in names]
    figures = {figure.name: figure for figure, _ in made}
    parts = {figure.name: given for figure, given in made if given}
    plain = Performance(kind, figures, parts=parts)
    return _moved(plain, feed, quantile if isinstance(quantile, Mapping) else {}, dose, supplied)


def _moved(
    plain: Performance,
    feed: Feed,
    quantile: Mapping[str, Floats],
    dose: Floats | None,
    ratio: Floats | None,
) -> Performance:
    """The figures of the bands moved by what is known of this feed and dose."""
    kind, figures = plain.machine, dict(plain.figures)
    every: dict[str, tuple[Move, ...]] = {}
    open_: dict[str, tuple[str, ...]] = {}
    throughput: Any = np.ones(feed.mix.size)
    for name in FIGURES:
        if name != "throughput" and name not in figures:
            continue
        found = moves(kind, feed, name, quantile, ratio)
        strayed = strays(kind, feed, name, ratio)
        every[name], open_[name] = worked(found), strayed
        if name == "throughput":
            for move in found:
                throughput = move.trend.moved(throughput, move.effect)
            continue
        figures[name] = _told(figures[name], found, strayed)
        if name == "polymer_dose" and dose is not None:
            ratio = np.asarray(dose / np.maximum(figures[name].samples, _LEAST_NEED))
    return replace(plain, figures=figures, moves=every, unmoved=open_, throughput=throughput)


def _told(figure: Figure, found: Sequence[Move], strayed: Sequence[str]) -> Figure:
    samples = figure.samples
    for move in found:
        samples = move.trend.moved(samples, move.effect)
    samples = np.clip(samples, 0.0, CEILING.get(figure.name, np.inf))
    rows = [move.trend for move in worked(found)]
    mark = max((figure.mark, *(row.mark for row in rows)), key=_MARKS.index)
    source = " ".join(dict.fromkeys(f"{figure.source} {' '.join(r.source for r in rows)}".split()))
    note = (*told("the published band", found, strayed), *((figure.note,) if figure.note else ()))
    basis = weakest((figure.basis, Basis.ASSUMED)) if rows and mark else figure.basis
    text = "; ".join(note)
    return replace(figure, samples=samples, basis=basis, mark=mark, source=source, note=text)


_LEAST_NEED = 1e-6  # kg/kg: a sludge that needs no polymer cannot be starved of it


def _figure(
    kind: Kind, feed: Feed, duty: Duty, name: str, quantile: Floats, conditioning: str
) -> tuple[Figure, tuple[Part, ...]]:
    if name == "sound_level":
        return _sound(kind, feed, quantile), ()
    if name == "attention_per_day":
        return _attention(kind, feed, duty, quantile), ()
    return _blended(kind, feed, name, quantile, conditioning)


def _at(quantile: Floats | Mapping[str, Floats], name: str) -> Floats:
    if isinstance(quantile, Mapping):
        return quantile.get(name, 0.5)
    return quantile


def _blended(
    kind: Kind, feed: Feed, name: str, quantile: Floats, conditioning: str
) -> tuple[Figure, tuple[Part, ...]]:
    bands = {key: _band(kind, key, _BANDS[name], conditioning) for key in feed.shares}
    total: Any = 0.0
    parts = []
    for key, share in feed.shares.items():
        value = _sampled(kind, feed, name, bands[key], quantile)
        parts.append(Part(key, share, np.atleast_1d(value)))
        # Cake is blended by water per dry mass: each part keeps its own water.
        total = total + share * ((1.0 / value - 1.0) if name == "cake_solids" else value)
    samples = 1.0 / (1.0 + total) if name == "cake_solids" else np.asarray(total)
    figure = Figure(
        name=name,
        samples=np.atleast_1d(samples),
        basis=weakest(band.basis for band in bands.values()),
        mark=max((band.mark for band in bands.values()), key=_MARKS.index),
        source=_sources(bands.values()),
        note=_note(bands),
    )
    return figure, tuple(parts)


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
    return np.asarray(np.minimum(value, CEILING.get(name, np.inf)))


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
