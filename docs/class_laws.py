"""Laws of the sludge classes from all evidence at once: bands of parameters, trials of machines.

`python docs/class_laws.py` writes `src/cakewright/sludge/data/class_laws.toml` and, with each
source left out in turn, `benchmarks/results/left_out.csv`; minutes on many processors. Run it again
when a path, its priors, the class bands or the trials change. Method and result:
`docs/theory/sludge.md`.

Laws and machines are drawn from their bands and pressed; per kind and class the log-odds of the
cake are a line in the scores of law and machine. All laws and what is common to the machines of a
kind are then one normal distribution, updated by every trial at once, each with its error and with
the fact that a machine ran there. Half of a machine parameter's variance is common to its kind.
"""

from __future__ import annotations

import csv
import sys
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path

import numpy as np
from scipy.special import ndtri

from cakewright.machines.belt.path import BeltGeometry, BeltOperation, BeltParameters, belt_path
from cakewright.machines.decanter.path import (
    DecanterGeometry,
    DecanterOperation,
    DecanterParameters,
    decanter_path,
    slowest_scroll,
)
from cakewright.machines.interface import Kind
from cakewright.machines.plates.path import (
    ChamberGeometry,
    ChamberOperation,
    ChamberParameters,
    chamber_path,
)
from cakewright.machines.press_priors import judged_priors
from cakewright.machines.pressing_path import PressedSludge, PressLoad
from cakewright.machines.registry import data_of
from cakewright.machines.screw.path import (
    ScrewGeometry,
    ScrewOperation,
    ScrewParameters,
    screw_path,
)
from cakewright.machines.screw.root import Resolution
from cakewright.quantities import FloatArray
from cakewright.quantities.constants import NORMAL_90
from cakewright.reference import performance_band, sludge_classes
from cakewright.reference.performance import performance_rows
from cakewright.reference.rows import RowKind
from cakewright.sludge.law import LAW_PARAMETERS
from cakewright.sludge.law_prior import prior_of_class

TARGET = Path(__file__).parents[1] / "src" / "cakewright" / "sludge" / "data" / "class_laws.toml"
KEPT = Path(__file__).parents[1] / "benchmarks" / "results" / "left_out.csv"
COLUMNS = ("kind", "sludge", "source", "found", "low", "median", "high", "answered")
DRAWS, SEED = 1200, 11
SITE = 0.20  # log-odds by which one site's cake and our guess of its settings differ
STRAY = 0.05  # share of draws without a cake that may have run at other settings
POOLED = 0.5  # share of a machine parameter's variance common to the kind (judgement)

SCREW = ScrewGeometry(0.2, 1.2, (0.09, 0.13), (0.16, 0.08))
BELT = BeltGeometry(
    1.0,
    4.0,
    1.2,
    (0.5, 0.4, 0.3, 0.25, 0.2, 0.17, 0.15, 0.12, 0.1, 0.1),
    (0.9, 0.8, 0.6, 0.5, 0.4, 0.35, 0.3, 0.25, 0.2, 0.2),
    (0.3,) * 10,
)
BOWL = DecanterGeometry(0.34, 0.93, 0.075, 0.119)
# what the sources call a class
WORDS = {
    "ad": "ad_mixed",
    "ad_mesophilic": "ad_mixed",
    "ad_thermophilic": "ad_mixed",
    "was_thickened": "was",
    "primary_microsieve": "primary",
    "hydroxide": "metal_hydroxide",
    "oily_refinery": "oily_industrial",
}
RECORDS = {
    Kind.MULTI_DISC_SCREW_PRESS: ScrewParameters,
    Kind.SCREEN_DRUM_SCREW_PRESS: ScrewParameters,
    Kind.BELT_PRESS: BeltParameters,
    Kind.DECANTER: DecanterParameters,
    Kind.CHAMBER_PRESS: ChamberParameters,
    Kind.MEMBRANE_PRESS: ChamberParameters,
}


@dataclass(frozen=True, slots=True)
class Datum:
    """A cake found by one source on one kind: log-odds and its spread."""

    kind: Kind
    sludge: str
    source: str
    place: float
    spread: float


def _odds(share: float | FloatArray) -> FloatArray:
    return np.asarray(np.log(np.asarray(share) / (1.0 - np.asarray(share))))


