"""From a site's shifts to what to know and do: on promise or not, what drifted, why, what first."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from cakewright.quantities import Band
from cakewright.running.diagnosis import Caution, base_rates, cautions
from cakewright.running.expectation import Expectation, ExpectedResponse, PressResponse
from cakewright.running.indicators import (
    Against,
    Indicator,
    against_promise,
    availability,
    indicators,
    period_indicators,
)
from cakewright.running.instruments import (
    InstrumentFault,
    Removed,
    instrument_faults,
    joined,
)
from cakewright.running.investigate import Answers, Drift, Watching, investigate
from cakewright.running.logbook import Entry, answers_at, learnt_rates
from cakewright.running.reconcile import (
    BalanceTable,
    Suspicion,
    reconcile_shifts,
    standing_bias,
)
from cakewright.running.service import (
    QuietTime,
    ShaftState,
    quiet_times,
    shaft_states,
    wear_trend,
)
from cakewright.running.shifts import ShiftTable, shift_utc
from cakewright.running.site import Site, baseline_rows
from cakewright.running.spares import PartDue, ServiceStop, parts_due, service_stop

if TYPE_CHECKING:
    from cakewright.machines.screw.change import Lever
    from cakewright.machines.screw.prediction import PressFindings

__all__ = ["LogTally", "WatchFindings", "Week", "press_response", "watch_site"]

WEEK = 7 * 86400
ACTIVE = 14 * 86400  # what is over, or was changed by hand, is told for so long


@dataclass(frozen=True, slots=True)
class LogTally:
    """One line of what cleaning did, as plain words and numbers."""

    what: str
    signal: str
    count: int


@dataclass(frozen=True, slots=True)
class Week:
    """One calendar week: indicators, hours, what the expectation gives for its feed."""

    start: int
    shifts: int
    found: Mapping[str, Against]
    expected: Mapping[str, Band]
    availability: float


@dataclass(frozen=True, slots=True, eq=False)
class WatchFindings:
    """Everything the watch found for one site."""

    site: Site
    table: ShiftTable
    balance: BalanceTable
    shifts: Mapping[str, Indicator]
    baseline: NDArray[np.bool_]
    watching: Watching
    weeks: tuple[Week, ...]
    month: Mapping[str, Against]
    promise: tuple[Against, ...]
    suspects: tuple[Suspicion, ...]
    shafts: tuple[ShaftState, ...]
    quiet: tuple[QuietTime, ...]
    loss_trend: tuple[float, float] | None
    parts: tuple[PartDue, ...]
    stop: ServiceStop | None
    tallies: tuple[LogTally, ...]
    notes: tuple[str, ...]
    cautions: tuple[Caution, ...]
    receipts: tuple[str, ...] = ()
    instruments: tuple[InstrumentFault, ...] = ()
    week: tuple[Against, ...] = ()
    week_expected: Mapping[str, Band] = field(default_factory=dict)
    book: tuple[Entry, ...] = ()

    @property
    def untrusted(self) -> tuple[InstrumentFault, ...]:
        """Readings that cannot be trusted now, those that stand still or are gone first."""
        end = int(self.table.start[-1])
        now = [one for one in self.instruments if not one.ended or end - one.until <= WEEK]
        return tuple(sorted(now, key=lambda one: (not one.alarm, one.ended, -one.until)))

    @property
    def over(self) -> tuple[Drift, ...]:
        """Departures of the last two weeks that are back at the usual level, newest first."""
        end = int(self.table.start[-1])
        return tuple(
            d for d in reversed(self.standing)
            if d.ended is not None and end - int(self.table.start[d.ended]) <= ACTIVE
        )  # fmt: skip

    @property
    def changes(self) -> tuple[Drift, ...]:
        """Settings changed by hand of late, to which the press answered as it should."""
        end = int(self.table.start[-1])
        return tuple(
            d for d in reversed(self.watching.drifts)
            if d.own and end - int(self.table.start[d.alarm.shift]) <= ACTIVE
        )  # fmt: skip

    @property
    def alarms(self) -> tuple[Drift, ...]:
        """Drifts that are believed and are no change somebody made and the press answered to."""
        return tuple(d for d in self.watching.drifts if d.explained.nothing < 0.5 and not d.own)

    @property
    def standing(self) -> tuple[Drift, ...]:
        """One drift for each episode of alarms: the one that says most clearly what it is."""
        best: dict[int, Drift] = {}
        for one in self.alarms:
            old = best.get(one.episode)
            if old is None or one.explained.nothing <= old.explained.nothing:
                best[one.episode] = one
        return tuple(best.values())

    @property
    def current(self) -> tuple[Drift, ...]:
        """Drifts that are believed and not over, whose alarms rang of late, newest first."""
        end = int(self.table.start[-1])
        rang = {d.episode: int(self.table.start[d.alarm.shift]) for d in self.watching.drifts}
        return tuple(
            d for d in reversed(self.standing)
            if d.ended is None and end - rang[d.episode] <= 2 * ACTIVE
        )  # fmt: skip


_PRESS_INPUTS = {
    "speed": "screw_speed",
    "back_pressure": "plate_pressure",
    "dry_solids_flow": "solids_load",
    "feed_solids": "feed_solids",
}


def _dose_elasticity(levers: Sequence[Lever], answer: str) -> float | None:
    """From the press model's answers at less and at more polymer; None if one has no answer."""
    points = sorted(
        (lever.factor, float(value))
        for lever in levers
        if lever.words == "polymer dose" and (value := getattr(lever, answer)) is not None
    )
    if len(points) < 2:
        return None
    (less, low), (more, high) = points[0], points[-1]
    return float(np.log(high / low) / np.log(more / less))


