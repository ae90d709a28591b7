"""Sections of the running room -> HTML and PDF, in the look of every other report."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any

from cakewright.jobs.watch import WatchFindings
from cakewright.reports.content import Section
from cakewright.reports.html import page_html
from cakewright.reports.numbers import Units
from cakewright.reports.pdf import sections_data, set_pages
from cakewright.reports.running_engineer import engineer_sections
from cakewright.reports.running_operator import operator_sections
from cakewright.reports.running_shift import shift_page
from cakewright.reports.running_words import day

__all__ = ["sections_page", "sections_pdf", "watch_json", "watch_outputs"]


def sections_page(title: str, site: str, sections: Sequence[Section], *, invented: bool) -> str:
    """One HTML page that needs nothing else."""
    return page_html(title, site, sections, invented=invented)


def sections_pdf(
    title: str, site: str, sections: Sequence[Section], units: Units, *, invented: bool
) -> bytes:
    """The same sections as PDF.

    Raises
    ------
    OutputError
        If the pages cannot be set.
    """
    head: dict[str, str | bool] = {"title": title, "site": site, "invented": invented}
    return set_pages(sections_data(head, sections, units))


def _both(
    name: str, title: str, site: str, sections: Sequence[Section], units: Units, invented: bool
) -> dict[str, str | bytes]:
    return {
        f"{name}.html": sections_page(title, site, sections, invented=invented),
        f"{name}.pdf": sections_pdf(title, site, sections, units, invented=invented),
    }


def watch_outputs(findings: WatchFindings, units: Units = Units.SI) -> Mapping[str, str | bytes]:
    """Operator's page and engineer's report (HTML and PDF), and the findings as JSON."""
    site = findings.site
    until = day(int(findings.table.start[-1]))
    outputs = _both(
        "operator", "How the press is doing", site.title,
        operator_sections(findings, units), units, site.invented,
    )  # fmt: skip
    outputs |= _both(
        "engineer", f"Running report to {until}", site.title,
        engineer_sections(findings, units), units, site.invented,
    )  # fmt: skip
    outputs["shift.html"] = shift_page(findings, units)
    outputs["watch.json"] = json.dumps(watch_json(findings), indent=1, ensure_ascii=False)
    return outputs


def watch_json(findings: WatchFindings) -> dict[str, Any]:
    """Findings as plain data in SI, for scripts."""
    start = findings.table.start
    return {
        "site": findings.site.key,
        "invented": findings.site.invented,
        "shifts": findings.table.size,
        "promise": [
            {
                "name": p.name, "value": p.value, "spread": p.spread, "promised": p.promised,
                "chance": p.chance, "coverage": p.coverage,
            }
            for p in findings.promise
        ],
        "month": {
            k: {"value": v.value, "spread": v.spread, "coverage": v.coverage}
            for k, v in findings.month.items()
        },
        "drifts": [
            {
                "began": int(start[d.began]), "alarm": int(start[d.alarm.shift]),
                "feature": d.feature, "false_alarm": d.explained.nothing,
                "moves": {k: m.size for k, m in d.moves.items()},
                "causes": [
                    {"key": c.cause.key, "label": c.cause.label, "share": c.share}
                    for c in d.explained.causes[:5]
                ],
            }
            for d in findings.watching.drifts
        ],
        "suspects": [
            {"signal": s.key, "bias": s.bias, "score": s.score, "alike": list(s.alike)}
            for s in findings.suspects
        ],
        "parts": [
            {
                "part": p.part.key, "shaft": p.shaft, "used": p.used, "due_in": p.due_in,
                "order_in": p.order_in, "by": p.by, "mark": p.part.mark.value,
            }
            for p in findings.parts
        ],
        "next_stop": None if findings.stop is None else {
            "shaft": findings.stop.shaft, "due_in": findings.stop.due_in, "why": findings.stop.why,
            "at": findings.stop.quiet.start if findings.stop.quiet else None,
            "carried": findings.stop.quiet.carried if findings.stop.quiet else None,
        },
        "false_alarms_per_month": findings.watching.false_alarms_per_month,
        "changes": [
            {"what": t.what, "signal": t.signal, "count": t.count} for t in findings.tallies
        ],
        "notes": list(findings.notes),
        "receipts": list(findings.receipts),
    }  # fmt: skip
