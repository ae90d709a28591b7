"""An acceptance test judged by the protocol agreed beforehand."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from cakewright.running.acceptance import (
    AcceptanceResult,
    Guarantee,
    Protocol,
    TestRun,
    judge_acceptance,
)
from cakewright.running.expectation import ExpectedResponse
from cakewright.running.reconcile import BalanceInput

if TYPE_CHECKING:
    from cakewright.jobs.guarantee import GuaranteeFindings

__all__ = ["judge_test", "protocol_from"]

_FEED = {"total_solids": "feed_solids", "temperature": "feed_temperature"}


def protocol_from(found: GuaranteeFindings) -> Protocol:
    """The protocol a study's guarantee asks for: what is offered, rule, errors, window, runs.

    The rule and the errors are those the chances were played with, so that the test judges as was
    promised. A value asked for stands before the recommended one. Feed properties that no reading
    of a test run gives (ash, oil) stay with the laboratory and are not part of the window here.
    """
    guarantees = tuple(Guarantee(one.name, one.offered.value) for one in found.promises)
    window = {_FEED[one.name]: (one.low, one.high) for one in found.window if one.name in _FEED}
    return Protocol(
        guarantees, window, shortest=found.plan.run_time,
        fewest_samples=found.plan.samples, fewest_runs=found.plan.runs,
        wrong_pass=found.buyer_risk, wrong_fail=found.supplier_risk,
        rule=found.rule.kind, most_runs=found.rule.longest,
        errors={one.name: one.error for one in found.promises},
    )  # fmt: skip


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
