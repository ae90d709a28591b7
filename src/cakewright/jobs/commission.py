"""Tuning runs planned within a site's safe limits, and what they show once they are made."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from cakewright.errors import DataError, Fault
from cakewright.quantities import Band, FloatArray
from cakewright.running.diagnosis import Caution, cautions
from cakewright.running.expectation import fit_baseline, in_logs
from cakewright.running.investigate import conditions_of, responses_of
from cakewright.running.reconcile import BALANCE_KEYS, WATER, reconcile_shifts
from cakewright.running.set_point import BestSetting, Keep, best_setting, disposal_cost
from cakewright.running.shifts import ShiftTable
from cakewright.running.site import Site
from cakewright.running.tuning import (
    Factor,
    Response,
    TrialPlan,
    analyse_response,
    next_best_run,
    plan_trials,
)

__all__ = [
    "RULES",
    "Coming",
    "CommissionFindings",
    "CommissionPlan",
    "coming_weeks",
    "evaluate_tuning",
    "plan_tuning",
    "tuning_cautions",
]

RULES = (
    "Make the runs in the order given; it is drawn at random so that a drift of the feed does not "
    "pose as an effect. The runs of a day belong together: each day has one at the centre.",
    "After a change wait three residence times of the press and the flocculation tank, then "
    "sample feed, cake and filtrate together, twice, half an hour apart.",
    "Write down settings as they were, not as they were meant to be.",
    "Stop a run and go back to today's setting if the flocculation tank nears its overflow, "
    "torque nears its limit, or the filtrate runs thick.",
)


@dataclass(frozen=True, slots=True)
class CommissionPlan:
    """Runs to make, rules to make them by, cautions."""

    site: Site
    plan: TrialPlan
    rules: tuple[str, ...]
    cautions: tuple[Caution, ...]


_FEED = ("feed_solids", "feed_temperature")
_DAY = 86400


@dataclass(frozen=True, slots=True)
class Coming:
    """The coming weeks, taken as the last ones of the log (SI).

    ``mass`` is dry solids a week with its spread; ``feed`` maps a condition to its value in the
    runs and now; ``shift`` the change of the natural logarithm of cake and loss, with its spread.
    """

    mass: float
    mass_spread: float
    feed: Mapping[str, tuple[float, float]]
    shift: Mapping[str, tuple[float, float]]


@dataclass(frozen=True, slots=True, eq=False)
class CommissionFindings:
    """What the runs showed: a surface per response, the best setting, the next run to make."""

    site: Site
    factors: tuple[Factor, ...]
    runs: int
    responses: Mapping[str, Response]
    best: BestSetting
    today: Mapping[str, float]
    next_run: Mapping[str, float]
    coming: Coming | None
    weekly_saving: Band | None
    notes: tuple[str, ...]
    cautions: tuple[Caution, ...]


def _factors(site: Site, keys: Sequence[str]) -> tuple[Factor, ...]:
    chosen = tuple(keys) or tuple(site.limits)
    faults = [
        Fault(f"limits.{key}", "no safe limits", "low and high in the site file",
              f'{key} = ["...", "..."] under [limits]')
        for key in chosen if key not in site.limits
    ]  # fmt: skip
    if faults or not chosen:
        more = [] if faults else [Fault("limits", "none", "at least one setting", "[limits]")]
        raise DataError(site.title, faults or more)
    return tuple(Factor(key, *site.limits[key]) for key in chosen)


def tuning_cautions() -> tuple[Caution, ...]:
    """What can hurt somebody while runs are made."""
    return tuple(cautions()[key] for key in ("rotating", "pressure", "polymer", "biological"))


def plan_tuning(
    site: Site,
    factors: Sequence[str] = (),
    *,
    second_order: bool = True,
    centres: int = 5,
    seed: int = 1,
) -> CommissionPlan:
    """Runs over the settings named (all with safe limits if none is named).

    Raises
    ------
    DataError
        If a setting has no safe limits in the site file.
    """
    chosen = _factors(site, factors)
    plan = plan_trials(chosen, second_order=second_order, centres=centres, seed=seed)
    return CommissionPlan(site, plan, RULES, tuning_cautions())


def _as_shifts(results: Mapping[str, FloatArray]) -> ShiftTable:
    size = next(iter(results.values())).size
    hours = np.full(size, 3600.0)
    cover = {key: np.isfinite(value).astype(float) for key, value in results.items()}
    start = np.arange(size, dtype=np.int64) * 3600
    return ShiftTable(start, hours, hours, hours, np.zeros(size), dict(results), cover)


def _with_balance(site: Site, results: Mapping[str, FloatArray]) -> dict[str, FloatArray]:
    """Results with capture and dose reckoned from the balance where they were not given."""
    found = dict(results)
    if not set(results) & set(BALANCE_KEYS[:2]):
        return found
    balance = reconcile_shifts(_as_shifts(results), site.balance)
    if "capture" not in found:
        found["capture"] = balance.capture
    if "polymer_dose" not in found and "polymer_flow" in results:
        found["polymer_dose"] = balance.dose
    return found


def _need(results: Mapping[str, FloatArray], keys: Sequence[str]) -> None:
    faults = [
        Fault(key, "no values", "a column of the results", f"add a column '{key} [unit]'")
        for key in keys
        if key not in results or not np.isfinite(results[key]).any()
    ]
    if faults:
        raise DataError("tuning runs", faults)


def _notes(
    responses: Mapping[str, Response], site: Site, left: Sequence[str], *, told_today: bool
) -> tuple[str, ...]:
    notes = []
    for name, one in responses.items():
        if one.lack is not None and one.lack.chance < 0.05:
            notes.append(
                f"{name.replace('_', ' ')}: the surface misses more than repeats explain "
                f"(chance {one.lack.chance:.3f}); trust its optimum less, repeat near it."
            )
        if one.surface.r_squared < 0.5:
            notes.append(
                f"{name.replace('_', ' ')}: under half of the scatter follows the settings."
            )
    if site.prices.left_out:
        notes.append(f"The cost leaves out (no price): {', '.join(site.prices.left_out)}.")
    if left:
        words = ", ".join(name.replace("_", " ") for name in left)
        notes.append(f"Not read in these runs, so that its stop cannot be kept watch on: {words}.")
    if not told_today:
        notes.append("Today's setting was not given; the middle of the safe limits stands for it.")
    return tuple(notes)


def _with_load(results: dict[str, FloatArray]) -> None:
    """Throughput and power per dry solids, where the runs carry what they follow from."""
    if "dry_solids_flow" not in results and {"feed_flow", "feed_solids"} <= set(results):
        results["dry_solids_flow"] = results["feed_flow"] * WATER * results["feed_solids"]
    if {"dry_solids_flow", "drive_power"} <= set(results):
        results["specific_energy"] = results["drive_power"] / results["dry_solids_flow"]


def _keeps(
    site: Site, found: Mapping[str, FloatArray], least_capture: float, least_load: float
) -> tuple[tuple[Keep, ...], tuple[str, ...]]:
    """What a setting must keep, and the stops of the site that these runs did not read."""
    keeps = [Keep("capture", least_capture)] if least_capture else []
    if least_load:
        _need(found, ["dry_solids_flow"])
        keeps.append(Keep("dry_solids_flow", least_load))
    read = {key for key in site.stops if key in found and np.isfinite(found[key]).any()}
    keeps += [Keep(key, high=value) for key, value in site.stops.items() if key in read]
    return tuple(keeps), tuple(key for key in site.stops if key not in read)


def coming_weeks(table: ShiftTable, site: Site, results: Mapping[str, FloatArray]) -> Coming:
    """Load and feed to expect, as of the last weeks of the log, and what that feed changes.

    The change of cake and loss from the feed of the runs follows from the slopes of the site's
    own law over feed solids and temperature.

    Raises
    ------
    DataError
        If the log is too short for a law.
    """
    balance = reconcile_shifts(table, site.balance)
    conditions, run = conditions_of(table, balance), table.run_time > 0
    law = fit_baseline(conditions, responses_of(table, balance), run)
    recent = run & (table.start >= table.start[-1] - 28 * _DAY)
    now = {key: float(np.nanmedian(conditions[key][recent])) for key in law.conditions}
    then = {
        key: float(np.nanmedian(results[key]))
        for key in _FEED if key in results and np.isfinite(results[key]).any()
    }  # fmt: skip
    keys = [key for key in law.conditions if key in then and np.isfinite(now[key])]
    step = np.zeros(len(law.conditions))
    for key in keys:
        pair = {key: np.array([now[key], then[key]])}
        lines = in_logs(pair, (key,))[:, 0]
        step[law.conditions.index(key)] = float(lines[0] - lines[1])
    shift = {
        name: (float(step @ one.parameters[1:]),
               _root(step @ one.covariance[1:, 1:] @ step))
        for name, one in law.laws.items() if name in ("cake_solids", "loss")
    }  # fmt: skip
    mass, spread = _weekly(table, balance.solids_load)
    return Coming(mass, spread, {k: (then[k], now[k]) for k in keys}, shift)


def _root(variance: FloatArray) -> float:
    return float(np.sqrt(np.maximum(variance, 0.0)))


def _weekly(table: ShiftTable, load: FloatArray) -> tuple[float, float]:
    """Dry mass of a week and its spread, from the whole weeks of the last eight."""
    age = (table.start[-1] + table.span[-1] - table.start) // (7 * _DAY)
    mass = np.nan_to_num(load) * table.run_time
    whole = int(min((table.start[-1] - table.start[0]) // (7 * _DAY), 8))
    weeks = np.array([mass[age == k].sum() for k in range(max(whole, 1))])
    return float(weeks.mean()), float(weeks.std(ddof=1)) if weeks.size > 1 else 0.0


def _weekly_saving(best: BestSetting, coming: Coming) -> Band:
    """Money a week: draws of the saving with draws of the week's mass."""
    normal = np.random.default_rng(4).standard_normal(best.saving_draws.size)
    mass = np.maximum(coming.mass + coming.mass_spread * normal, 0.0)
    low, middle, high = np.quantile(best.saving_draws * mass, (0.1, 0.5, 0.9))
    return Band(float(low), float(middle), float(high))


