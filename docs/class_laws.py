"""Laws of the sludge classes from all evidence at once: bands of the parameters, trials of machines.

`python docs/class_laws.py` writes `src/cakewright/sludge/data/class_laws.toml`; minutes on many
processors. Run it again when a path, its priors, the class bands or the trials change. Method and
result: `docs/theory/sludge.md`.

Laws and machines are drawn from their bands; a draw weighs as much as it makes the cakes the trials
of its class found, each with its error and with the fact that a machine ran there. What a class
says of a machine's parameters passes to the other classes, half of it (a machine differs from site
to site as well), in a few rounds until it settles (expectation propagation).
"""

from __future__ import annotations

import sys
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import numpy as np

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
from cakewright.machines.press_priors import parameter_priors
from cakewright.machines.pressing_path import PressedSludge, PressLoad
from cakewright.machines.registry import data_of
from cakewright.machines.screw.path import (
    ScrewGeometry,
    ScrewOperation,
    ScrewParameters,
    screw_path,
)
from cakewright.quantities import FloatArray
from cakewright.reference import performance_band, sludge_classes
from cakewright.reference.performance import performance_rows
from cakewright.reference.rows import RowKind
from cakewright.sludge.law import LAW_PARAMETERS
from cakewright.sludge.law_prior import prior_of_class

TARGET = Path(__file__).parents[1] / "src" / "cakewright" / "sludge" / "data" / "class_laws.toml"
DRAWS, SEED, ROUNDS = 4000, 11, 4
SITE = 0.20  # log-odds by which one site's cake and our guess of its settings differ
STRAY = 0.05  # weight of a draw without a cake where a machine ran: settings are not known
POOLED = 0.5  # share of a machine parameter's variance common to the kind (judgement)
DIRECTION = 0.85  # variance left, over the prior's, below which a direction counts as known
TENTH = 1.2815515655446004

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
        spread = float(np.hypot((high - low) / (2 * TENTH), SITE))
        place = float(0.5 * (low + high))
        found.append(Datum(Kind(row.machine), name, row.source, place, spread))
    for name in sludge_classes():
        band = performance_band("multi_disc_screw_press", name, "cake_ts")
        low, high = _odds(band.low), _odds(band.high)
        spread = float(np.hypot((high - low) / (2 * TENTH), SITE))
        kind = Kind.MULTI_DISC_SCREW_PRESS
        found.append(Datum(kind, name, "JUDGEMENT", float(_odds(band.typical)), spread))
    return found


def machine_scores(kind: Kind, count: int) -> FloatArray:
    """Unit scores of a kind's parameters: the same draws for every class."""
    seed = SEED + 1 + list(RECORDS).index(kind)
    return np.random.default_rng(seed).standard_normal((count, len(parameter_priors(kind))))


