"""Everything the bench job writes: report, law, figures, data."""

from __future__ import annotations

import json
from typing import Any

from cakewright.jobs.bench import BenchFindings, SludgeBench
from cakewright.reports.bench_figures import figure_bench_curve
from cakewright.reports.bench_law import (
    agreement_section,
    answer_section,
    figure_key,
    law_section,
    next_section,
    slug,
)
from cakewright.reports.bench_tests import (
    annex_section,
    bad_section,
    caution_section,
    dose_section,
    source_section,
    tests_section,
)
from cakewright.reports.content import Section
from cakewright.reports.numbers import Units
from cakewright.reports.running_pages import sections_page, sections_pdf
from cakewright.sludge.law_text import law_to_toml

__all__ = ["bench_json", "bench_outputs", "bench_sections", "law_file_name"]


def bench_sections(findings: BenchFindings, units: Units = Units.SI) -> tuple[Section, ...]:
    """The bench report, section by section."""
    found: list[Section | None] = [answer_section(findings, units)]
    for sludge in findings.sludges:
        found += [
            law_section(sludge, units),
            dose_section(sludge, units),
            agreement_section(sludge),
            next_section(sludge),
            tests_section(sludge, units),
        ]
    found += [
        bad_section(findings.bad),
        caution_section(),
        annex_section(findings, units),
        source_section(findings),
    ]
    return tuple(section for section in found if section is not None)


def law_file_name(findings: BenchFindings, sludge: SludgeBench) -> str:
    """``sludge-law.toml``, or one name per sludge when there are several."""
    if len(findings.sludges) == 1:
        return "sludge-law.toml"
    return f"sludge-law-{slug(sludge.name)}.toml"


def bench_outputs(
    findings: BenchFindings, title: str = "Bench tests", units: Units = Units.SI
) -> dict[str, str | bytes]:
    """Files by name: report (HTML and PDF), laws, data, figures."""
    site = ", ".join(sludge.name for sludge in findings.sludges)
    sections = bench_sections(findings, units)
    files: dict[str, str | bytes] = {
        "bench-report.html": sections_page(title, site, sections, invented=findings.invented),
        "bench-report.pdf": sections_pdf(title, site, sections, units, invented=findings.invented),
        "bench.json": bench_json(findings),
    }
    for sludge in findings.sludges:
        if sludge.joint:
            files[law_file_name(findings, sludge)] = law_to_toml(sludge.joint.law)
        for curve in (*(c for fit in sludge.fits for c in fit.curves), *sludge.law_curves):
            key = figure_key(sludge.name, curve.key)
            files[f"{key}.svg"] = figure_bench_curve(curve, key)
    return files


def bench_json(findings: BenchFindings) -> str:
    """Results as data, SI, for scripts."""
    data = {
        "format": "cakewright bench 1",
        "invented": findings.invented,
        "notes": list(findings.notes),
        "sludges": [_sludge_data(sludge) for sludge in findings.sludges],
        "unusable": [
            {"test": bad.id, "kind": bad.kind, "faults": [str(fault) for fault in bad.faults]}
            for bad in findings.bad
        ],
    }
    return json.dumps(data, ensure_ascii=False, indent=1, allow_nan=False)


def _sludge_data(sludge: SludgeBench) -> dict[str, Any]:
    law = sludge.joint.law if sludge.joint else None
    return {
        "name": sludge.name,
        "sludge_class": sludge.sludge_class,
        "polymer": sludge.polymer,
        "tests": [
            {
                "id": fit.id,
                "kind": fit.kind,
                "results": {
                    e.name: {"value": e.value, "low": e.low, "high": e.high, "note": e.note}
                    for e in fit.estimates
                },
                "warnings": list(fit.warnings),
                "remarks": list(fit.remarks),
            }
            for fit in sludge.fits
        ],
        "ranking": [
            {
                "response": ranking.response,
                "rows": [
                    {
                        "name": row.name,
                        "test": row.test,
                        "chance_best": row.chance_best,
                        "best_dose": row.best_dose,
                        "best_interval": list(row.best_interval),
                        "flat_region": list(row.flat_region),
                        "cheapest_dose": row.cheapest_dose,
                        "cheapest_cost": row.cheapest_cost,
                        "dose_same": row.dose_same,
                        "cost_same": row.cost_same,
                        "chance_cheapest": row.chance_cheapest,
                    }
                    for row in ranking.rows
                ],
            }
            for ranking in sludge.rankings
        ],
        "law": {p.name: {"value": p.value, "sd": p.sd, "space": p.space.value,
                         "learnt": p.learnt, "basis": p.basis.value} for p in law.parameters}
        if law else None,
        "next_tests": [
            {"kind": t.kind, "words": t.words, "bits": t.bits, "hours": t.hours}
            for t in sludge.next_tests
        ],
    }  # fmt: skip
