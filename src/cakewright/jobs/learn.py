"""Carry a site's months into what the next study of the same frame starts from."""

from __future__ import annotations

from collections.abc import Sequence

from cakewright.errors import DataError, Fault
from cakewright.running.expectation import ExpectedResponse
from cakewright.running.investigate import conditions_of, investigate, responses_of
from cakewright.running.learning import Contribution, FleetPrior, contribution, pool_fleet
from cakewright.running.reconcile import reconcile_shifts
from cakewright.running.shifts import ShiftTable
from cakewright.running.site import Site, baseline_rows

__all__ = ["learn_fleet", "learn_site"]


def learn_site(
    table: ShiftTable, site: Site, slopes: ExpectedResponse | None = None
) -> Contribution:
    """What one site's log says of its frame, without anything that names the site.

    Shifts from the first believed drift on are left out: a faulty press must not teach. ``slopes``
    (a fleet, a press model) only help to find that drift; what is handed on is the log's own.

    Raises
    ------
    DataError
        If the site has no frame or its log is too short.
    """
    if not site.frame:
        fault = Fault("site.frame", "nothing", "the frame of the press", 'frame = "..."')
        raise DataError(site.title, [fault])
    balance = reconcile_shifts(table, site.balance)
    watching = investigate(table, balance, baseline_rows(table, site), slopes=slopes, most=50)
    believed = [d.began for d in watching.drifts if d.explained.nothing < 0.5]
    good = table.run_time > 0
    if believed:
        good = good.copy()
        good[min(believed) :] = False
    return contribution(
        site.frame, conditions_of(table, balance), responses_of(table, balance), good
    )


def learn_fleet(contributions: Sequence[Contribution]) -> FleetPrior:
    """All contributions of one frame pooled.

    Raises
    ------
    DataError
        If frames are mixed or fewer than three different sites contribute.
    """
    return pool_fleet(contributions)
