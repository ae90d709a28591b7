"""A site file drafted from a study: what it promised and pays is what the watch compares with."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping

from cakewright.jobs.findings import Findings
from cakewright.quantities import Given, from_si, house_name
from cakewright.storage.logs.site_file import PROMISES

__all__ = ["draft_site"]

_PRICES = {
    "power": "prices.power", "water": "prices.water", "cake": "prices.disposal",
    "carbon_power": "carbon.grid", "carbon_polymer": "carbon.polymer",
}  # fmt: skip
_HEAD = """\
# What the watch compares the plant with; drafted from the study. Change what the plant agreed to
# or pays otherwise, and its shifts. A line begins with # to be left out.
"""


def draft_site(findings: Findings, time_zone: str = "UTC") -> str:
    """A site file (TOML) with the study's promises and prices."""
    givens = {given.where: given for given in findings.givens}
    parts = [_HEAD, *_site(findings, givens), *_shifts(time_zone)]
    parts += ["[promise]", *_promises(findings), ""]
    parts += ["[prices]", f"currency = {json.dumps(findings.currency)}"]
    parts += [*_prices(givens, findings.currency), ""]
    return "\n".join(parts)


def _site(findings: Findings, givens: Mapping[str, Given]) -> Iterator[str]:
    yield "[site]"
    yield 'key = "site"'
    yield f"title = {json.dumps(findings.site or findings.title, ensure_ascii=False)}"
    yield f"frame = {json.dumps(findings.decision.frame, ensure_ascii=False)}"
    yield f"shafts = {max(1, min(8, findings.decision.shafts))}"
    yield f"invented = {'true' if findings.invented else 'false'}"
    hours, days = givens.get("duty.hours_per_day"), givens.get("duty.days_per_week")
    if hours and days:
        share = hours.value * days.value / 7.0
        yield f'planned = "{100 * min(1.0, share):.3g} %"   # share of the week the press may run'
    yield ""


def _shifts(time_zone: str) -> Iterator[str]:
    yield "[shifts]"
    yield f"time_zone = {json.dumps(time_zone)}"
    yield 'first = "6 h"'
    yield 'length = "8 h"'
    yield ""
    yield "# [baseline]                    # a stretch in which the press did well;"
    yield '# first = "2026-01-01"           # without it the first third of the log'
    yield '# last = "2026-02-15"'
    yield ""


def _promises(findings: Findings) -> Iterator[str]:
    """What was asked for, else what can be promised with the chance the study wants."""
    promised = findings.decide.guarantee.promises if findings.decide else ()
    for one in promised:
        if one.name in PROMISES:
            entry = house_name(one.name)
            value = float(from_si(one.offered.value, entry.unit, entry.shown))
            yield f'{one.name} = "{value:.4g} {entry.shown}"'


def _prices(givens: Mapping[str, Given], currency: str) -> Iterator[str]:
    polymer, activity = givens.get("prices.polymer"), givens.get("polymer.activity")
    if polymer and activity and activity.value > 0:
        yield f'polymer = "{polymer.value / activity.value:.4g} {currency}/kg"   # active'
    for key, where in _PRICES.items():
        given = givens.get(where)
        if given is not None and given.as_written:
            yield f"{key} = {json.dumps(given.as_written, ensure_ascii=False)}"
