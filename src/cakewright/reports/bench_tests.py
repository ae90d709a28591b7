"""Sections of the bench report on doses, single tests, unusable tests, cautions, annex."""

from __future__ import annotations

from collections.abc import Sequence

from cakewright.bench import BadTest, TestFit
from cakewright.jobs.bench import BenchFindings, Ranking, SludgeBench
from cakewright.reports.bench_figures import curve_alt, figure_bench_curve
from cakewright.reports.bench_law import figure_key, slug
from cakewright.reports.bench_words import (
    calculation,
    label,
    per_tonne,
    percent,
    range_text,
    unit_of,
    value_text,
)
from cakewright.reports.book import anchor
from cakewright.reports.chapters.sourcelist import _row
from cakewright.reports.content import (
    Block,
    Bullets,
    Calculations,
    Cell,
    Column,
    Heading,
    Paragraph,
    Picture,
    Section,
    Table,
)
from cakewright.reports.numbers import Units

__all__ = ["annex_section", "bad_section", "caution_section", "dose_section", "source_section",
           "tests_section"]  # fmt: skip


def dose_section(sludge: SludgeBench, units: Units) -> Section | None:
    """Ranking of polymers and their curves."""
    if not sludge.rankings:
        return None
    blocks: list[Block] = []
    for ranking in sludge.rankings:
        blocks.append(_ranking_table(ranking, units))
    for optimum in sludge.coagulants:
        blocks.append(Paragraph(f"{optimum.polymer} after {optimum.coagulant}: {optimum.words}."))
    ids = {row.test for ranking in sludge.rankings for row in ranking.rows}
    key = f"dose-{slug(sludge.name)}"
    blocks += [
        Picture(figure_bench_curve(curve, figure_key(sludge.name, curve.key)), curve_alt(curve))
        for fit in sludge.fits
        if fit.id in ids
        for curve in fit.curves
    ]
    blocks.append(
        Paragraph(
            "Shaded: doses these jars cannot tell from the best. Dashed: optimum; dotted: the "
            "cheapest dose that is as good as far as the jars tell. Doses are active polymer.",
            "note",
        )
    )
    return Section(key, f"Polymer and dose: {sludge.name}", tuple(blocks))


def _ranking_table(ranking: Ranking, units: Units) -> Table:
    unit = unit_of("polymer_dose", units)
    priced = any(row.cheapest_cost is not None for row in ranking.rows)
    rows = []
    for row in ranking.rows:
        cells = [
            Cell(row.name),
            Cell(row.test),
            Cell(percent(row.chance_best if len(ranking.rows) > 1 else None)),
            Cell(per_tonne(row.best_dose, units)),
            Cell(range_text("polymer_dose", *row.best_interval, units)),
            Cell(per_tonne(row.cheapest_dose, units)),
            Cell(per_tonne(row.dose_same, units)),
        ]
        if priced:
            cost = "–" if row.cost_same is None else f"{1e3 * row.cost_same:.1f}"
            cells += [
                Cell(cost),
                Cell(percent(row.chance_cheapest if len(ranking.rows) > 1 else None)),
            ]
        rows.append(tuple(cells))
    columns = [
        Column("conditioning", share=2.4),
        Column("test", share=0.7),
        Column("chance best", align="right"),
        Column("best dose", unit, align="right"),
        Column("95 %", unit, align="middle", share=1.6),
        Column("cheapest as good", unit, align="right", share=1.1),
        Column("for the same result", unit, align="right", share=1.1),
    ]
    if priced:
        columns += [Column("cost of it", "per t DS", align="right"),
                    Column("chance cheapest", align="right", share=1.1)]  # fmt: skip
    caption = (
        f"By {ranking.label}. “The same result” is within 15 % of the best response of all; "
        "– where no dose tested reaches it."
    )
    return Table(tuple(columns), tuple(rows), caption, kind="dense")


