"""What can be promised, at which risk to either side, and how many runs prove it.

Chances come from tests played out: a true value of every quantity together, the errors of every
run, and the pass rule that the test itself is judged by. The chance that all promises of the list
hold together comes first: a test fails on one.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from cakewright.jobs.damages import Damages, damages_of
from cakewright.jobs.draws import StudyDraws
from cakewright.jobs.erring import UNTRIED
from cakewright.jobs.measured import (
    Measurement,
    SamplingPlan,
    feed_window,
    measurement_of,
    quantities,
    sampling_plan,
)
from cakewright.jobs.options import Option
from cakewright.jobs.played_test import TESTS, PlayedErrors, agreed_error, played_errors, reach
from cakewright.machines import Plan
from cakewright.quantities import Basis, Figure, FloatArray, from_si, house_name, to_si
from cakewright.running.acceptance import AgreedError
from cakewright.sludge import Feed, RunLoad
from cakewright.sludge.law import SludgeLaw
from cakewright.statistics.pass_rule import PassRule, Reach, RuleKind, runs_to_prove
from cakewright.study import Study

__all__ = [
    "Easing",
    "GuaranteeFindings",
    "Joint",
    "Promise",
    "Promised",
    "Window",
    "guarantee_of",
]

Flags = NDArray[np.bool_]

_LADDER = (0.5, 0.8, 0.9, 0.95, 0.99)
_FEWEST = 64
_DIGITS = 3  # of a promise as it is written and signed
_CURVE = 41
# Twenty halvings of the range of chances leave a millionth.
_HALVINGS = 20
_EASED = 0.99  # own chance to pass of a promise that gives way
# Shortfalls a test may be asked to tell from a promise that is just kept, as shares of the value.
_SHORTFALLS = (0.02, 0.05, 0.10)


@dataclass(frozen=True, slots=True)
class Promise:
    """One promised value, SI, judged before the test.

    ``met`` is the chance that the true value meets it, ``passed`` and ``failed`` that the test
    says so or the contrary (what is left stays undecided); ``wrong_fail`` (met, but failed) is the
    supplier's risk, ``wrong_pass`` the buyer's.
    """

    value: float
    met: float
    passed: float
    failed: float
    wrong_fail: float
    wrong_pass: float


@dataclass(frozen=True, slots=True)
class Joint:
    """The whole list of promises in one test: chances as of `Promise`, of all together.

    ``error`` is the standard error of ``passed`` from the number of samples.
    """

    met: float
    passed: float
    failed: float
    wrong_fail: float
    wrong_pass: float
    error: float


@dataclass(frozen=True, slots=True)
class Easing:
    """A promise of the list that gives way: its share in failing, what the others gain.

    ``blamed`` is the chance that a test not passed fails to pass on this promise; ``value`` the
    promise that passes 99 times in 100 alone, and ``passed`` the chance of the list with it.
    """

    name: str
    blamed: float
    value: float
    passed: float


@dataclass(frozen=True, slots=True, eq=False)
class Promised:
    """One guaranteed quantity.

    ``recommended`` belongs to the list that passes as a whole with the chance the supplier asks
    for; ``alone`` would if it stood alone. ``relied_on`` is what the buyer may count on, with all
    others, after the test has passed. ``proof`` holds, for a machine better than promised by a
    share of the value, how many runs tell it from one that only just keeps the promise, at both
    risks; the last row is the expected value. None where no number of runs can.
    """

    name: str
    key: str
    sense: str
    expected: Figure
    measurement: Measurement
    error: AgreedError
    guard: float
    recommended: Promise
    alone: float
    asked: Promise | None
    ladder: tuple[tuple[float, float], ...]
    relied_on: float
    proof: tuple[tuple[float, int | None], ...]
    curve: tuple[FloatArray, FloatArray]
    note: str

    @property
    def sign(self) -> float:
        """+1 where more is better, -1 where less is."""
        return 1.0 if self.sense == "at least" else -1.0

    @property
    def offered(self) -> Promise:
        """What the protocol carries: the value asked for, else the recommended one."""
        return self.asked or self.recommended


@dataclass(frozen=True, slots=True)
class Window:
    """One property of the feed inside which the promise holds, SI."""

    name: str
    low: float
    typical: float
    high: float


@dataclass(frozen=True, slots=True, eq=False)
class GuaranteeFindings:
    """All promises of the chosen machine with the terms they hold on.

    ``joint`` is the chance of the list offered (values asked for stand before recommended ones),
    ``joint_alone`` that of values each of which alone would pass with the supplier's chance.
    ``ladder`` gives, per joint chance, the value of every promise in order; ``easing`` what giving
    way on one promise buys, best first. ``untried`` says where no run of the trial was like the
    setting promised, and how often such promises were kept; else it is empty.
    """

    machine: str
    label: str
    frame: str
    machines: int
    joint: Joint
    joint_alone: float
    easing: tuple[Easing, ...]
    ladder: tuple[tuple[float, tuple[float, ...]], ...]
    promises: tuple[Promised, ...]
    damages: Damages | None
    window: tuple[Window, ...]
    conditioning: tuple[str, ...]
    plan: SamplingPlan
    rule: PassRule
    supplier_risk: float
    buyer_risk: float
    inside: int
    notes: tuple[str, ...]
    untried: str = ""

    @property
    def throughput(self) -> float:
        """Dry solids the acceptance test asks for. [kg/s]"""
        named = (p for p in self.promises if p.name == "dry_solids_flow")
        return next(named).offered.value


class _Played:
    """Tests played on the samples inside the window, every quantity turned to "at least"."""

    def __init__(
        self,
        rule: PassRule,
        figures: Mapping[str, Figure],
        measurements: Mapping[str, Measurement],
        inside: FloatArray,
        errors: PlayedErrors,
        at: Mapping[str, float],
    ) -> None:
        """``at`` are the values, turned, at which the relative errors are agreed in SI."""
        self.rule, self.errors = rule, errors
        self.names = tuple(figures)
        self.signs = {n: _sign(n) for n in figures}
        self.count = int(inside.sum())
        rows = np.arange(errors.count) % self.count
        self.true: dict[str, FloatArray] = {}
        self.agreed: dict[str, AgreedError] = {}
        self.shown: dict[str, Reach] = {}
        for name, figure in figures.items():
            drawn = figure.samples[1:] if figure.samples.size > 1 else figure.samples
            true = np.asarray(drawn)[inside][rows]
            factors, sign = errors.factors[name], self.signs[name]
            self.agreed[name] = agreed_error(rule, measurements[name], factors, abs(at[name]))
            self.true[name] = sign * true
            self.shown[name] = reach(rule, true, sign, factors, self.agreed[name])

    @cached_property
    def ordered(self) -> dict[str, FloatArray]:
        """Hardest promise passed in each test, from the least."""
        return {name: np.sort(self.shown[name].passes) for name in self.names}

    def limit(self, name: str, chance: float) -> float:
        """Turned promise that passes alone with a chance."""
        row = self.ordered[name]
        return float(row[min(int((1.0 - chance) * row.size), row.size - 1)])

    def limits(self, chance: float) -> dict[str, float]:
        """The same of every quantity."""
        return {name: self.limit(name, chance) for name in self.names}

    def passes(self, name: str, limit: float) -> Flags:
        """Tests in which a turned promise passes."""
        return np.asarray(self.shown[name].passes >= limit)

    def fails(self, name: str, limit: float) -> Flags:
        """Tests in which it fails."""
        return np.asarray((self.shown[name].fails <= limit) & ~self.passes(name, limit))

    def all_pass(self, limits: Mapping[str, float]) -> Flags:
        """Tests in which every promise of a list passes."""
        found = np.ones(self.errors.count, dtype=bool)
        for name, limit in limits.items():
            found &= self.passes(name, limit)
        return found

    def together(self, chance: float) -> dict[str, float]:
        """Values, each as sure as the others, that pass together with a chance.

        They are rounded to what is written and signed, to the easier side.
        """
        low, high = chance, 1.0
        for _ in range(_HALVINGS):
            middle = 0.5 * (low + high)
            enough = float(self.all_pass(self.limits(middle)).mean()) >= chance
            low, high = (low, middle) if enough else (middle, high)
        return {name: _rounded(name, limit) for name, limit in self.limits(high).items()}

    def joint(self, limits: Mapping[str, float]) -> Joint:
        """Chances of a list."""
        passed = self.all_pass(limits)
        failed, met = np.zeros(passed.size, bool), np.ones(passed.size, bool)
        for name, limit in limits.items():
            failed |= self.fails(name, limit)
            met &= self.true[name] >= limit
        rows = np.arange(passed.size) % self.count
        each = np.bincount(rows, passed) / np.bincount(rows)
        error = float(each.std() / np.sqrt(self.count))
        return Joint(
            met=float(met.mean()),
            passed=float(passed.mean()),
            failed=float(failed.mean()),
            wrong_fail=float(np.mean(met & failed)),
            wrong_pass=float(np.mean(~met & passed)),
            error=max(error, 0.5 / passed.size**0.5 if self.count == 1 else 0.0),
        )

    def promise(self, name: str, limit: float) -> Promise:
        """Chances of one promise."""
        met, passed = self.true[name] >= limit, self.passes(name, limit)
        failed = self.fails(name, limit)
        return Promise(
            value=self.signs[name] * limit,
            met=float(met.mean()),
            passed=float(passed.mean()),
            failed=float(failed.mean()),
            wrong_fail=float(np.mean(met & failed)),
            wrong_pass=float(np.mean(~met & passed)),
        )

    def relied_on(self, limits: Mapping[str, float], risk: float) -> dict[str, float]:
        """Values that the true ones beat together, but for a risk, once the test has passed."""
        passed = self.all_pass(limits)
        if not passed.any():
            return {name: float(self.true[name].min()) for name in self.names}
        true = {name: self.true[name][passed] for name in self.names}
        low, high = 0.0, risk
        for _ in range(_HALVINGS):
            middle = 0.5 * (low + high)
            short = np.zeros(int(passed.sum()), dtype=bool)
            for values in true.values():
                short |= values < np.quantile(values, middle, method="lower")
            low, high = (middle, high) if short.mean() <= risk else (low, middle)
        return {n: float(np.quantile(v, low, method="lower")) for n, v in true.items()}

    def easing(self, limits: Mapping[str, float]) -> tuple[Easing, ...]:
        """What giving way on each promise buys, the most first."""
        open_ = ~self.all_pass(limits)
        found = []
        for name, limit in limits.items():
            blamed = ~self.passes(name, limit) & open_
            softer = min(limit, self.limit(name, _EASED))
            passed = float(self.all_pass({**limits, name: softer}).mean())
            share = float(blamed.sum() / max(open_.sum(), 1))
            found.append(Easing(name, share, self.signs[name] * softer, passed))
        return tuple(sorted(found, key=lambda one: -one.passed))


def guarantee_of(
    study: Study,
    draws: StudyDraws,
    feed: Feed,
    load: RunLoad,
    option: Option,
    plan: Plan,
    law: SludgeLaw | None = None,
) -> GuaranteeFindings:
    """Promises of one machine on one study, inside the feed window."""
    window = _window(feed)
    inside = _inside(feed, window)
    test, rule = sampling_plan(study), _rule(study)
    figures = _expected(option, plan, feed, draws.draws.seed)
    measured = {name: measurement_of(name, test, figures, feed) for name in figures}
    errors = played_errors(test, measured, rule.longest, TESTS, draws.draws.seed)
    chance = 1.0 - study.value("guarantee.supplier_risk")
    asked = _asked(study)
    at = {name: one.value for name, one in measured.items()}
    # Errors are agreed at the promised values, and those follow from the errors: twice is enough.
    for _ in range(1 if rule.kind is RuleKind.AS_READ else 2):
        played = _Played(rule, figures, measured, inside, errors, at)
        recommended = played.together(chance)
        offered = {**recommended, **{n: played.signs[n] * v for n, v in asked.items()}}
        at = offered
    relied = played.relied_on(offered, study.value("guarantee.buyer_risk"))
    alone = played.limits(chance)
    promises = tuple(
        _promised(played, name, figures[name], measured[name], recommended, asked, alone, relied)
        for name in figures
    )
    rungs = {c: played.together(c) for c in _LADDER}
    return GuaranteeFindings(
        machine=option.key,
        label=option.kind.label,
        frame=plan.frame.name,
        machines=plan.machines,
        joint=played.joint(offered),
        joint_alone=float(played.all_pass(alone).mean()),
        easing=played.easing(offered),
        ladder=tuple((c, tuple(_signed(played, r))) for c, r in rungs.items()),
        promises=promises,
        damages=_damages(study, played, offered),
        window=window,
        conditioning=_conditioning(study, option, law),
        plan=test,
        rule=rule,
        supplier_risk=study.value("guarantee.supplier_risk"),
        buyer_risk=study.value("guarantee.buyer_risk"),
        inside=int(inside.sum()),
        notes=_notes(draws, rule),
        untried=figures["cake_solids"].note.partition(UNTRIED)[2].removeprefix(": "),
    )


def _rounded(name: str, limit: float) -> float:
    """A turned promise at the digits it is written with, no harder than it was."""
    entry = house_name(name)
    there = float(from_si(abs(limit), entry.unit, entry.shown))
    if there == 0.0:
        return limit
    step = 10.0 ** (np.floor(np.log10(there)) - _DIGITS + 1)
    side = np.floor if limit > 0 else np.ceil
    size = float(f"{side(there / step + (1e-9 if limit > 0 else -1e-9)) * step:.9g}")
    return float(np.sign(limit) * float(to_si(size, entry.shown, entry.unit)))


def _sign(name: str) -> float:
    return 1.0 if quantities()[name]["sense"] == "at least" else -1.0


def _signed(played: _Played, limits: Mapping[str, float]) -> list[float]:
    return [played.signs[name] * limits[name] for name in played.names]


def _rule(study: Study) -> PassRule:
    kind, runs = RuleKind(study.word("guarantee.rule")), study.count("guarantee.runs")
    more = study.count("guarantee.most_runs") if kind is RuleKind.SEQUENTIAL else runs
    return PassRule(
        kind,
        runs,
        max(more, runs),
        study.value("guarantee.buyer_risk"),
        study.value("guarantee.supplier_risk"),
    )


def _asked(study: Study) -> dict[str, float]:
    found = {}
    for name, row in quantities().items():
        given = study.given(f"guarantee.{row['key']}")
        if given:
            found[name] = given.value
    return found


def _damages(study: Study, played: _Played, limits: Mapping[str, float]) -> Damages | None:
    means = {n: played.shown[n].mean for n in played.names}
    return damages_of(study, means, limits)


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
    every = {name: found.get(name, throughput) for name in quantities()}
    # Nothing can be promised of what is not used, such as polymer beside iron and lime.
    return {name: figure for name, figure in every.items() if (figure.samples > 0.0).all()}


_WINDOW = ("total_solids", "ash", "oil", "temperature")
_NAMES = {"ash": "ash_share", "oil": "oil_share"}


def _window(feed: Feed) -> tuple[Window, ...]:
    """10 and 90 % of what is expected, no narrower than a test can keep."""
    found = []
    for key in _WINDOW:
        values = np.atleast_1d(getattr(feed.mix, key))
        drawn = values[1:] if values.size > 1 else values
        typical = float(values[0])
        name = _NAMES.get(key, key)
        least = feed_window().get(name, {})
        room = max(least.get("share", 0.0) * typical, least.get("width", 0.0))
        low, high = (float(x) for x in np.quantile(drawn, (0.1, 0.9)))
        low = max(min(low, typical - room), least.get("lowest", 0.0))
        found.append(Window(name, low, typical, max(high, typical + room)))
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
    played: _Played,
    name: str,
    figure: Figure,
    measurement: Measurement,
    recommended: Mapping[str, float],
    asked: Mapping[str, float],
    alone: Mapping[str, float],
    relied: Mapping[str, float],
) -> Promised:
    row, sign, rule = quantities()[name], played.signs[name], played.rule
    limit = recommended[name]
    shown = played.shown[name]
    margin = float(np.median(played.true[name])) - limit
    return Promised(
        name=name,
        key=row["key"],
        sense=row["sense"],
        expected=figure,
        measurement=measurement,
        error=played.agreed[name],
        guard=float(np.median(shown.mean - shown.passes)),
        recommended=played.promise(name, limit),
        alone=sign * alone[name],
        asked=played.promise(name, sign * asked[name]) if name in asked else None,
        ladder=tuple((p, sign * played.limit(name, p)) for p in _LADDER),
        relied_on=sign * relied[name],
        proof=_proof(rule, measurement, margin, abs(limit)),
        curve=_curve(played, name, limit, measurement.deviation),
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


def _proof(
    rule: PassRule, measurement: Measurement, margin: float, promise: float
) -> tuple[tuple[float, int | None], ...]:
    """Runs that prove margins; what is common to all runs does not shrink."""
    shares = (*_SHORTFALLS, margin / promise)
    m = measurement
    return tuple(
        (share, runs_to_prove(rule, share * promise, m.one_run, m.systematic)) for share in shares
    )


def _curve(played: _Played, name: str, limit: float, u: float) -> tuple[FloatArray, FloatArray]:
    """Operating characteristic of the recommended promise: chance to pass against the truth."""
    sign, factors = played.signs[name], played.errors.factors[name][:4096]
    true = limit + u * np.linspace(-4.0, 4.0, _CURVE)
    chance = [
        float(np.mean(reach(played.rule, np.full(len(factors), sign * value), sign, factors,
                            played.agreed[name]).passes >= limit))
        for value in true
    ]  # fmt: skip
    return sign * true, np.array(chance)


def _conditioning(study: Study, option: Option, law: SludgeLaw | None) -> tuple[str, ...]:
    if not option.performance["polymer_dose"].point > 0.0:
        return (
            f"{option.recipe.label}, each product named before the test, dosed per dry solids fed "
            "at the doses shown; no polymer",
            "doses by published rows until filter tests on the sludge of the day set them",
        )
    kind = study.word("coagulant.kind")
    lines = [
        f"polymer, {study.word('polymer.form')}, one product named before the test, dosed as "
        "active matter per dry solids fed",
        "dose as promised; stock solution aged and at the strength of the study",
        _dose_words(study, option, law),
    ]
    if kind not in ("", "none"):
        lines.append(f"{kind} ahead of the polymer, dry product per dry solids, as in the study")
    else:
        lines.append("no inorganic conditioner")
    return tuple(lines)


_LEARNT = 0.2  # share of the prior's variance below which jars have told nothing of the dose


def _dose_words(study: Study, option: Option, law: SludgeLaw | None) -> str:
    jars = law is not None and any(
        p.name == "optimum_dose" and p.learnt >= _LEARNT for p in law.parameters
    )
    if study.given("polymer.dose") is not None:
        return "dose as stated in the study" + (", beside jar tests of this sludge" if jars else "")
    basis = option.performance["polymer_dose"].basis
    if jars or basis in (Basis.MEASURED, Basis.BENCH):
        return "dose by jar tests on this sludge"
    return "dose by published band until jar tests on the sludge of the day set it"


def _notes(draws: StudyDraws, rule: PassRule) -> tuple[str, ...]:
    notes = [
        "The spread of the expected value is what is not known of sludge and machine today; bench "
        "tests and a pilot narrow it and so raise what can be promised.",
        "Errors of sampling, laboratory and meters are judged; the laboratory's own are better.",
        f"Chances are counted over {TESTS} tests played out with {rule.longest} runs each: errors "
        "of the runs, errors common to all of them, and inputs that several quantities share.",
    ]
    if draws.size == 1:
        notes.append("No samples were drawn: chances hold test error only and are too hopeful.")
    return tuple(notes)
