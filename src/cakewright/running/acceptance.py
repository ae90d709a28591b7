"""An acceptance test judged: which runs are valid, what was reached, how sure, pass or fail.

Runs are samples of one steady stretch each. They are checked against the protocol, reconciled,
brought to the agreed feed where the protocol says so, and held against the guarantee by the rule
of the protocol; a test that does not decide says so and says what would.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum

import numpy as np
from scipy.special import stdtr

from cakewright.errors import DataError, Fault
from cakewright.quantities import FloatArray
from cakewright.running.expectation import ExpectedResponse, expected_response
from cakewright.running.reconcile import BalanceInput, BalanceTable, reconcile_shifts
from cakewright.running.shifts import ShiftTable
from cakewright.running.signals import signal
from cakewright.statistics.pass_rule import PassRule, RuleKind, reach_of_runs, runs_to_decide
from cakewright.statistics.uncertainty import coverage_factor

__all__ = [
    "AcceptanceResult",
    "AgreedError",
    "Contribution",
    "Guarantee",
    "Judged",
    "JudgedRun",
    "Outcome",
    "Protocol",
    "TestRun",
    "judge_acceptance",
]

_GUARANTEED = (
    "cake_solids", "capture", "polymer_dose", "dry_solids_flow", "specific_energy",
    "wash_water_specific",
)  # fmt: skip
_LESS = frozenset({"polymer_dose", "specific_energy", "wash_water_specific"})


class Outcome(StrEnum):
    """What the test says."""

    PASS = "pass"
    FAIL = "fail"
    UNDECIDED = "undecided"


@dataclass(frozen=True, slots=True)
class Guarantee:
    """One guaranteed value (SI) of a house name."""

    name: str
    value: float

    @property
    def side(self) -> int:
        """+1 where more is better, -1 where less is."""
        return -1 if self.name in _LESS else 1


@dataclass(frozen=True, slots=True)
class AgreedError:
    """Errors of one measured quantity agreed before the test, standard deviations, SI.

    ``common`` is common to all runs (method, laboratory, meters), ``scatter`` that of one run
    about them. ``margin`` and ``guard`` belong to a sequential rule: how much better than promised
    a machine is that must not fail, and what is added to the promise for the common error.
    """

    common: float
    scatter: float = 0.0
    margin: float = 0.0
    guard: float = 0.0


@dataclass(frozen=True, slots=True)
class Protocol:
    """What both parties agreed before the test; SI.

    ``rule`` is how the mean of the runs is held against a promise and ``errors`` what was agreed
    of the error of each quantity (without it the errors of the instruments stand). ``window`` gives
    low and high of feed signals for a valid run; ``agreed`` the feed to which results are brought
    (signal -> value; empty: no correction); ``closure`` the largest gap of the raw solids balance;
    ``steady`` the largest relative trend over a run.
    """

    guarantees: tuple[Guarantee, ...]
    window: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    agreed: Mapping[str, float] = field(default_factory=dict)
    shortest: float = 4 * 3600.0
    fewest_samples: int = 4
    fewest_runs: int = 3
    closure: float = 0.10
    steady: float = 0.15
    wrong_pass: float = 0.05
    wrong_fail: float = 0.05
    rule: RuleKind = RuleKind.GUARD_BAND
    most_runs: int = 0
    errors: Mapping[str, AgreedError] = field(default_factory=dict)

    @property
    def pass_rule(self) -> PassRule:
        """The rule with its numbers."""
        return PassRule(
            self.rule, self.fewest_runs, self.most_runs, self.wrong_pass, self.wrong_fail
        )


@dataclass(frozen=True, slots=True, eq=False)
class TestRun:
    """Samples of one run by signal (SI; NaN: none), with their times in seconds from its start."""

    __test__ = False  # not a test case, whatever the name suggests to a test collector

    name: str
    time: FloatArray
    samples: Mapping[str, FloatArray]


@dataclass(frozen=True, slots=True)
class JudgedRun:
    """One run: why it is not valid (empty: valid), values reached, their standard uncertainty."""

    name: str
    faults: tuple[str, ...]
    values: Mapping[str, float]
    spreads: Mapping[str, float]
    corrected: Mapping[str, float]
    gap_solids: float


@dataclass(frozen=True, slots=True)
class Contribution:
    """One line of an uncertainty budget: standard uncertainty and share of the variance."""

    label: str
    deviation: float
    share: float


@dataclass(frozen=True, slots=True)
class Judged:
    """One guarantee judged.

    ``chance`` that the true value meets it, nothing else known; ``risk_if_passed`` that a pass
    would be wrong, and ``risk_if_failed`` that a fail would be. ``needed`` is the mean that passes
    by the rule on these runs. ``further_runs`` would decide an open one (None: enough, or none
    can), ``decided_by`` says what would in words.
    """

    guarantee: Guarantee
    value: float
    deviation: float
    freedom: float
    half_width: float
    chance: float
    risk_if_passed: float
    risk_if_failed: float
    outcome: Outcome
    budget: tuple[Contribution, ...]
    correction: float
    further_runs: int | None
    needed: float
    decided_by: str


@dataclass(frozen=True, slots=True)
class AcceptanceResult:
    """The whole test."""

    protocol: Protocol
    runs: tuple[JudgedRun, ...]
    judged: tuple[Judged, ...]
    outcome: Outcome
    notes: tuple[str, ...]


def _table(runs: Sequence[TestRun]) -> ShiftTable:
    """Runs as if they were shifts, so that one balance serves both."""
    keys = dict.fromkeys(key for run in runs for key in run.samples)
    lengths = np.array([float(np.ptp(run.time)) for run in runs])

    def mean(key: str) -> FloatArray:
        values = [run.samples.get(key, np.array([np.nan])) for run in runs]
        return np.array([float(np.nanmean(v)) if np.isfinite(v).any() else np.nan for v in values])

    means = {key: mean(key) for key in keys}
    cover = {key: np.isfinite(value).astype(float) for key, value in means.items()}
    zeros = np.zeros(len(runs))
    start = np.arange(len(runs), dtype=np.int64) * 86400
    return ShiftTable(start, lengths, np.maximum(lengths, 1.0), lengths, zeros, means, cover)


def _trend(time: FloatArray, value: FloatArray) -> float:
    """Relative change of a straight line over a run, less what scatter alone would give."""
    good = np.isfinite(value)
    x, y = time[good], value[good]
    if y.size < 4 or np.ptp(x) == 0 or y.mean() == 0:
        return 0.0
    centred = x - x.mean()
    slope = float(centred @ y / (centred @ centred))
    left = y - y.mean() - slope * centred
    error = float(np.sqrt(left @ left / max(y.size - 2, 1) / (centred @ centred)))
    clear = max(abs(slope) - 2 * error, 0.0)
    return clear * float(np.ptp(x)) / abs(float(y.mean()))


def _run_faults(run: TestRun, protocol: Protocol, gap: float) -> tuple[str, ...]:
    faults = []
    length = float(np.ptp(run.time)) if run.time.size else 0.0
    if length < protocol.shortest:
        faults.append(
            f"{length / 3600:.1f} h long; the protocol asks {protocol.shortest / 3600:g} h"
        )
    for key, value in run.samples.items():
        count = int(np.isfinite(value).sum())
        if signal(key).kind == "laboratory" and count < protocol.fewest_samples:
            faults.append(
                f"{signal(key).label}: {count} samples; {protocol.fewest_samples} are asked"
            )
        trend = _trend(run.time, value)
        if trend > protocol.steady:
            faults.append(f"{signal(key).label} drifts by {100 * trend:.0f} % over the run")
    for key, (low, high) in protocol.window.items():
        samples = run.samples.get(key)
        if samples is None or not np.isfinite(samples).any():
            faults.append(f"{signal(key).label}: not measured, but the feed window needs it")
        elif not low <= float(np.nanmean(samples)) <= high:
            faults.append(f"{signal(key).label} outside the agreed feed window")
    if np.isfinite(gap) and abs(gap) > protocol.closure:
        faults.append(
            f"solids balance open by {100 * gap:.0f} % before reconciliation; "
            f"at most {100 * protocol.closure:.0f} % is allowed"
        )
    return tuple(faults)


def _reached(balance: BalanceTable, table: ShiftTable, i: int) -> dict[str, tuple[float, float]]:
    load, load_u = float(balance.solids_load[i]), float(balance.solids_load_spread[i])
    column = balance.column("cake_solids")[i], balance.column_spread("cake_solids")[i]
    found = {
        "cake_solids": (float(column[0]), float(column[1])),
        "capture": (float(balance.capture[i]), float(balance.capture_spread[i])),
        "polymer_dose": (float(balance.dose[i]), float(balance.dose_spread[i])),
        "dry_solids_flow": (load, load_u),
    }
    for name, key in (("specific_energy", "drive_power"), ("wash_water_specific", "wash_flow")):
        raw = float(table.get(key)[i])
        if np.isfinite(raw) and load > 0:
            share = np.hypot(load_u / load, signal(key).relative)
            found[name] = (raw / load, float(raw / load * share))
    return {name: pair for name, pair in found.items() if np.isfinite(pair[0])}


def _correction(
    name: str, value: float, feed: Mapping[str, float], protocol: Protocol, slopes: ExpectedResponse
) -> tuple[float, float]:
    """Value at the agreed feed, and the standard uncertainty the correction brings."""
    response = {"cake_solids": "cake_solids", "capture": "loss"}.get(name)
    if response is None or not protocol.agreed:
        return value, 0.0
    shift, doubt = 0.0, 0.0
    for key, agreed in protocol.agreed.items():
        if key not in feed or not feed[key] > 0:
            continue
        slope = slopes.slope(response, key)
        distance = (
            (agreed - feed[key]) / 10.0 if key == "feed_temperature" else np.log(agreed / feed[key])
        )
        shift += slope.slope * float(distance)
        doubt = float(np.hypot(doubt, slope.spread * distance))
    if name == "capture":
        loss = (1 - value) * np.exp(shift)
        return float(1 - loss), float(loss * doubt)
    return float(value * np.exp(shift)), float(value * np.exp(shift) * doubt)


def _feed(table: ShiftTable, balance: BalanceTable, i: int) -> dict[str, float]:
    return {
        "feed_solids": float(balance.column("feed_solids")[i]),
        "solids_load": float(balance.solids_load[i]),
        "feed_temperature": float(table.get("feed_temperature")[i]),
        "dose": float(balance.dose[i]),
    }


def _judge(
    guarantee: Guarantee, values: FloatArray, spreads: FloatArray, raw: FloatArray,
    correction_doubt: float, protocol: Protocol,
) -> Judged:  # fmt: skip
    rule, side = protocol.pass_rule, guarantee.side
    agreed = protocol.errors.get(guarantee.name)
    # Instruments and laboratory are the same in every run: their uncertainty does not average out.
    instruments = agreed.common if agreed else float(spreads.mean())
    common = float(np.hypot(instruments, correction_doubt))
    shown = agreed or AgreedError(common)
    reach = reach_of_runs(
        rule, side * values, common, shown.scatter, shown.margin, shown.guard
    )  # fmt: skip
    value, total = float(values.mean()), float(reach.deviation)
    freedom = float(reach.freedom)
    target = side * guarantee.value
    if target <= float(reach.passes):
        outcome = Outcome.PASS
    else:
        outcome = Outcome.FAIL if target >= float(reach.fails) else Outcome.UNDECIDED
    off = side * value - target
    chance = float(stdtr(freedom, off / total)) if total > 0 else float(off >= 0)
    between = float(np.sqrt(max(total**2 - common**2, 0.0)))
    further, decided_by = _decided_by(protocol, guarantee, values, common, off, outcome)
    short = float(reach.mean - reach.passes) if np.isfinite(float(reach.passes)) else 0.0
    return Judged(
        guarantee, value, total, freedom,
        float(coverage_factor(0.95, max(freedom, 1.0)) * total), chance, 1 - chance, chance,
        outcome, _budget(between, instruments, correction_doubt), value - float(raw.mean()),
        further, guarantee.value + side * short, decided_by,
    )  # fmt: skip


def _budget(between: float, instruments: float, correction: float) -> tuple[Contribution, ...]:
    labels = ("scatter between runs", "instruments, sampling and laboratory", "feed correction")
    parts = (between, instruments, correction)
    variance = max(sum(u * u for u in parts), 1e-300)
    return tuple(Contribution(k, u, u * u / variance) for k, u in zip(labels, parts, strict=True))


def _decided_by(
    protocol: Protocol, guarantee: Guarantee, values: FloatArray, common: float, off: float,
    outcome: Outcome,
) -> tuple[int | None, str]:  # fmt: skip
    """What would decide an open value, counting only what more runs can average out."""
    if outcome is not Outcome.UNDECIDED:
        return None, ""
    rule, made = protocol.pass_rule, values.size
    missing = rule.runs - made
    if missing > 0:
        return missing, f"{missing} more valid run{'s' if missing > 1 else ''}: as many as agreed"
    if rule.kind is RuleKind.SEQUENTIAL:
        left = rule.longest - made
        return left, f"the next run may decide; after {left} more the middle line does"
    agreed = protocol.errors.get(guarantee.name)
    scatter = float(values.std(ddof=1)) if made > 1 else (agreed.scatter if agreed else 0.0)
    number = runs_to_decide(rule, off, made, scatter, common)
    if number is None:
        return None, (
            "no number of runs: what all runs have in common (laboratory, method, meters) is too "
            "large for this distance; a second laboratory or a proved meter would help"
        )
    more = number - made
    return more, f"{more} more run{'s' if more > 1 else ''}, if they scatter as these did"


def judge_acceptance(
    protocol: Protocol,
    runs: Sequence[TestRun],
    given: BalanceInput | None = None,
    slopes: ExpectedResponse | None = None,
) -> AcceptanceResult:
    """The test judged by its protocol.

    Raises
    ------
    DataError
        If nothing was guaranteed, a guarantee cannot be judged here, or no run is valid.
    """
    unknown = [g.name for g in protocol.guarantees if g.name not in _GUARANTEED]
    if unknown or not protocol.guarantees:
        fault = Fault("guarantees", ", ".join(unknown) or "none", ", ".join(_GUARANTEED),
                      "name what was guaranteed")  # fmt: skip
        raise DataError("acceptance test", [fault])
    table = _table(runs)
    balance = reconcile_shifts(table, given)
    slopes = slopes or expected_response()
    judged_runs, doubts = [], {}
    for i, run in enumerate(runs):
        reached = _reached(balance, table, i)
        feed = _feed(table, balance, i)
        moved = {n: _correction(n, v, feed, protocol, slopes) for n, (v, _) in reached.items()}
        gap = float(balance.gap_solids[i])
        faults = _run_faults(run, protocol, gap)
        missing = [g.name for g in protocol.guarantees if g.name not in reached]
        faults += tuple(f"{name}: cannot be reckoned from what was measured" for name in missing)
        judged_runs.append(
            JudgedRun(
                run.name, faults, {n: v for n, (v, _) in reached.items()},
                {n: u for n, (_, u) in reached.items()}, {n: v for n, (v, _) in moved.items()}, gap,
            )
        )  # fmt: skip
        doubts[run.name] = {n: u for n, (_, u) in moved.items()}
    valid = [run for run in judged_runs if not run.faults]
    if not valid:
        found = [
            Fault(f"run {run.name}", "; ".join(run.faults), "a valid run", "repeat it")
            for run in judged_runs
        ]
        raise DataError("acceptance test: no valid run", found)
    judged = tuple(_judged_over(g, valid, doubts, protocol) for g in protocol.guarantees)
    return AcceptanceResult(
        protocol, tuple(judged_runs), judged, _overall(judged),
        _test_notes(judged_runs, valid, balance, protocol),
    )  # fmt: skip


def _judged_over(
    guarantee: Guarantee, valid: Sequence[JudgedRun],
    doubts: Mapping[str, Mapping[str, float]], protocol: Protocol,
) -> Judged:  # fmt: skip
    name = guarantee.name
    return _judge(
        guarantee,
        np.array([run.corrected[name] for run in valid]),
        np.array([run.spreads[name] for run in valid]),
        np.array([run.values[name] for run in valid]),
        float(np.mean([doubts[run.name][name] for run in valid])),
        protocol,
    )


def _overall(judged: Sequence[Judged]) -> Outcome:
    if any(one.outcome is Outcome.FAIL for one in judged):
        return Outcome.FAIL
    if any(one.outcome is Outcome.UNDECIDED for one in judged):
        return Outcome.UNDECIDED
    return Outcome.PASS


def _test_notes(
    runs: Sequence[JudgedRun], valid: Sequence[JudgedRun], balance: BalanceTable, protocol: Protocol
) -> tuple[str, ...]:
    notes = []
    if len(valid) < protocol.fewest_runs:
        number = f"{len(valid)} valid run{'' if len(valid) == 1 else 's'}"
        notes.append(
            f"{number}; the protocol asks {protocol.fewest_runs}: no verdict, neither way."
        )
    if len(valid) < len(runs):
        notes.append(f"{len(runs) - len(valid)} of {len(runs)} runs are not valid; see each.")
    unclosed = [
        run.name for run, free, agrees in zip(runs, balance.freedom, balance.agrees, strict=True)
        if free > 0 and not agrees
    ]  # fmt: skip
    if unclosed:
        notes.append(f"Readings of run {', '.join(unclosed)} do not agree with the balances.")
    if not (balance.freedom > 0).any():
        notes.append("No reading to spare: the balances close because nothing checks them.")
    return tuple(notes)
