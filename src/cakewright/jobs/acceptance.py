"""An acceptance test judged by the protocol agreed beforehand."""

from __future__ import annotations

from collections.abc import Sequence

from cakewright.running.acceptance import AcceptanceResult, Protocol, TestRun, judge_acceptance
from cakewright.running.expectation import ExpectedResponse
from cakewright.running.reconcile import BalanceInput

__all__ = ["judge_test"]


def judge_test(
    protocol: Protocol,
    runs: Sequence[TestRun],
    given: BalanceInput | None = None,
    slopes: ExpectedResponse | None = None,
) -> AcceptanceResult:
    """Validity of each run, reconciliation, uncertainty budget, verdict with its risks.

    Raises
    ------
    DataError
        If the protocol names nothing that can be judged, or no run is valid.
    """
    return judge_acceptance(protocol, runs, given, slopes)