def evaluate_tuning(
    site: Site,
    results: Mapping[str, FloatArray],
    factors: Sequence[str] = (),
    least_capture: float = 0.0,
    least_load: float = 0.0,
    log: ShiftTable | None = None,
) -> CommissionFindings:
    """Surfaces over the runs, best setting by cost within what must be kept, saving, next run.

    ``results`` are SI arrays, one value per run, of settings as run, cake solids and capture (or
    the readings of the balance, from which capture is reckoned). ``least_load`` is the dry solids
    per time that must pass; stops of the site are kept where the runs read them; ``log`` gives
    load and feed of the coming weeks.

    Raises
    ------
    DataError
        If columns are missing, runs are too few, or no setting keeps what must be kept.
    """
    chosen = _factors(site, factors)
    found = _with_balance(site, results)
    _with_load(found)
    _need(found, [*(f.key for f in chosen), "cake_solids", "capture"])
    keeps, left = _keeps(site, found, least_capture, least_load)
    settings = {f.key: found[f.key] for f in chosen}
    energy = ["specific_energy"] if site.prices.power and "specific_energy" in found else []
    names = dict.fromkeys(["cake_solids", "capture", *(k.name for k in keeps), *energy])
    responses = {name: analyse_response(chosen, settings, name, found[name]) for name in names}
    today = {f.key: site.today.get(f.key, (f.low + f.high) / 2) for f in chosen}
    fixed = {}
    if "polymer_dose" not in settings:
        given = "polymer_dose" in found
        fixed["polymer_dose"] = float(np.nanmean(found["polymer_dose"])) if given else 0.0
    coming = coming_weeks(log, site, found) if log is not None else None
    best = best_setting(
        chosen, responses, today, disposal_cost(site.prices), keeps,
        fixed=fixed, shift=coming.shift if coming else {},
    )  # fmt: skip
    told = all(f.key in site.today for f in chosen)
    return CommissionFindings(
        site, chosen, int(np.isfinite(found["cake_solids"]).sum()), responses, best, today,
        next_best_run(chosen, settings, best.settings), coming,
        _weekly_saving(best, coming) if coming else None,
        _notes(responses, site, left, told_today=told), tuning_cautions(),
    )  # fmt: skip
