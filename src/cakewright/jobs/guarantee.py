"""What can be promised, at which risk to either side, and how many samples prove it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri

from cakewright.jobs.draws import StudyDraws
from cakewright.jobs.measured import (
    Measurement,
    SamplingPlan,
    measurement_of,
    quantities,
    sampling_plan,
)
from cakewright.jobs.options import Option
from cakewright.machines import Plan
from cakewright.quantities import Basis, Figure, FloatArray
from cakewright.sludge import Feed, RunLoad
from cakewright.statistics import chance_pass, guard_band, sample_size_known_deviation
from cakewright.study import Study

__all__ = ["GuaranteeFindings", "Promise", "Promised", "Window", "guarantee_of"]

_LADDER = (0.5, 0.8, 0.9, 0.95, 0.99)
_FEWEST = 64
_CURVE = 41
# Thirty halvings leave a billionth of the range.
_HALVINGS = 30
# Shortfalls a test may be asked to tell from a promise that is just kept, as shares of the value.
_SHORTFALLS = (0.02, 0.05, 0.10)


@dataclass(frozen=True, slots=True)
class Promise:
    """One promised value, SI, judged before the test.

    ``met`` is the chance that the true value meets it, ``passed`` that the test says so;
    ``wrong_fail`` (met, but failed) is the supplier's risk, ``wrong_pass`` the buyer's.
    """

    value: float
    met: float
    passed: float
    wrong_fail: float
    wrong_pass: float


@dataclass(frozen=True, slots=True, eq=False)
class Promised:
    """One guaranteed quantity.

    ``recommended`` passes with the chance the supplier asks for; ``relied_on`` is what the buyer
    may count on after it has passed. ``proof`` holds, for a machine better than promised by a share
    of the value, how many runs tell it from one that only just keeps the promise, at both risks;
    the last row is the expected value. None where no number of runs can.
    """

    name: str
    key: str
    sense: str
    expected: Figure
    measurement: Measurement
    guard: float
    recommended: Promise
    asked: Promise | None
    ladder: tuple[tuple[float, float], ...]
    relied_on: float
    proof: tuple[tuple[float, int | None], ...]
    curve: tuple[FloatArray, FloatArray]
    note: str


@dataclass(frozen=True, slots=True)
class Window:
    """One property of the feed inside which the promise holds, SI."""

    name: str
    low: float
    typical: float
    high: float


@dataclass(frozen=True, slots=True, eq=False)
class GuaranteeFindings:
    """All promises of the chosen machine with the terms they hold on."""

    machine: str
    label: str
    frame: str
    machines: int
    promises: tuple[Promised, ...]
    window: tuple[Window, ...]
    conditioning: tuple[str, ...]
    plan: SamplingPlan
    rule: str
    supplier_risk: float
    buyer_risk: float
    inside: int
    notes: tuple[str, ...]


def guarantee_of(
    study: Study, draws: StudyDraws, feed: Feed, load: RunLoad, option: Option, plan: Plan
) -> GuaranteeFindings:
    """Promises of one machine on one study, inside the feed window."""
    window = _window(feed)
    inside = _inside(feed, window)
    test = sampling_plan(study)
    figures = _expected(option, plan, feed, draws.draws.seed)
    promises = tuple(
        _promised(study, name, figure, inside, measurement_of(name, test, figures, feed))
        for name, figure in figures.items()
    )
    return GuaranteeFindings(
        machine=option.key,
        label=option.kind.label,
        frame=plan.frame.name,
        machines=plan.machines,
        promises=promises,
        window=window,
        conditioning=_conditioning(study, option),
        plan=test,
        rule=study.word("guarantee.rule"),
        supplier_risk=study.value("guarantee.supplier_risk"),
        buyer_risk=study.value("guarantee.buyer_risk"),
        inside=int(inside.sum()),
        notes=_notes(draws),
    )


def _expected(option: Option, plan: Plan, feed: Feed, seed: int) -> dict[str, Figure]:
    found = {name: option.performance[name] for name in quantities() if name != "dry_solids_flow"}
    capacity, running = plan.capacity, plan.machines - plan.standby
    by_volume = capacity.volume_flow * feed.mix.total_solids * feed.mix.density
    most = np.minimum(capacity.dry_solids_flow, by_volume) * running
    throughput = Figure(
        "dry_solids_flow",
        _widened(np.asarray(most), float(quantities()["dry_solids_flow"]["model"]), seed),
        Basis.ASSUMED,
        capacity.mark,
        capacity.source,
        "all running machines together; ± 10 % standard deviation of the capacity is judged",
    )
    return {name: found.get(name, throughput) for name in quantities()}


_WINDOW = ("total_solids", "ash", "oil", "temperature")
_NAMES = {"ash": "ash_share", "oil": "oil_share"}


def _window(feed: Feed) -> tuple[Window, ...]:
    found = []
    for key in _WINDOW:
        values = np.atleast_1d(getattr(feed.mix, key))
        drawn = values[1:] if values.size > 1 else values
        low, high = (float(x) for x in np.quantile(drawn, (0.1, 0.9)))
        found.append(Window(_NAMES.get(key, key), low, float(values[0]), high))
    return tuple(found)


def _inside(feed: Feed, window: Sequence[Window]) -> FloatArray:
    """Samples, point left out, whose feed lies in the window by solids and by ash."""
    solids, ash = feed.mix.total_solids, np.asarray(feed.mix.ash)
    size = solids.size
    if size == 1:
        return np.ones(1, dtype=bool)
    keep = np.ones(size - 1, dtype=bool)
    for values, edge in ((solids, window[0]), (ash, window[1])):
        wide = np.broadcast_to(values, (size,))[1:]
        keep &= (wide >= edge.low) & (wide <= edge.high)
    return keep if keep.sum() >= _FEWEST else np.ones(size - 1, dtype=bool)


def _promised(
    study: Study, name: str, figure: Figure, inside: FloatArray, measurement: Measurement
) -> Promised:
    row = quantities()[name]
    sign = 1.0 if row["sense"] == "at least" else -1.0
    drawn = figure.samples[1:] if figure.samples.size > 1 else figure.samples
    true = np.asarray(drawn)[inside]
    supplier = study.value("guarantee.supplier_risk")
    buyer = study.value("guarantee.buyer_risk")
    u = measurement.deviation
    guard = guard_band(u, buyer) if study.word("guarantee.rule") == "guard band" else 0.0
    # Everything below is written for "at least"; "at most" is the same with the sign turned.
    turned = sign * true
    ladder = tuple((p, sign * _limit(turned, u, guard, p)) for p in _LADDER)
    best = _limit(turned, u, guard, 1.0 - supplier)
    asked = study.given(f"guarantee.{row['key']}")
    return Promised(
        name=name,
        key=row["key"],
        sense=row["sense"],
        expected=figure,
        measurement=measurement,
        guard=guard,
        recommended=_promise(turned, best, u, guard, sign),
        asked=_promise(turned, sign * asked.value, u, guard, sign) if asked else None,
        ladder=ladder,
        relied_on=sign * _relied_on(turned, best, u, guard, buyer),
        proof=_proof(measurement, float(np.median(turned)) - best, abs(best), supplier, buyer),
        curve=_curve(sign, best, u, guard),
        note=figure.note,
    )


def _widened(samples: FloatArray, model: float, seed: int) -> FloatArray:
    """Samples, point left as it is, spread by an error of the model that nothing else carries."""
    if model <= 0.0 or samples.size == 1:
        return samples
    size = samples.size - 1
    order = np.random.default_rng(seed).permutation(size)
    scores = ndtri((order + 0.5) / size)
    factor = np.concatenate(([1.0], np.maximum(1.0 + model * scores, 0.05)))
    return np.asarray(samples * factor)


def _passes(true: FloatArray, limit: float, u: float, guard: float) -> FloatArray:
    return np.asarray(chance_pass((true - limit) / u, 1, guard / u, deviation_known=True))


def _limit(true: FloatArray, u: float, guard: float, chance: float) -> float:
    """Limit that a test passes with a stated chance: between the ends, by halving."""
    low = float(true.min()) - 8.0 * u - abs(guard)
    high = float(true.max()) + 8.0 * u + abs(guard)
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        if float(_passes(true, middle, u, guard).mean()) >= chance:
            low = middle
        else:
            high = middle
    return low


def _promise(true: FloatArray, limit: float, u: float, guard: float, sign: float) -> Promise:
    met = true >= limit
    passes = _passes(true, limit, u, guard)
    return Promise(
        value=sign * limit,
        met=float(met.mean()),
        passed=float(passes.mean()),
        wrong_fail=float(np.mean(met * (1.0 - passes))),
        wrong_pass=float(np.mean(~met * passes)),
    )


def _relied_on(true: FloatArray, limit: float, u: float, guard: float, risk: float) -> float:
    """Value that the true one exceeds, but for the buyer's risk, once the test has passed."""
    weight = _passes(true, limit, u, guard)
    order = np.argsort(true)
    share = np.cumsum(weight[order]) / weight.sum()
    return float(true[order][int(np.searchsorted(share, risk))])