def press_response(press: PressFindings) -> PressResponse:
    """What a study's press prediction says of the slopes, for the watch of that press."""
    elasticity = {
        (one.answer, _PRESS_INPUTS[one.input]): one.elasticity
        for one in press.sensitivities
        if one.input in _PRESS_INPUTS
    }
    for answer in ("cake_solids", "capture"):
        dose = _dose_elasticity(press.levers, answer)
        if dose is not None:
            elasticity[answer, "dose"] = dose
    return PressResponse(elasticity, press.figures["capture"].point)


def _expected_band(watching: Watching, rows: NDArray[np.bool_]) -> Mapping[str, Band]:
    """Mean expectation of a period, with the spread of one shift about it."""
    found = {}
    names = {"cake_solids": "cake_solids", "loss": "capture"}
    for response, name in names.items():
        one = watching.expected.get(response)
        if one is None:
            continue
        good = rows & np.isfinite(one.log_mean)
        if not good.any():
            continue
        low, middle, high = (float(np.mean(x[good])) for x in (one.low(), one.mean, one.high()))
        found[name] = (
            Band(1 - high, 1 - middle, 1 - low) if response == "loss" else Band(low, middle, high)
        )
    return found


def _week(
    table: ShiftTable, found: Mapping[str, Indicator], watching: Watching, site: Site, start: int
) -> Week:
    rows = (table.start >= start) & (table.start < start + WEEK)
    return Week(
        start, int((rows & (table.run_time > 0)).sum()),
        period_indicators(found, table, rows), _expected_band(watching, rows),
        availability(table, rows, site.planned),
    )  # fmt: skip


