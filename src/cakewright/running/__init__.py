"""Log rows -> checks, reconciliation, indicators, drift, diagnosis."""

from cakewright.running.acceptance import AcceptanceResult, Protocol, TestRun, judge_acceptance
from cakewright.running.cleaning import Block, Change, Memory, clean, find_gaps
from cakewright.running.diagnosis import Cause, Diagnosis, Explained, Move, causes, diagnose
from cakewright.running.expectation import (
    BaselineLaw,
    Expectation,
    Expected,
    ExpectedResponse,
    PressResponse,
    expected_response,
    fit_baseline,
)
from cakewright.running.indicators import (
    Against,
    Indicator,
    Prices,
    Promise,
    against_promise,
    indicators,
    period_indicators,
)
from cakewright.running.investigate import Drift, Watching, investigate
from cakewright.running.learning import Contribution, FleetPrior, contribution, pool_fleet
from cakewright.running.practice_plant import invented_minutes, invented_runs, invented_shifts
from cakewright.running.reconcile import BalanceInput, BalanceTable, reconcile_shifts, standing_bias
from cakewright.running.service import quiet_times, shaft_states, wear_trend
from cakewright.running.set_point import Keep, best_setting
from cakewright.running.shifts import ShiftPlan, ShiftTable, join_shifts, shift_means, with_records
from cakewright.running.signals import Signal, signal, signals
from cakewright.running.site import Site, baseline_rows
from cakewright.running.tuning import (
    Factor,
    analyse_response,
    next_best_run,
    plan_trials,
)
from cakewright.running.watching import change_point, chart_limit, usual_level, watch

__all__ = [
    "AcceptanceResult",
    "Against",
    "BalanceInput",
    "BalanceTable",
    "BaselineLaw",
    "Block",
    "Cause",
    "Change",
    "Contribution",
    "Diagnosis",
    "Drift",
    "Expectation",
    "Expected",
    "ExpectedResponse",
    "Explained",
    "Factor",
    "FleetPrior",
    "Indicator",
    "Keep",
    "Memory",
    "Move",
    "PressResponse",
    "Prices",
    "Promise",
    "Protocol",
    "ShiftPlan",
    "ShiftTable",
    "Signal",
    "Site",
    "TestRun",
    "Watching",
    "against_promise",
    "analyse_response",
    "baseline_rows",
    "best_setting",
    "causes",
    "change_point",
    "chart_limit",
    "clean",
    "contribution",
    "diagnose",
    "expected_response",
    "find_gaps",
    "fit_baseline",
    "indicators",
    "invented_minutes",
    "invented_runs",
    "invented_shifts",
    "investigate",
    "join_shifts",
    "judge_acceptance",
    "next_best_run",
    "period_indicators",
    "plan_trials",
    "pool_fleet",
    "quiet_times",
    "reconcile_shifts",
    "shaft_states",
    "shift_means",
    "signal",
    "signals",
    "standing_bias",
    "usual_level",
    "watch",
    "wear_trend",
    "with_records",
]
