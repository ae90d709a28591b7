"""The bench result in a few lines of plain text."""

from __future__ import annotations

from collections.abc import Iterator

from cakewright.jobs.bench import BenchFindings, SludgeBench
from cakewright.quantities.constants import NORMAL_90
from cakewright.reports.bench_words import (
    label,
    per_tonne,
    percent,
    range_text,
    unit_of,
    value_text,
)
from cakewright.reports.numbers import Units

__all__ = ["bench_headline"]


def bench_headline(findings: BenchFindings, units: Units = Units.SI) -> str:
    """Polymer, law, doubts and unusable tests as text for a terminal."""
    lines: list[str] = []
    if findings.invented:
        lines.append("The readings are invented.")
    for sludge in findings.sludges:
        lines += _sludge_lines(sludge, units)
    if findings.notes:
        lines += ["", "Notes:", *(f"  - {note}" for note in findings.notes)]
    if findings.bad:
        lines += ["", "Tests that could not be used:"]
        lines += [f"  {bad.id}: {fault}" for bad in findings.bad for fault in bad.faults]
    return "\n".join(lines)


def _sludge_lines(sludge: SludgeBench, units: Units) -> Iterator[str]:
    yield f"{sludge.name}: {len(sludge.fits)} tests fitted"
    dose_unit = unit_of("polymer_dose", units)
    for row in sludge.rankings[0].rows[:3] if sludge.rankings else ():
        yield (
            f"  {row.name:<42} chance best {percent(row.chance_best):>6}   "
            f"best dose {per_tonne(row.best_dose, units)} {dose_unit}, "
            f"cheapest as good {per_tonne(row.cheapest_dose, units)}"
        )
    if sludge.joint is None:
        return
    yield f"  sludge law for {sludge.polymer or 'the conditioning used'} (P10 to P90):"
    for p in sludge.joint.law.parameters:
        band = range_text(p.name, p.quantile(-NORMAL_90), p.quantile(NORMAL_90), units)
        value = value_text(p.name, p.value, units)
        tested = p.basis.value + (f", {p.mark.value}" if p.mark else "")
        yield (
            f"    {label(p.name):<24} {value:>12} {unit_of(p.name, units):<7} {band:<28} {tested}"
        )
    if sludge.next_tests:
        yield f"  worth testing next: {sludge.next_tests[0].words}"