def tests_section(sludge: SludgeBench, units: Units) -> Section:
    """Every test: results with intervals, what to doubt, what was left out, its figure."""
    key = f"tests-{slug(sludge.name)}"
    blocks: list[Block] = [_results_table(sludge.fits, units)]
    blocks += [
        Bullets(f"{fit.id} · {fit.title}", (*(f"Doubt: {w}" for w in fit.warnings), *fit.remarks))
        for fit in sludge.fits
        if fit.warnings or fit.remarks
    ]
    shown = [fit for fit in sludge.fits if fit.kind != "dose_response" and fit.curves]
    if shown:
        blocks.append(Heading("Readings and fits"))
    blocks += [
        Picture(figure_bench_curve(curve, figure_key(sludge.name, curve.key)), curve_alt(curve))
        for fit in shown
        for curve in fit.curves
    ]
    return Section(key, f"Tests: {sludge.name}", tuple(blocks))


def _results_table(fits: Sequence[TestFit], units: Units) -> Table:
    rows = []
    for fit in fits:
        for step, estimate in enumerate(fit.estimates):
            note = f" ({estimate.note})" if estimate.note else ""
            rows.append(
                (
                    Cell(fit.id if step == 0 else ""),
                    Cell(label(estimate.name) + note),
                    Cell(value_text(estimate.name, estimate.value, units)),
                    Cell(unit_of(estimate.name, units)),
                    Cell(range_text(estimate.name, estimate.low, estimate.high, units)),
                    Cell("doubt" if fit.warnings and step == 0 else ""),
                )
            )
    columns = (
        Column("test", share=0.6),
        Column("result", share=3.2),
        Column("value", align="right", share=1.2),
        Column("unit", share=0.9),
        Column("95 %", align="middle", share=2.2),
        Column("", share=0.7),
    )
    return Table(columns, tuple(rows), kind="dense")


def bad_section(bad: Sequence[BadTest]) -> Section | None:
    """Tests that could not be used, every reason with its place."""
    if not bad:
        return None
    rows = tuple(
        (Cell(test.id), Cell(fault.where), Cell(fault.got), Cell(fault.allowed),
         Cell(fault.try_this))
        for test in bad
        for fault in test.faults
    )  # fmt: skip
    columns = (
        Column("test", share=0.6),
        Column("where", share=2.4),
        Column("found", share=2.0),
        Column("allowed", share=2.0),
        Column("try", share=2.2),
    )
    words = Paragraph("Nothing was dropped in silence: these tests are not in any figure above.")
    return Section(
        "unusable", "Tests that could not be used", (words, Table(columns, rows, kind="dense"))
    )


_CAUTIONS = (
    "Sludge carries germs: gloves, eye protection, no eating at the bench; disinfect and wash.",
    "Glass under vacuum can burst: use flasks made for it, behind a shield.",
    "Pressure cells and presses: release the pressure before opening; stay within the rated "
    "pressure; keep hands away from a moving piston.",
    "Polymer solutions make floors slippery at once; coagulants are corrosive. Follow the "
    "supplier's safety data sheet.",
    "Ovens at 105 °C and furnaces at 550 °C: dry before igniting, tongs, ventilation.",
    "Old or septic sludge gives off hydrogen sulphide: open containers in moving air.",
)


def caution_section() -> Section:
    """The usual cautions of the bench, and what comes before them."""
    last = Paragraph(
        "The laboratory's own rules, local codes, the suppliers' instructions and licensed "
        "practice come first. A bench law is for choosing and sizing; a guarantee needs a pilot or "
        "a proof on site.",
        "caution",
    )
    return Section("cautions", "Cautions", (Bullets("At the bench", _CAUTIONS), last))


def annex_section(findings: BenchFindings, units: Units) -> Section | None:
    """Formula, numbers put in and result of every test."""
    if not findings.lines:
        return None
    lines = tuple(calculation(line, units) for line in findings.lines)
    return Section("annex", "Calculation annex", (Calculations("Bench", lines),))


def source_section(findings: BenchFindings) -> Section:
    """Every source used, once."""
    used = [line.source for line in findings.lines]
    for sludge in findings.sludges:
        if sludge.joint:
            used += [p.source for p in sludge.joint.law.parameters]
    ids = tuple(dict.fromkeys(key for text in used for key in text.split()))
    columns = (
        Column("id", share=1.1),
        Column("source", share=4.0),
        Column("read", share=1.4),
        Column("what was read", share=2.6),
    )
    table = Table(columns, tuple(_row(key) for key in ids),
                  anchors=tuple(anchor("source", key) for key in ids), kind="dense")  # fmt: skip
    return Section("sources", "Sources", (table,))