def cakes(kind: Kind, name: str, count: int) -> FloatArray:
    """Cake of every draw of law and machine at the kind's usual load; NaN where none stands."""
    rng = np.random.default_rng([SEED, list(sludge_classes()).index(name)])
    values = prior_of_class(name).at_normals(rng.standard_normal((count, len(LAW_PARAMETERS))))
    taken = {k: v for k, v in values.items() if k in PressedSludge.__dataclass_fields__}
    taken["creep_share"] = np.minimum(taken["creep_share"], 0.949)
    sludge, fines = PressedSludge(**taken), np.minimum(values["fines_share"], 0.9)
    scores, record = machine_scores(kind, count), RECORDS[kind]
    machine = record(
        **{n: p.at(scores[:, i]) for i, (n, p) in enumerate(parameter_priors(kind).items())}
    )
    window = data_of(kind, "settings.toml")
    if record is ScrewParameters:
        plate = float(np.sqrt(window["back_pressure_low"] * window["back_pressure_high"]))
        load = PressLoad(10.5 / 3600.0, 0.025, fines)
        found = [
            screw_path(
                sludge, load, ScrewOperation(n / 60.0, plate, window["level"]), machine, SCREW
            ).cake_solids
            for n in (1.0, 2.0, 3.0, 4.0, 5.0)
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


def log_likelihood(data: list[Datum], found: dict[tuple[Kind, str], FloatArray]) -> FloatArray:
    """Of every draw, over the data of one class."""
    total = np.zeros(next(iter(found.values())).size)
    for one in data:
        cake = found[one.kind, one.sludge]
        with np.errstate(invalid="ignore"):
            miss = (_odds(np.clip(cake, 1e-4, 0.97)) - one.place) / one.spread
        dense = np.where(np.isfinite(cake), np.exp(-0.5 * np.nan_to_num(miss) ** 2), STRAY)
        total += np.log((1.0 - 0.02) * dense + 0.02 * STRAY)
    return total


def joint(
    data: list[Datum], found: dict[tuple[Kind, str], FloatArray], count: int
) -> tuple[dict[str, FloatArray], dict[Kind, tuple[FloatArray, FloatArray]]]:
    """Weights of the draws per class, and what all say of each kind's parameters (mean, variance)."""
    names = sorted({one.sludge for one in data})
    mine = {name: [one for one in data if one.sludge == name] for name in names}
    base = {name: log_likelihood(mine[name], found) for name in names}
    drawn = {kind: machine_scores(kind, count) for kind in RECORDS}
    nothing = {k: (np.zeros(z.shape[1]), np.zeros(z.shape[1])) for k, z in drawn.items()}
    says = {name: dict(nothing) for name in names}  # precision and shift per class and kind
    weights: dict[str, FloatArray] = {}
    for _ in range(ROUNDS):
        for name in names:
            kinds = {one.kind for one in mine[name]}
            log_weight = base[name].copy()
            cavity = {}
            for kind in kinds:
                others = [says[other][kind] for other in names if other != name]
                precision = 1.0 + POOLED * sum(o[0] for o in others)
                mean = POOLED * sum(o[1] for o in others) / precision
                cavity[kind] = precision, mean
                z = drawn[kind]
                log_weight += np.sum(0.5 * z**2 - 0.5 * precision * (z - mean) ** 2, axis=1)
            weight = np.exp(log_weight - log_weight.max())
            weights[name] = weight / weight.sum()
            size = 1.0 / np.sum(weights[name] ** 2)
            for kind in kinds:
                precision, mean = cavity[kind]
                middle = weights[name] @ drawn[kind]
                spread = weights[name] @ (drawn[kind] - middle) ** 2
                spread = np.maximum(spread * size / max(size - 1.0, 1.0), 1e-3)
                more = np.clip(1.0 / spread - precision, 0.0, 20.0)
                shift = middle * (precision + more) - mean * precision
                old = says[name][kind]
                says[name][kind] = (0.5 * (old[0] + more), 0.5 * (old[1] + shift))
    machines = {}
    for kind in RECORDS:
        precision = 1.0 + POOLED * sum(says[n][kind][0] for n in names)
        machines[kind] = (
            POOLED * sum(says[n][kind][1] for n in names) / precision,
            1.0 / precision,
        )
    return weights, machines


def summary(name: str, weight: FloatArray) -> tuple[FloatArray, FloatArray, float]:
    """Mean and covariance of a class's scores, and the effective number of draws behind them.

    Only directions in which the evidence leaves less than `DIRECTION` of the variance are changed;
    a mean within two of its errors of the prior's is the prior's.
    """
    x = scores(name, weight.size)
    size = float(1.0 / np.sum(weight**2))
    mean = weight @ x
    spread = (x - mean).T @ ((x - mean) * weight[:, None]) * size / max(size - 1.0, 1.0)
    values, vectors = np.linalg.eigh(spread)
    known = values < DIRECTION
    covariance = np.eye(x.shape[1])
    for value, vector in zip(values[known], vectors.T[known], strict=True):
        covariance -= (1.0 - max(value, 0.02)) * np.outer(vector, vector)
    return np.where(np.abs(mean) > 2.0 / np.sqrt(size), mean, 0.0), covariance, size


def _inside(one: Datum, cake: FloatArray, weight: FloatArray) -> bool:
    """Whether the middle of a datum lies in the 80 % band of weighted draws, its error added."""
    stands = np.isfinite(cake)
    odds = _odds(np.clip(cake[stands], 1e-4, 0.97))
    share = weight[stands] / weight[stands].sum()
    noise = np.random.default_rng(5).standard_normal(odds.size) * one.spread
    order = np.argsort(odds + noise)
    low, high = np.interp((0.1, 0.9), np.cumsum(share[order]), (odds + noise)[order])
    return bool(low <= one.place <= high)


def left_out(
    data: list[Datum], found: dict[tuple[Kind, str], FloatArray], count: int
) -> list[tuple[str, int, int]]:
    """For each source: how many of its data lie in the band that all the others foretell."""
    told = []
    for source in sorted({one.source for one in data} - {"JUDGEMENT"}):
        rest = [one for one in data if one.source != source]
        weights, _ = joint(rest, found, count)
        out = [one for one in data if one.source == source]
        inside = [_inside(one, found[one.kind, one.sludge], weights[one.sludge]) for one in out]
        told.append((source, sum(inside), len(inside)))
    return told


def main(count: int, processes: int) -> None:
    """Draw, weigh, write, and say how well the others foretell each source."""
    data = evidence()
    pairs = sorted({(one.kind, one.sludge) for one in data})
    tasks = [(kind, name, count) for kind, name in pairs]
    with ProcessPoolExecutor(processes) as pool:
        found = dict(zip(pairs, pool.map(_cakes, tasks), strict=True))
    weights, machines = joint(data, found, count)
    lines = [
        "# Laws of the classes after all trials of machines: shift and covariance of each class's",
        f"# parameters in standard deviations of its own bands, order of LAW_PARAMETERS; {count} draws,",
        "# weighed. Written by docs/class_laws.py from published and judged cakes and our own physics.",
    ]
    for name in sludge_classes():
        mean, covariance, size = summary(name, weights[name])
        lines += ["", f"[{name}]", f"draws = {size:.0f}"]
        lines.append(f"shift = [{', '.join(f'{m:.3f}' for m in mean)}]")
        rows = (f"  [{', '.join(f'{c:.3f}' for c in row)}]," for row in covariance)
        lines += ["covariance = [", *rows, "]"]
    TARGET.write_text("\n".join(lines) + "\n", encoding="utf-8")
    for one in data:
        cake = found[one.kind, one.sludge]
        stands = np.isfinite(cake)
        weight = weights[one.sludge]
        middle = [_quantile(cake[stands], w[stands]) for w in (np.ones(count), weight)]
        read = 1.0 / (1.0 + np.exp(-one.place))
        words = f"{one.kind.value},{one.sludge},{one.source},{100 * read:.1f}"
        shares = f"{stands.mean():.2f},{weight[stands].sum():.2f}"
        print(f"{words},{100 * middle[0]:.1f},{100 * middle[1]:.1f},{shares}")
    for kind, (mean, variance) in machines.items():
        for i, key in enumerate(parameter_priors(kind)):
            if variance[i] < 0.9 or abs(mean[i]) > 0.15:
                now = parameter_priors(kind)[key]
                at = [float(now.at(mean[i] + z * np.sqrt(variance[i]))) for z in (-TENTH, 0, TENTH)]
                print(kind.value, key, " ".join(f"{a:.3g}" for a in at))
    told = left_out(data, found, count)
    print("left out:", told)
    print("inside", sum(t[1] for t in told), "of", sum(t[2] for t in told))


def _quantile(values: FloatArray, weight: FloatArray) -> float:
    order = np.argsort(values)
    share = np.cumsum(weight[order]) / weight.sum()
    return float(values[order][np.searchsorted(share, 0.5)])


if __name__ == "__main__":
    main(
        int(sys.argv[1]) if len(sys.argv) > 1 else DRAWS,
        int(sys.argv[2]) if len(sys.argv) > 2 else 2,
    )