def evidence() -> list[Datum]:
    """Published cakes of every kind without lime and iron, and the judged cake of the ring press.

    The old belt presses of P15 are left out (their build was not read).
    """
    found = []
    for row in performance_rows():
        name = WORDS.get(row.sludge, row.sludge)
        known = row.machine in {k.value for k in RECORDS} and name in sludge_classes()
        bare = not any(word in row.conditioning for word in ("lime", "iron", "aluminium"))
        if not known or row.quantity != "cake_ts" or row.kind is not RowKind.PUBLISHED:
            continue
        if not bare or row.row == "1a088" or not row.given:
            continue
        low, high = _odds(min(row.given)), _odds(max(row.given))
        spread = float(np.hypot((high - low) / (2 * NORMAL_90), SITE))
        place = float(0.5 * (low + high))
        found.append(Datum(Kind(row.machine), name, row.source, place, spread))
    for name in sludge_classes():
        band = performance_band("multi_disc_screw_press", name, "cake_ts")
        low, high = _odds(band.low), _odds(band.high)
        spread = float(np.hypot((high - low) / (2 * NORMAL_90), SITE))
        kind = Kind.MULTI_DISC_SCREW_PRESS
        found.append(Datum(kind, name, "JUDGEMENT", float(_odds(band.typical)), spread))
    return found


def machine_scores(kind: Kind, count: int) -> FloatArray:
    """Unit scores of a kind's parameters: the same draws for every class."""
    seed = SEED + 1 + list(RECORDS).index(kind)
    return np.random.default_rng(seed).standard_normal((count, len(judged_priors(kind))))


def cakes(kind: Kind, name: str, count: int) -> FloatArray:
    """Cake of every draw of law and machine at the kind's usual load; NaN where none stands."""
    rng = np.random.default_rng([SEED, list(sludge_classes()).index(name)])
    values = prior_of_class(name).at_normals(rng.standard_normal((count, len(LAW_PARAMETERS))))
    taken = {k: v for k, v in values.items() if k in PressedSludge.__dataclass_fields__}
    taken["creep_share"] = np.minimum(taken["creep_share"], 0.949)
    sludge, fines = PressedSludge(**taken), np.minimum(values["fines_share"], 0.9)
    scores, record = machine_scores(kind, count), RECORDS[kind]
    machine = record(
        **{n: p.at(scores[:, i]) for i, (n, p) in enumerate(judged_priors(kind).items())}
    )
    window = data_of(kind, "settings.toml")
    if record is ScrewParameters:
        plate = float(np.sqrt(window["back_pressure_low"] * window["back_pressure_high"]))
        load = PressLoad(10.5 / 3600.0, 0.025, fines)
        found = [
            screw_path(
                sludge,
                load,
                ScrewOperation(n / 60.0, plate, window["level"]),
                machine,
                SCREW,
                Resolution(16, 24, 4, 4),
            ).cake_solids
            for n in (1.5, 3.0, 5.0)
        ]
    elif kind is Kind.BELT_PRESS:
        load = PressLoad(225.0 / 3600.0, 0.025, fines)
        found = [
            belt_path(sludge, load, BeltOperation(speed, 8e3), machine, BELT).cake_solids
            for speed in window["belt_speeds"]
        ]
    elif kind is Kind.DECANTER:
        load = PressLoad(40.0 / 3600.0, 0.025, fines)
        turns = float(np.sqrt(3000.0 * 9.80665 / (0.5 * BOWL.bowl_diameter)) / (2.0 * np.pi))
        speeds = np.array(window["differential_speeds"])
        fastest = DecanterOperation(turns, speeds[-1])
        slow = slowest_scroll(sludge, load, fastest, machine, BOWL, speeds)
        operation = DecanterOperation(turns, slow)
        found = [decanter_path(sludge, load, operation, machine, BOWL).cake_solids]
    else:
        settings = {n: window[n] for n in ChamberOperation.__dataclass_fields__}
        chamber = ChamberGeometry(30.0, 0.03)
        load = PressLoad(1e-3, 0.025, fines)
        found = [
            chamber_path(sludge, load, ChamberOperation(**settings), machine, chamber).cake_solids
        ]
    return np.asarray(np.fmax.reduce(found))


def _cakes(task: tuple[Kind, str, int]) -> FloatArray:
    return cakes(*task)


def scores(name: str, count: int) -> FloatArray:
    """Unit scores of the laws of a class, as `cakes` takes them."""
    rng = np.random.default_rng([SEED, list(sludge_classes()).index(name)])
    return rng.standard_normal((count, len(LAW_PARAMETERS)))


def _columns(kind: Kind, name: str) -> tuple[slice, slice]:
    """Places of a class's law and of a kind's machine in the joint vector of scores."""
    law = len(LAW_PARAMETERS)
    first = law * list(sludge_classes()).index(name)
    base = law * len(sludge_classes())
    for other in RECORDS:
        wide = len(judged_priors(other))
        if other is kind:
            return slice(first, first + law), slice(base, base + wide)
        base += wide
    raise ValueError(kind)