def _proof(
    measurement: Measurement, margin: float, promise: float, supplier: float, buyer: float
) -> tuple[tuple[float, int | None], ...]:
    shares = (*_SHORTFALLS, margin / promise)
    return tuple((share, _runs(measurement, share * promise, supplier, buyer)) for share in shares)


def _runs(measurement: Measurement, margin: float, supplier: float, buyer: float) -> int | None:
    """Runs that tell a margin from none; what is common to all runs does not shrink."""
    reach = float(ndtri(1.0 - supplier) + ndtri(1.0 - buyer))
    left = margin * margin - (reach * measurement.systematic) ** 2
    if margin <= 0.0 or left <= 0.0:
        return None
    number = sample_size_known_deviation(supplier, buyer, measurement.one_run, float(np.sqrt(left)))
    return max(1, int(np.ceil(number - 1e-9)))


def _curve(sign: float, limit: float, u: float, guard: float) -> tuple[FloatArray, FloatArray]:
    """Operating characteristic of the recommended promise: chance to pass against the truth."""
    true = limit + u * np.linspace(-4.0, 4.0, _CURVE)
    return sign * true, _passes(true, limit, u, guard)


def _conditioning(study: Study, option: Option) -> tuple[str, ...]:
    dose = option.performance["polymer_dose"]
    kind = study.word("coagulant.kind")
    lines = [
        f"polymer, {study.word('polymer.form')}, one product named before the test, dosed as "
        "active matter per dry solids fed",
        "dose as promised; stock solution aged and at the strength of the study",
        _dose_words(dose),
    ]
    if kind not in ("", "none"):
        lines.append(f"{kind} ahead of the polymer, dry product per dry solids, as in the study")
    else:
        lines.append("no inorganic conditioner")
    return tuple(lines)


def _dose_words(dose: Figure) -> str:
    if dose.basis in (Basis.MEASURED, Basis.BENCH):
        return f"dose by tests ({dose.basis.value})"
    return "dose by published band until jar tests on the sludge of the day set it"


def _notes(draws: StudyDraws) -> tuple[str, ...]:
    notes = [
        "The spread of the expected value is what is not known of sludge and machine today; bench "
        "tests and a pilot narrow it and so raise what can be promised.",
        "Errors of sampling, laboratory and meters are judged; the laboratory's own are better.",
    ]
    if draws.size == 1:
        notes.append("No samples were drawn: chances hold test error only and are too hopeful.")
    return tuple(notes)
