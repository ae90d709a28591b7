"""Tuning runs planned within a site's safe limits, and what they show once they are made."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from cakewright.errors import DataError, Fault
from cakewright.quantities import FloatArray
from cakewright.running.diagnosis import Caution, cautions
from cakewright.running.reconcile import BALANCE_KEYS, reconcile_shifts
from cakewright.running.shifts import ShiftTable
from cakewright.running.site import Site
from cakewright.running.tuning import (
    BestSetting,
    Factor,
    Response,
    TrialPlan,
    analyse_response,
    best_setting,
    disposal_cost,
    next_best_run,
    plan_trials,
)

__all__ = ["CommissionFindings", "CommissionPlan", "evaluate_tuning", "plan_tuning"]

RULES = (
    "Make the runs in the order given; it is drawn at random so that a drift of the feed does not "
    "pose as an effect.",
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
    least_capture: float
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


def _care() -> tuple[Caution, ...]:
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
    return CommissionPlan(site, plan, RULES, _care())


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


def _notes(responses: Mapping[str, Response], site: Site, told_today: bool) -> tuple[str, ...]:
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
    if not told_today:
        notes.append("Today's setting was not given; the middle of the safe limits stands for it.")
    return tuple(notes)


def evaluate_tuning(
    site: Site,
    results: Mapping[str, FloatArray],
    factors: Sequence[str] = (),
    least_capture: float = 0.0,
) -> CommissionFindings:
    """Surfaces of cake and capture over the runs, best setting by cost, saving, next run.

    ``results`` are SI arrays, one value per run, of settings as run, cake solids and capture (or
    the readings of the balance, from which capture is reckoned).

    Raises
    ------
    DataError
        If columns are missing, runs are too few, or no setting keeps the capture.
    """
    chosen = _factors(site, factors)
    found = _with_balance(site, results)
    _need(found, [*(f.key for f in chosen), "cake_solids", "capture"])
    settings = {f.key: found[f.key] for f in chosen}
    responses = {
        name: analyse_response(chosen, settings, name, found[name])
        for name in ("cake_solids", "capture")
    }
    told = all(f.key in site.today for f in chosen)
    today = {f.key: site.today.get(f.key, (f.low + f.high) / 2) for f in chosen}
    cost = disposal_cost(site.prices)
    if "polymer_dose" not in settings:
        dose = float(np.nanmean(found["polymer_dose"])) if "polymer_dose" in found else 0.0
        priced = cost

        def cost(state: Mapping[str, FloatArray]) -> FloatArray:
            return priced({**state, "polymer_dose": np.asarray(dose)})

    best = best_setting(chosen, responses, today, cost, least_capture)
    runs = int(np.isfinite(found["cake_solids"]).sum())
    return CommissionFindings(
        site, chosen, runs, responses, best, today,
        next_best_run(chosen, settings, best.settings), least_capture,
        _notes(responses, site, told), _care(),
    )  # fmt: skip