def _size() -> int:
    machines = sum(len(judged_priors(kind)) for kind in RECORDS)
    return len(LAW_PARAMETERS) * len(sludge_classes()) + machines


@dataclass(frozen=True, slots=True)
class Fit:
    """Log-odds of the cake as a line in the scores, and where a cake stands at all."""

    middle: float
    law: FloatArray
    machine: FloatArray
    left: float
    stands: float
    towards_law: FloatArray
    towards_machine: FloatArray


def fitted(kind: Kind, name: str, cake: FloatArray) -> Fit:
    """Regression over the draws that give a cake, and the mean scores of those draws."""
    x, z = scores(name, cake.size), machine_scores(kind, cake.size)
    stands = np.isfinite(cake)
    odds = _odds(np.clip(cake[stands], 0.01, 0.9))
    rows = np.column_stack((np.ones(odds.size), x[stands], z[stands]))
    found, *_ = np.linalg.lstsq(rows, odds, rcond=None)
    law = x.shape[1]
    middle = float(np.median(odds - rows[:, 1:] @ found[1:]))
    return Fit(
        middle,
        np.asarray(found[1 : 1 + law], dtype=np.float64),
        np.asarray(found[1 + law :], dtype=np.float64),
        float(np.var(odds - rows @ found)),
        float(stands.mean()),
        x[stands].mean(axis=0),
        z[stands].mean(axis=0),
    )


def joint(data: list[Datum], fits: dict[tuple[Kind, str], Fit]) -> tuple[FloatArray, FloatArray]:
    """Mean and covariance of all scores, laws and what is common to the machines of a kind."""
    precision, shift = np.eye(_size()), np.zeros(_size())

    def told(row: FloatArray, value: float, variance: float) -> None:
        precision[...] += np.outer(row, row) / variance
        shift[...] += row * value / variance

    for one in data:
        fit = fits[one.kind, one.sludge]
        row = np.zeros(_size())
        law, machine = _columns(one.kind, one.sludge)
        row[law], row[machine] = fit.law, np.sqrt(POOLED) * fit.machine
        own = (1.0 - POOLED) * float(fit.machine @ fit.machine)
        told(row, one.place - fit.middle, one.spread**2 + own + fit.left)
    for kind, name in sorted({(o.kind, o.sludge) for o in data if o.source != "JUDGEMENT"}):
        _ran(fits[kind, name], _columns(kind, name), told)
    covariance = np.asarray(np.linalg.inv(precision), dtype=np.float64)
    return covariance @ shift, covariance


def _ran(fit: Fit, places: tuple[slice, slice], told: Callable[..., None]) -> None:
    """A machine ran there: scores that give a cake are likelier, as if cut off along a line."""
    way = np.concatenate([fit.towards_law, fit.towards_machine])
    share = min(fit.stands + STRAY, 0.999)
    if fit.stands > 0.97:
        return
    cut = float(ndtri(1.0 - share))
    mean = float(np.exp(-0.5 * cut**2) / np.sqrt(2.0 * np.pi) / share)
    variance = max(1.0 + cut * mean - mean**2, 0.05)
    row, unit = np.zeros(_size()), way / np.linalg.norm(way)
    law = fit.towards_law.size
    row[places[0]], row[places[1]] = unit[:law], np.sqrt(POOLED) * unit[law:]
    own = (1.0 - POOLED) * float(unit[law:] @ unit[law:])
    gain = 1.0 / variance - 1.0
    told(row, mean / variance / gain, 1.0 / gain + own)


def foretold(one: Datum, fit: Fit, mean: FloatArray, covariance: FloatArray) -> tuple[float, float]:
    """Log-odds of a datum's cake and their spread, from all that went into the joint."""
    row = np.zeros(_size())
    law, machine = _columns(one.kind, one.sludge)
    row[law], row[machine] = fit.law, np.sqrt(POOLED) * fit.machine
    own = (1.0 - POOLED) * float(fit.machine @ fit.machine)
    variance = float(row @ covariance @ row) + own + fit.left + one.spread**2
    return fit.middle + float(row @ mean), float(np.sqrt(variance))


