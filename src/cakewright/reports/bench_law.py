"""Sections of the bench report on answer, law and agreement of the tests."""

from __future__ import annotations

from cakewright.bench.law_model import cake_solids_at
from cakewright.jobs.bench import BenchFindings, SludgeBench
from cakewright.physics.filtration_resistance import specific_resistance_average
from cakewright.quantities import FloatArray
from cakewright.quantities.constants import NORMAL_90
from cakewright.reports.bench_figures import curve_alt, figure_bench_curve, figure_bench_residuals
from cakewright.reports.bench_words import (
    basis_cell,
    label,
    per_tonne,
    percent,
    range_text,
    unit_of,
    value_text,
)
from cakewright.reports.content import (
    Block,
    Bullets,
    Cell,
    Column,
    Paragraph,
    Picture,
    Section,
    Table,
)
from cakewright.reports.numbers import Units, plain_text

__all__ = [
    "agreement_section",
    "answer_section",
    "figure_key",
    "law_section",
    "next_section",
    "slug",
]

_PRESSURES = (4e4, 1e5, 4e5)
_SAMPLES, _SEED = 2000, 20260303


def answer_section(findings: BenchFindings, units: Units) -> Section:
    """What a reader must take away, sludge by sludge."""
    blocks: list[Block] = []
    for sludge in findings.sludges:
        blocks.append(Paragraph(_answer_words(sludge, units), "lead"))
        if sludge.joint:
            blocks.append(_outlook_table(sludge, units))
    doubts = _doubts(findings)
    if doubts:
        blocks.append(Bullets("Look at these first", tuple(doubts)))
    tests = sum(len(sludge.fits) for sludge in findings.sludges)
    steps = [
        f"{test.words}: {test.bits:.1f} bits in about {test.hours:g} h"
        for sludge in findings.sludges
        for test in sludge.next_tests[:3]
    ]
    if steps:
        blocks.append(Bullets("Worth testing next", tuple(steps)))
    fitted = f"{tests} tests fitted, {len(findings.bad)} could not be used."
    return Section("answer", "Answer", (*blocks, Paragraph(fitted, "note")))


def _answer_words(sludge: SludgeBench, units: Units) -> str:
    best = sludge.best
    words = f"{_sentence(sludge.name)}: "
    if best is None:
        return words + f"{len(sludge.fits)} tests fitted; no polymer was compared."
    unit = unit_of("polymer_dose", units)
    words += (
        f"by {sludge.rankings[0].label} the best conditioning is {best.name}"
        f"{_chance_words(sludge)}, at {per_tonne(best.best_dose, units)} {unit}; from "
        f"{per_tonne(best.cheapest_dose, units)} {unit} on these jars cannot tell a difference."
    )
    if sludge.polymer and sludge.polymer != best.name:
        words += f" The law below is for {sludge.polymer}, which the other tests were made with."
    return words


def _chance_words(sludge: SludgeBench) -> str:
    """Chance of the best, where there was a choice."""
    rows = sludge.rankings[0].rows
    return f" (chance {percent(rows[0].chance_best)})" if len(rows) > 1 else ", the only one tried"


def _sentence(words: str) -> str:
    return words[:1].upper() + words[1:]


def _doubts(findings: BenchFindings) -> list[str]:
    found = [note for note in findings.notes if "the law is for" not in note or "favour" in note]
    for sludge in findings.sludges:
        shown = [f"{fit.id}: {fit.warnings[0]}" for fit in sludge.fits if fit.warnings]
        hard = [words for words in shown if "over-dosing" not in words and "no jar" not in words]
        found += hard[:5]
    return found


def _outlook(sludge: SludgeBench) -> list[tuple[str, str, FloatArray]]:
    """Cake solids and resistance the law foresees, over samples; sample 0 is the best guess."""
    import numpy as np

    if sludge.joint is None:
        return []
    law = sludge.joint.law
    drawn = law.sample(_SAMPLES, np.random.default_rng(_SEED))
    rows = [
        ("cake_solids", f"cake at rest under {p / 1e3:.0f} kPa", cake_solids_at(drawn, p))
        for p in _PRESSURES
    ]
    resistance = specific_resistance_average(
        5e4, drawn["local_resistance"], drawn["resistance_exponent"], drawn["yield_scale"]
    )
    rows.append(
        ("specific_resistance", "specific resistance at 50 kPa, best dose", np.asarray(resistance))
    )
    rows.append(("optimum_dose", "best dose", drawn["optimum_dose"]))
    return rows


def _outlook_table(sludge: SludgeBench, units: Units) -> Table:
    import numpy as np

    rows = []
    for name, words, values in _outlook(sludge):
        low, high = np.quantile(values[1:], (0.1, 0.9))
        rows.append(
            (
                Cell(_sentence(words)),
                Cell(value_text(name, float(values[0]), units)),
                Cell(unit_of(name, units)),
                Cell(range_text(name, float(low), float(high), units)),
            )
        )
    columns = (
        Column("from the law", share=3.0),
        Column("value", align="right"),
        Column("unit"),
        Column("P10–P90", align="middle", share=1.8),
    )
    caption = (
        f"{_sentence(sludge.name)}: what the law foresees. A press does not bring the cake to "
        "rest: its cake is wetter."
    )
    return Table(columns, tuple(rows), caption)


