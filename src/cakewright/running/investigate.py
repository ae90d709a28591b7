"""From shifts to drifts: which series left its usual level, since when, and the likely cause."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from cakewright.errors import DataError
from cakewright.quantities import FloatArray
from cakewright.running.diagnosis import FEATURES, Explained, Move, diagnose, material
from cakewright.running.expectation import (
    CONDITIONS,
    RESPONSES,
    BaselineLaw,
    Expectation,
    Expected,
    ExpectedResponse,
    fit_baseline,
)
from cakewright.running.reconcile import WATER, BalanceTable
from cakewright.running.shifts import ShiftTable
from cakewright.running.watching import (
    BETWEEN,
    Alarm,
    ChangePoint,
    Chart,
    ChartKind,
    Shape,
    Usual,
    alarms_of,
    change_point,
    expected_false_alarms,
    usual_level,
    watch,
)

__all__ = ["Drift", "Watched", "Watching", "conditions_of", "investigate", "responses_of"]

BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.int64]
Answers = Callable[[int], Mapping[str, int]] | None
CONDITION_FEATURES = frozenset(f for f in FEATURES if f[:2] not in ("r_", "g_", "m_"))
_TOGETHER = 4  # alarms within so many shifts are one
_SPELL = 15 * 86_400  # what is over within so long came and went by itself
AFTER = 9  # shifts after an alarm that the first diagnosis waits for


@dataclass(frozen=True, slots=True, eq=False)
class Watched:
    """One series on its charts; natural log about its usual level, balance gaps as shares.

    ``doubt`` is how unsure the expectation is at each shift for want of such feed or settings in
    the baseline: where those have moved far, a residual says less.
    """

    feature: str
    label: str
    series: FloatArray
    usual: Usual
    charts: tuple[Chart, ...]
    doubt: FloatArray | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Drift:
    """One departure: the series that alarmed first, when it began, what moved, likely causes.

    ``ended`` is the shift from which everything is back at its usual level; ``own`` marks a
    setting changed by hand to which the press answered as it should: news, not an alarm.
    Departures of one ``episode`` rang one after the other while the first still lasted.
    """

    feature: str
    alarm: Alarm
    change: ChangePoint | None
    moves: Mapping[str, Move]
    explained: Explained
    also: tuple[str, ...]
    ended: int | None = None
    own: bool = False
    episode: int = 0

    @property
    def began(self) -> int:
        """Shift from which it holds."""
        return self.change.shift if self.change else self.alarm.shift


@dataclass(frozen=True, slots=True, eq=False)
class Watching:
    """The whole watch: expectation, series on their charts, drifts, false alarms to expect."""

    expectation: Expectation
    expected: Mapping[str, Expected]
    watched: Mapping[str, Watched]
    drifts: tuple[Drift, ...]
    false_alarms_per_month: float
    not_watched: tuple[str, ...]


def _prefer(read: FloatArray, best: FloatArray) -> FloatArray:
    """The raw reading; the reconciled value only where none was read."""
    return np.where(np.isfinite(read), read, best)


def _feed_solids(table: ShiftTable, balance: BalanceTable) -> FloatArray:
    """Meter put right by the laboratory where there are both; else what was read."""
    best = table.get("feed_solids_best")
    read = _prefer(table.get("feed_solids"), balance.column("feed_solids"))
    return _prefer(best, read)


def conditions_of(table: ShiftTable, balance: BalanceTable) -> Mapping[str, FloatArray]:
    """Feed and settings per shift, from the raw readings (a drifting instrument must show)."""
    feed = _prefer(table.get("feed_flow"), balance.column("feed_flow"))
    solids = _feed_solids(table, balance)
    load = feed * WATER * solids
    strength = _prefer(table.get("polymer_strength"), balance.column("polymer_strength"))
    polymer = _prefer(table.get("polymer_flow"), balance.column("polymer_flow")) * WATER * strength
    with np.errstate(invalid="ignore", divide="ignore"):
        dose = np.where(load > 0, polymer / load, np.nan)
    keys = (
        "screw_speed", "plate_pressure", "feed_temperature", "mixer_speed", "wash_flow",
        "feed_flow", "dilution_flow",
    )  # fmt: skip
    return {
        "feed_solids": solids, "solids_load": load, "dose": dose,
        "polymer_strength": table.get("polymer_strength"),
        **{key: table.get(key) for key in keys},
    }  # fmt: skip


def _solution_per_solids(
    table: ShiftTable, balance: BalanceTable, conditions: Mapping[str, FloatArray]
) -> FloatArray:
    """Polymer solution per solids: moves with the pump, not with the strength of the solution."""
    flow = _prefer(table.get("polymer_flow"), balance.column("polymer_flow"))
    load = conditions["solids_load"]
    return np.asarray(np.divide(flow, load, out=np.full(flow.shape, np.nan), where=load > 0))


def responses_of(table: ShiftTable, balance: BalanceTable) -> Mapping[str, FloatArray]:
    """Cake solids, loss, torque and level per shift, from the raw readings where there are any."""
    feed = _prefer(table.get("feed_flow"), balance.column("feed_flow"))
    solids = _feed_solids(table, balance)
    filtrate = _prefer(table.get("filtrate_flow"), balance.column("filtrate_flow"))
    with np.errstate(invalid="ignore", divide="ignore"):
        loss = filtrate * table.get("filtrate_solids") / (feed * WATER * solids)
    return {
        "cake_solids": table.get("cake_solids"),
        "loss": np.where(np.isfinite(loss), loss, np.nan),
        "torque": table.get("screw_torque"),
        "floc_level": table.get("floc_level"),
        "power": table.get("drive_power"),
    }


def _checks(table: ShiftTable, baseline: BoolArray) -> dict[str, FloatArray]:
    """Two readings that should say the same: the meter against the laboratory, torque against
    electrical power. Natural logarithms; what they stand at in the baseline is usual."""
    found = {}
    meter, sample = table.get("feed_solids_meter"), table.get("feed_solids")
    with np.errstate(invalid="ignore", divide="ignore"):
        both = np.isfinite(meter) & np.isfinite(sample) & (table.get("feed_solids_sampled") > 0)
        if both.any():
            found["m_feed_solids"] = np.where(both, np.log(meter / sample), np.nan)
        work = np.log(table.get("screw_torque")) + np.log(table.get("screw_speed"))
        power = np.log(table.get("drive_power"))
    good = baseline & np.isfinite(work) & np.isfinite(power)
    if good.sum() >= 20:
        x, y = work[good] - work[good].mean(), power[good] - power[good].mean()
        # Half of the power follows the screw, give or take a quarter (judgement).
        share = (0.5 / 0.25**2 + x @ y / 0.02**2) / (1 / 0.25**2 + x @ x / 0.02**2)
        if share > 0.1:
            line = (power - power[good].mean()) - share * (work - work[good].mean())
            found["m_torque"] = -line / share
    return found


def _logs(value: FloatArray, key: str) -> FloatArray:
    if key == "feed_temperature":
        return value / 40.0  # 10 K matter as much as a quarter
    with np.errstate(invalid="ignore", divide="ignore"):
        line = np.log(value)
    return np.where(np.isfinite(line), line, np.nan)


def _series(
    conditions: Mapping[str, FloatArray],
    responses: Mapping[str, FloatArray],
    expected: Mapping[str, Expected],
    balance: BalanceTable,
) -> dict[str, FloatArray]:
    series = {key: _logs(value, key) for key, value in conditions.items() if key in FEATURES}
    for name in RESPONSES:
        if name in expected:
            series[f"r_{name}"] = _logs(responses[name], name) - expected[name].log_mean
    series["g_solids"], series["g_water"] = balance.gap_solids, balance.gap_water
    return {key: line for key, line in series.items() if key in FEATURES}


def _fresh_residuals(
    conditions: Mapping[str, FloatArray],
    responses: Mapping[str, FloatArray],
    baseline: BoolArray,
    slopes: ExpectedResponse | None,
    parts: int = 5,
) -> Mapping[str, FloatArray]:
    """Baseline residuals from laws that did not see the part they are judged on.

    Residuals of the fit itself are too small, and charts set by them alarm too often.
    """
    found = {name: np.full(baseline.shape, np.nan) for name in RESPONSES}
    for part in np.array_split(np.flatnonzero(baseline), parts):
        rest = baseline.copy()
        rest[part] = False
        try:
            law = fit_baseline(conditions, responses, rest, slopes)
        except DataError:
            return {}
        expected = law.expected({key: value[part] for key, value in conditions.items()})
        for name, one in expected.items():
            found[name][part] = _logs(responses[name][part], name) - one.log_mean
    return found


def _watched(
    series: Mapping[str, FloatArray], baseline: BoolArray, fresh: Mapping[str, FloatArray]
) -> dict[str, Watched]:
    found = {}
    for feature, line in series.items():
        least = 0.15 * material()[feature]
        judged = fresh.get(feature.removeprefix("r_"), line) if feature[:2] == "r_" else line
        try:
            usual = usual_level(judged, baseline, least)
        except DataError:
            few = _seldom(feature, line, baseline)
            if few is not None:
                found[feature] = Watched(feature, FEATURES[feature], line, few, ())
            continue
        setting = feature in CONDITION_FEATURES
        kinds = (ChartKind.EWMA,) if setting else tuple(ChartKind)
        worth = material()[feature] if setting else 0.0
        charts = watch(line, usual, BETWEEN, kinds, worth)
        found[feature] = Watched(feature, FEATURES[feature], line, usual, charts)
    return found


def _seldom(feature: str, line: FloatArray, baseline: BoolArray) -> Usual | None:
    """A series sampled too seldom for charts that can still speak for or against a cause."""
    x = line[baseline & np.isfinite(line)]
    if feature != "polymer_strength" or x.size < 4:
        return None
    scatter = max(float(np.std(x, ddof=1)), 0.05)
    return Usual(float(np.median(x)), scatter, 0.0, int(x.size))


def _mean_error(x: FloatArray, usual: Usual) -> float:
    grow = (1 + usual.memory) / (1 - usual.memory)
    return usual.scatter * float(np.sqrt(grow / max(x.size, 1)))


def _moves(watched: Mapping[str, Watched], before: BoolArray, after: BoolArray) -> dict[str, Move]:
    """Move of every feature from before to after, in units of what matters."""
    found = {}
    for feature, one in watched.items():
        read = np.isfinite(one.series)
        old, new = one.series[before & read], one.series[after & read]
        if new.size < 3 and after.any():  # sampled seldom: all since the departure
            new = one.series[read & (np.arange(read.size) >= int(np.argmax(after)) - 12)]
        if old.size < 5 or new.size < 2:
            continue
        unit = material()[feature]
        error = np.hypot(_mean_error(old, one.usual), _mean_error(new, one.usual))
        if one.doubt is not None and np.isfinite(one.doubt[after]).any():
            error = np.hypot(error, float(np.nanmean(one.doubt[after])))
        found[feature] = Move(float(new.mean() - old.mean()) / unit, float(error) / unit)
    return found


@dataclass(frozen=True, slots=True)
class _Look:
    """Where to look at a departure: what came before is taken up to ``sound`` (None: up to the
    departure itself), what speaks for it up to ``end``."""

    baseline: BoolArray
    sound: int | None
    end: int

    def windows(self, began: int) -> tuple[BoolArray, BoolArray]:
        """Shifts before a departure, and those of it that speak (the last of a slow drift)."""
        index = np.arange(self.baseline.size)
        until = began if self.sound is None else min(began, self.sound)
        after = (index >= max(began, self.end - 24)) & (index <= self.end)
        recent = (index < until) & (index >= until - 90)
        before = recent if recent.sum() >= 20 else self.baseline & (index < until)
        return before, np.asarray(after)


def _leading(moves: Mapping[str, Move], first: str) -> str:
    """The feature that moved most clearly: the first to alarm may have done so by chance."""
    clear = {f: abs(m.size) / max(2 * m.error, 0.7) for f, m in moves.items()}
    best = max(clear, key=lambda f: clear[f], default=first)
    return best if clear.get(best, 0.0) > 1.5 * clear.get(first, 0.0) else first


_SETTINGS = {
    "screw_too_fast": "screw_speed", "screw_too_slow": "screw_speed",
    "plate_too_tight": "plate_pressure", "over_dose": "dose", "solids_overload": "solids_load",
    "load_lower": "solids_load",
}  # fmt: skip


def _own_change(moves: Mapping[str, Move], explained: Explained) -> bool:
    """Whether a setting moved and the press answered as its law foretells."""
    best = explained.causes[0]
    if _SETTINGS.get(best.cause.key) not in moves:
        return False
    answers = [m for f, m in moves.items() if f[:2] in ("r_", "g_", "m_")]
    settings = sum(d.share for d in explained.causes if d.cause.key in _SETTINGS)
    quiet = all(abs(m.size) < max(1.0, 2.5 * m.error) for m in answers)
    return quiet and settings > 0.5


_BACK = 8  # shifts at the old level before a departure is called over


def _ended(
    watched: Mapping[str, Watched], moves: Mapping[str, Move], began: int, alarm: int,
    before: BoolArray,
) -> int | None:  # fmt: skip
    """First shift from which all that moved clearly is back and stays so for a while."""
    moved = {f: m for f, m in moves.items() if abs(m.size) > max(0.7, 2 * m.error)}
    size = next(iter(watched.values())).series.size
    back = np.zeros(size, dtype=bool)
    back[max(alarm + 2, began + 4) : size - 3] = bool(moved)
    for feature, move in moved.items():
        line = watched[feature].series
        usual = float(np.nanmean(line[before])) if np.isfinite(line[before]).any() else 0.0
        share = (line - usual) / (move.size * material()[feature])  # 1: as moved, 0: back
        good = np.isfinite(share)
        total = np.concatenate([[0.0], np.cumsum(np.where(good, share, 0.0))])
        count = np.concatenate([[0], np.cumsum(good)])
        end = np.minimum(np.arange(size) + _BACK, size)
        number = count[end] - count[:-1]
        with np.errstate(invalid="ignore", divide="ignore"):
            mean = (total[end] - total[:-1]) / number
        back &= (number >= 2) & (mean < 0.35)
    return int(np.argmax(back)) if back.any() else None


def _drift(
    watched: Mapping[str, Watched], feature: str, alarm: Alarm, look: _Look, start: IntArray,
    rates: Mapping[str, float] | None, answers: Answers,
) -> Drift:  # fmt: skip
    """One departure; dated twice if another feature turns out to lead it."""
    change, moves, lead = None, {}, feature
    for _ in range(2):
        series = watched[lead].series
        back = 60 if look.sound is None else max(60, alarm.shift - look.sound + 45)
        change = change_point(series, alarm.shift, back, look.end - alarm.shift + 1)
        began = min(change.shift, alarm.shift) if change else alarm.shift
        moves = _moves(watched, *look.windows(began))
        again = _leading(moves, lead)
        if again == lead:
            break
        lead = again
    told = answers(alarm.shift) if answers else {}
    explained = diagnose(moves, change.shape if change else None, rates=rates, answers=told)
    also = tuple(
        f for f, move in moves.items() if f != lead and abs(move.size) > max(0.7, 2 * move.error)
    )
    began = min(change.shift, alarm.shift) if change else alarm.shift
    before, _ = look.windows(began)
    ended = _ended(watched, moves, began, alarm.shift, before)
    if ended is not None and start[ended] - start[began] <= _SPELL:
        explained = diagnose(moves, Shape.PULSE, rates=rates, answers=told)
    own = _own_change(moves, explained)
    return Drift(lead, alarm, change, moves, explained, also, ended, own)


def _events(watched: Mapping[str, Watched], start: int) -> list[tuple[str, Alarm]]:
    """First alarm of each departure: alarms within a few shifts of one another are one."""
    alarms = [(f, a) for f, one in watched.items() for a in alarms_of(one.charts, start)]
    found: list[tuple[str, Alarm]] = []
    for feature, alarm in sorted(alarms, key=lambda pair: pair[1].shift):
        if not found or alarm.shift - found[-1][1].shift > _TOGETHER:
            found.append((feature, alarm))
    return found


def _drifts(
    watched: Mapping[str, Watched], events: list[tuple[str, Alarm]], baseline: BoolArray,
    start: IntArray, rates: Mapping[str, float] | None, answers: Answers,
) -> list[Drift]:  # fmt: skip
    """Departures in order: while one lasts, later alarms are looked at against the time before it,
    and the last one with everything read since."""
    found: list[Drift] = []
    sound: int | None = None
    last, episode, over = baseline.size - 1, 0, -1
    for n, (feature, alarm) in enumerate(events):
        if 0 <= over <= alarm.shift:
            sound, over = None, -1
        following = events[n + 1][1].shift - 1 if n + 1 < len(events) else last
        look = _Look(baseline, sound, min(alarm.shift + AFTER, last))
        one = _drift(watched, feature, alarm, look, start, rates, answers)
        if one.ended is None and following == last and last - alarm.shift > AFTER:
            to_end = _Look(baseline, sound, last)
            later = _drift(watched, feature, alarm, to_end, start, rates, answers)
            one = min(one, later, key=lambda d: d.explained.nothing)
        episode += sound is None
        found.append(replace(one, episode=episode))
        if one.explained.nothing < 0.5 and not one.own:
            sound = one.began if sound is None else min(sound, one.began)
            over = -1 if one.ended is None else one.ended
    return found


def investigate(
    table: ShiftTable,
    balance: BalanceTable,
    baseline: BoolArray,
    *,
    expectation: Expectation | None = None,
    slopes: ExpectedResponse | None = None,
    start: int | None = None,
    most: int = 40,
    rates: Mapping[str, float] | None = None,
    answers: Answers = None,
) -> Watching:
    """Watch every shift after the baseline; date and explain what left its usual level.

    ``expectation`` is a press model's; without one a baseline law is fitted to the shifts of
    ``baseline``. ``slopes`` replaces the documented table behind that law; ``rates`` are the base
    rates of causes; ``answers`` gives the outcomes of deciding tests for an alarm at a shift.

    Raises
    ------
    DataError
        If the baseline is too short to say what is usual.
    """
    conditions, responses = conditions_of(table, balance), responses_of(table, balance)
    law: Expectation | BaselineLaw = expectation or fit_baseline(
        conditions, responses, baseline, slopes
    )
    expected = law.expected(conditions)
    fresh = {} if expectation else _fresh_residuals(conditions, responses, baseline, slopes)
    series = _series(conditions, responses, expected, balance)
    series["dose"] = _logs(_solution_per_solids(table, balance, conditions), "dose")
    series |= _checks(table, baseline)
    watched = _watched(series, baseline, fresh)
    for name, one in expected.items():
        if f"r_{name}" in watched and isinstance(law, BaselineLaw):
            spread = np.sqrt(np.maximum(one.log_spread**2 - law.laws[name].scatter ** 2, 0.0))
            watched[f"r_{name}"] = replace(watched[f"r_{name}"], doubt=spread)
    first = int(np.flatnonzero(baseline)[-1]) + 1 if start is None else start
    events = _events(watched, first)
    drifts = _drifts(watched, events, baseline, table.start, rates, answers)[-most:]
    charts = sum(len(one.charts) for one in watched.values())
    day = 86400.0 / float(np.median(table.span)) if table.size else 3.0
    used = {*CONDITIONS, "mixer_speed", "wash_flow", "polymer_strength"}
    missing = tuple(
        FEATURES[f]
        for f in FEATURES
        if f not in watched and f.removeprefix("r_") in used | set(RESPONSES)
    )
    return Watching(
        law, expected, watched, tuple(drifts),
        expected_false_alarms(charts, BETWEEN, 30.4 * day), missing,
    )  # fmt: skip
