"""Promises as plain data, SI, for scripts."""

from __future__ import annotations

import json
from dataclasses import asdict
from typing import Any

from cakewright.jobs.damages import Damages
from cakewright.jobs.findings import Findings
from cakewright.jobs.guarantee import Promised
from cakewright.jobs.pilot_worth import PilotWorth
from cakewright.quantities import house_name

__all__ = ["promises_json"]


def promises_json(findings: Findings, worth: PilotWorth | None = None) -> str:
    """Every promise with its risks, window and plan, and the pilot runs worth making."""
    if findings.decide is None:
        return "{}"
    found = findings.decide.guarantee
    data = {
        "title": findings.title,
        "invented": findings.invented,
        "machine": found.machine,
        "frame": found.frame,
        "machines": found.machines,
        "rule": found.rule.kind.value,
        "fewest_runs": found.rule.runs,
        "most_runs": found.rule.longest,
        "joint": asdict(found.joint),
        "joint_if_each_alone": found.joint_alone,
        "by_joint_chance": [
            {"chance": chance, **{p.name: v for p, v in zip(found.promises, values, strict=True)}}
            for chance, values in found.ladder
        ],
        "easing": [asdict(one) for one in found.easing],
        "damages": _damages(found.damages),
        "supplier_risk": found.supplier_risk,
        "buyer_risk": found.buyer_risk,
        "plan": asdict(found.plan),
        "window": [asdict(edge) for edge in found.window],
        "promises": [_promise(item) for item in found.promises],
        "pilot_runs": _pilot_runs(worth) if worth else [],
    }
    return json.dumps(data, indent=1, ensure_ascii=False, allow_nan=False)


def _damages(paid: Damages | None) -> dict[str, Any] | None:
    if paid is None:
        return None
    table = asdict(paid)
    return {**table, "cap": None if paid.cap == float("inf") else paid.cap}


def _promise(item: Promised) -> dict[str, Any]:
    band = item.expected.band
    return {
        "name": item.name,
        "unit": house_name(item.name).unit,
        "sense": item.sense,
        "expected": {"point": item.expected.point, "p10": band.p10, "p90": band.p90},
        "promise": asdict(item.recommended),
        "asked": asdict(item.asked) if item.asked else None,
        "relied_on": item.relied_on,
        "alone": item.alone,
        "errors": asdict(item.error),
        "by_chance": [{"chance": chance, "value": value} for chance, value in item.ladder],
        "test_uncertainty": item.measurement.deviation,
        "expanded": item.measurement.expanded,
        "guard": item.guard,
        "proof": [{"better_by": share, "samples": number} for share, number in item.proof],
        "basis": item.expected.basis.value,
        "mark": item.expected.mark.value,
    }


def _pilot_runs(worth: PilotWorth) -> list[dict[str, Any]]:
    gains = worth.gains or (None,) * len(worth.trials)
    return [
        {**asdict(trial), "narrowing": trial.narrowing, "promised_cake_gains": gain}
        for trial, gain in zip(worth.trials, gains, strict=True)
    ]
