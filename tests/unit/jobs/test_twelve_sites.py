"""The choice on twelve invented sites, beside whom a practitioner would take and why."""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from cakewright.jobs.evaluate import evaluate
from cakewright.jobs.findings import Findings
from cakewright.study import parse_study

Site = dict[str, Any]


def _sites() -> list[Site]:
    text = (Path(__file__).parent / "twelve_sites.toml").read_text(encoding="utf-8")
    return list(tomllib.loads(text)["site"])


@cache
def _found(name: str) -> Findings:
    site = next(s for s in _sites() if s["name"] == name)
    text = f"""cakewright = 1
title = "{name}"
site = "invented"
invented = true
currency = "EUR"
price_year = 2026
[[sludge]]
name = "sludge"
class = "{site["class"]}"
flow = "{site["flow"]} m3/d"
total_solids = "{site["solids"]} %"
ash = "{site["ash"]} %"
oil = "{site["oil"]} %"
[duty]
hours_per_day = "{site.get("hours", 8)} h/d"
days_per_week = {site.get("days", 5)}
[target]
cake_solids = "{site["cake"]} %"
capture = "{site["capture"]} %"
cake_is = "{site.get("is", "a wish")}"
[sampling]
samples = 64
"""
    return evaluate(parse_study(text), with_press=False, with_decision=False)


@pytest.mark.parametrize("site", _sites(), ids=lambda s: str(s["name"]))
def test_choice_is_a_practitioners_or_says_why_not(site: Site) -> None:
    """One of the practitioner's kinds; or the figures that decide stand with the answer."""
    decision = _found(site["name"]).decision
    assert decision.meets
    assert decision.runner_up is None or decision.runner_up.dearer >= 0.0
    if decision.machine not in site["takes"]:
        assert decision.trade is not None, (decision.machine, site["why"])
        assert decision.trade.parts