def _week_starts(table: ShiftTable) -> Sequence[int]:
    """Mondays (local clock) of the weeks in the log; day 4 of 1970 was a Monday."""
    monday = 4 * 86400
    first = int((table.start[0] - monday) // WEEK)
    last = int((table.start[-1] - monday) // WEEK)
    return [monday + k * WEEK for k in range(first, last + 1)]


def _notes(site: Site, table: ShiftTable, balance: BalanceTable, watching: Watching) -> list[str]:
    notes = []
    if site.prices.left_out:
        notes.append(f"Cost leaves out (no price given): {', '.join(site.prices.left_out)}.")
    if site.prices.carbon_left_out:
        notes.append(f"Carbon leaves out: {', '.join(site.prices.carbon_left_out)}.")
    run = table.run_time > 0
    none = int((run & ~np.isfinite(balance.capture)).sum())
    if none:
        notes.append(f"{none} running shifts have too few readings for a balance.")
    if run.any() and not (balance.freedom[run] > 0).any():
        notes.append("No shift has a reading to spare: balances are used but nothing checks them.")
    if watching.not_watched:
        notes.append(f"Not watched, for want of readings: {', '.join(watching.not_watched)}.")
    return notes


def _rates(table: ShiftTable, site: Site, book: Sequence[Entry]) -> Mapping[str, float]:
    """Base rates of causes: the table's for this sludge, the site's own, what the book taught."""
    years = float(table.start[-1] - table.start[0]) / (365.25 * 86400) if table.size else 0.0
    return learnt_rates(book, years, base_rates(site.sludge, site.cause_rates))


def _answers(table: ShiftTable, site: Site, book: Sequence[Entry]) -> Answers:
    """Outcomes of deciding tests written down since an alarm."""
    moments = shift_utc(table, site.plan)
    return (lambda shift: answers_at(book, int(moments[shift]))) if book else None


def _week_against(period: Mapping[str, Against], site: Site) -> tuple[Against, ...]:
    """The last seven days against the promise; nothing where they say nothing of it."""
    return against_promise(period, site.promise) if set(period) & set(site.promise.values) else ()


_WEAR = frozenset({"ring_wear"})


def _loss_trend(table: ShiftTable, watching: Watching) -> tuple[float, float] | None:
    """Solids lost at equal feed, settings and dose, per 1000 h of running: a sign of worn gaps.

    Shifts from the first believed drift on that is not wear are left out: weak polymer is no wear.
    """
    one = watching.watched.get("r_loss")
    if one is None:
        return None
    other = [
        d.began for d in watching.drifts
        if d.explained.nothing < 0.5 and d.explained.causes[0].cause.key not in _WEAR
    ]  # fmt: skip
    series = one.series.copy()
    series[min(other, default=series.size) :] = np.nan
    return wear_trend(series, np.cumsum(table.run_time) / 3600.0)


def watch_site(
    table: ShiftTable,
    site: Site,
    *,
    expectation: Expectation | None = None,
    slopes: ExpectedResponse | None = None,
    tallies: Sequence[LogTally] = (),
    load_notes: Sequence[str] = (),
    receipts: Sequence[str] = (),
    removed: Sequence[Removed] = (),
    book: Sequence[Entry] = (),
) -> WatchFindings:
    """Reconcile, reckon, watch and explain one site's shifts.

    ``slopes`` is what the watch starts from where the log cannot tell: a press model
    (`press_response`) or a fleet in place of the documented table.

    Raises
    ------
    DataError
        If the log is too short or too bare to say what is usual.
    """
    table, instruments = instrument_faults(table, removed)
    baseline = baseline_rows(table, site)
    table = joined(table, baseline)
    balance = reconcile_shifts(table, site.balance)
    found = indicators(table, balance, site.prices)
    watching = investigate(
        table, balance, baseline, expectation=expectation, slopes=slopes,
        rates=_rates(table, site, book), answers=_answers(table, site, book),
    )  # fmt: skip
    month = table.start >= table.start[-1] - 28 * 86400
    period = period_indicators(found, table, month)
    recent = np.flatnonzero(month & (table.run_time > 0))
    week = table.start > table.start[-1] - WEEK
    drifts = [d for d in watching.drifts if d.explained.nothing < 0.5]
    keys = dict.fromkeys(
        key for d in drifts for one in d.explained.causes[:3] for key in one.cause.cautions
    )
    shafts = shaft_states(table, balance.solids_load, site.service_interval, site.serviced)
    quiet = (
        quiet_times(table, balance.solids_load, site.shafts, site.shaft_capacity)
        if site.shaft_capacity else ()
    )  # fmt: skip
    lost = _loss_trend(table, watching)
    due = parts_due(table, site.parts, shafts, lost, site.replaced)
    return WatchFindings(
        site=site, table=table, balance=balance, shifts=found, baseline=baseline,
        watching=watching,
        weeks=tuple(_week(table, found, watching, site, start) for start in _week_starts(table)),
        month=period,
        promise=against_promise(period, site.promise),
        suspects=standing_bias(balance, recent),
        shafts=shafts, quiet=tuple(quiet), loss_trend=lost, parts=due,
        stop=service_stop(shafts, due, quiet),
        tallies=tuple(tallies),
        notes=(*load_notes, *_notes(site, table, balance, watching)),
        cautions=tuple(cautions()[key] for key in (keys or {"rotating": None})),
        receipts=tuple(receipts),
        instruments=instruments,
        week=_week_against(period_indicators(found, table, week), site),
        week_expected=_expected_band(watching, week),
        book=tuple(book),
    )  # fmt: skip