def left_out(data: list[Datum], fits: dict[tuple[Kind, str], Fit]) -> list[dict[str, str]]:
    """Each published cake beside the 80 % band that all other sources foretell of it."""
    found = []
    for source in sorted({one.source for one in data} - {"JUDGEMENT"}):
        mean, covariance = joint([one for one in data if one.source != source], fits)
        for one in (one for one in data if one.source == source):
            fit = fits[one.kind, one.sludge]
            middle, spread = foretold(one, fit, mean, covariance)
            band = (_percent(middle + k * spread) for k in (-NORMAL_90, 0.0, NORMAL_90))
            words = (one.kind.value, one.sludge, source)
            numbers = (f"{v:.2f}" for v in (_percent(one.place), *band, 100.0 * fit.stands))
            found.append(dict(zip(COLUMNS, (*words, *numbers), strict=True)))
    return found


def kept(rows: list[dict[str, str]]) -> None:
    """Keep the cakes left out for the proof page; say how many lie in their bands."""
    with KEPT.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, COLUMNS, lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
    inside = [float(r["low"]) <= float(r["found"]) <= float(r["high"]) for r in rows]
    print("left out: inside", sum(inside), "of", len(inside))


def machine_rows(mean: FloatArray, covariance: FloatArray) -> list[str]:
    """New 10, 50 and 90 % points of the machines' parameters, site to site included."""
    lines = []
    for kind in RECORDS:
        _, place = _columns(kind, "was")
        for i, key in enumerate(judged_priors(kind)):
            at = place.start + i
            middle = np.sqrt(POOLED) * mean[at]
            spread = np.sqrt(POOLED * covariance[at, at] + 1.0 - POOLED)
            if abs(middle) > 0.1:
                prior = judged_priors(kind)[key]
                ends = [float(prior.at(middle + k * spread)) for k in (-NORMAL_90, 0.0, NORMAL_90)]
                lines.append(f"{kind.value} {key} " + " ".join(f"{e:.3g}" for e in ends))
    return lines


def _percent(odds: float) -> float:
    return float(100.0 / (1.0 + np.exp(-odds)))


def text(mean: FloatArray, covariance: FloatArray) -> str:
    """The whole file."""
    lines = [
        "# Laws of the classes after all trials of machines: shift and covariance of each class's",
        "# parameters in standard deviations of its own bands, in the order of LAW_PARAMETERS.",
        "# Written by docs/class_laws.py from published and judged cakes and our own physics.",
    ]
    for name in sludge_classes():
        law, _ = _columns(Kind.DECANTER, name)
        lines += ["", f"[{name}]", f"shift = [{', '.join(f'{m:.3f}' for m in mean[law])}]"]
        rows = (f"  [{', '.join(f'{c:.3f}' for c in row)}]," for row in covariance[law, law])
        lines += ["covariance = [", *rows, "]"]
    return "\n".join(lines) + "\n"


def main(count: int, processes: int) -> None:
    """Draw, fit, join, write, and say how well the others foretell each source."""
    data = evidence()
    pairs = sorted({(one.kind, one.sludge) for one in data})
    tasks = [(kind, name, count) for kind, name in pairs]
    with ProcessPoolExecutor(processes, mp_context=get_context("spawn")) as pool:
        found = dict(zip(pairs, pool.map(_cakes, tasks, chunksize=6), strict=True))
    told(data, {pair: fitted(*pair, cake) for pair, cake in found.items()})


def told(data: list[Datum], fits: dict[tuple[Kind, str], Fit]) -> None:
    """Write both files; print the parity table and the machines."""
    mean, covariance = joint(data, fits)
    TARGET.write_text(text(mean, covariance), encoding="utf-8")
    nothing, plain = np.zeros(_size()), np.eye(_size())
    print("kind, class, source, found, before, after [%], share of draws with a cake")
    for one in data:
        fit = fits[one.kind, one.sludge]
        before, after = foretold(one, fit, nothing, plain), foretold(one, fit, mean, covariance)
        cakes_found = (_percent(x) for x in (one.place, before[0], after[0]))
        words = ", ".join(f"{x:.1f}" for x in cakes_found)
        print(f"{one.kind.value}, {one.sludge}, {one.source}, {words}, {fit.stands:.2f}")
    print("\n".join(machine_rows(mean, covariance)))
    for kind in RECORDS:
        mine = [o for o in data if o.kind is kind and o.source != "JUDGEMENT"]
        for m, c, when in ((nothing, plain, "before"), (mean, covariance, "after")):
            misses = [foretold(o, fits[o.kind, o.sludge], m, c)[0] - o.place for o in mine]
            if misses:
                print(kind.value, when, f"middle ratio of odds {np.exp(np.median(misses)):.2f}")
    kept(left_out(data, fits))


if __name__ == "__main__":
    main(
        int(sys.argv[1]) if len(sys.argv) > 1 else DRAWS,
        int(sys.argv[2]) if len(sys.argv) > 2 else 2,
    )