def law_section(sludge: SludgeBench, units: Units) -> Section:
    """The law: every parameter with its band, what was learnt, basis and source."""
    key = f"law-{slug(sludge.name)}"
    title = f"Sludge law: {sludge.name}"
    if sludge.joint is None:
        return Section(key, title, (Paragraph("; ".join(sludge.left_out), "note"),))
    law = sludge.joint.law
    rows = []
    for p in law.parameters:
        rows.append(
            (
                Cell(label(p.name)),
                Cell(value_text(p.name, p.value, units)),
                Cell(unit_of(p.name, units)),
                Cell(range_text(p.name, p.quantile(-NORMAL_90), p.quantile(NORMAL_90), units)),
                Cell(f"{100 * p.learnt:.0f} %"),
                basis_cell(p.basis, p.mark, p.source),
            )
        )
    columns = (
        Column("parameter", share=2.6),
        Column("value", align="right", share=1.2),
        Column("unit", share=0.8),
        Column("P10–P90", align="middle", share=2.2),
        Column("learnt", align="right", share=0.8),
        Column("basis", share=2.0),
    )
    lead = Paragraph(
        "Two curves: cake solids against pressure (gel point, stress scale, yield exponent) and "
        "resistance against stress (local resistance, stress scale, resistance exponent); then "
        "what dose and time do. “Learnt” is the share of the class prior's variance that the "
        f"tests took away; the class is {law.sludge_class.replace('_', ' ')}. Correlations are in "
        "sludge-law.toml.",
        "note",
    )
    pictures = tuple(
        Picture(figure_bench_curve(curve, figure_key(sludge.name, curve.key)), curve_alt(curve))
        for curve in sludge.law_curves
    )
    blocks: list[Block] = [lead, Table(columns, tuple(rows)), *pictures]
    if sludge.joint.unknown:
        blocks.append(Bullets("What these tests cannot tell", sludge.joint.unknown))
    if sludge.joint.widened:
        names = ", ".join(label(name).lower() for name in sludge.joint.widened)
        blocks.append(
            Paragraph(
                f"Widened beyond the parabola, because the misfit is curved: {names}.", "note"
            )
        )
    if sludge.compressibility:
        exponent = sludge.compressibility.exponent
        blocks.append(
            Paragraph(
                f"Compressibility coefficient over {sludge.compressibility.pressures[0] / 1e3:.0f} "
                f"to {sludge.compressibility.pressures[1] / 1e3:.0f} kPa: {exponent.value:.2f} "
                f"(95 %: {exponent.low:.2f} to {exponent.high:.2f})."
            )
        )
    return Section(key, title, tuple(blocks))


def slug(words: str) -> str:
    """Words as a part of a file name or key."""
    return "".join(c if c.isalnum() and c.isascii() else "-" for c in words.lower())


def figure_key(sludge: str, curve: str) -> str:
    """Key of a figure: unique in the report, and the name of its file."""
    return f"{slug(sludge)}-{slug(curve)}"


def agreement_section(sludge: SludgeBench) -> Section | None:
    """Whether the tests say the same."""
    if sludge.joint is None or not sludge.joint.misfits:
        return None
    joint = sludge.joint
    words = f"Chance of a misfit this large or larger if all is well: {percent(joint.chance)}."
    if joint.inflation > 1:
        words += f" All spreads are multiplied by {joint.inflation:.2f} for it."
    key = f"agreement-{slug(sludge.name)}"
    picture = Picture(
        figure_bench_residuals(joint.misfits, f"{key}-residuals"),
        f"Residuals of {len(joint.misfits)} tests against the joint law",
        "Each dot is one result of a test against the joint law; grey: within two standard "
        "deviations. A test off to one side contradicts the others.",
    )
    blocks: list[Block] = [Paragraph(words), picture]
    left = sludge.left_out
    if left:
        blocks.append(Bullets("Kept out of the law", left))
    return Section(key, f"Do the tests agree? {sludge.name}", tuple(blocks))


def next_section(sludge: SludgeBench) -> Section | None:
    """Candidate tests by the information they would add."""
    if not sludge.next_tests:
        return None
    rows = []
    for test in sludge.next_tests:
        narrows = "; ".join(f"{name} by {100 * share:.0f} %" for name, share in test.narrows)
        before, after = test.spread_before, test.spread_after
        rows.append(
            (
                Cell(_sentence(test.words)),
                Cell(f"{test.hours:g}"),
                Cell(f"{test.bits:.1f}"),
                Cell(narrows or "no parameter by more than a tenth"),
                Cell(f"{plain_text(100 * before[0], 2)} → {plain_text(100 * after[0], 2)}"),
                Cell(f"{plain_text(100 * before[1], 2)} → {plain_text(100 * after[1], 2)}"),
            )
        )
    columns = (
        Column("test", share=2.8),
        Column("time", "h", align="right", share=0.6),
        Column("adds", "bits", align="right", share=0.6),
        Column("narrows the spread of", share=2.6),
        Column("cake solids", "± % points", align="middle", share=1.2),
        Column("resistance", "± %", align="middle", share=1.2),
    )
    caption = (
        "One standard deviation of what the law foresees at 100 kPa, before → after the test. "
        "Times are common practice, without a source."
    )
    key = f"next-{slug(sludge.name)}"
    return Section(
        key, f"What to test next: {sludge.name}", (Table(columns, tuple(rows), caption),)
    )
