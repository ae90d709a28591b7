"""Reports of commissioning: the tuning runs, and the acceptance test."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from cakewright.jobs.commission import CommissionFindings, tuning_cautions
from cakewright.quantities import Band
from cakewright.quantities.constants import NORMAL_90
from cakewright.reports.content import (
    Block,
    Bullets,
    Cell,
    Column,
    Heading,
    Paragraph,
    Picture,
    Section,
    Table,
)
from cakewright.reports.figures.chart import Axes, draw
from cakewright.reports.numbers import Units, shown, shown_array
from cakewright.reports.palette import ACCENT, INK, QUIET
from cakewright.reports.running_words import (
    label_of_indicator,
    share_text,
    unit_of,
    value_text,
)
from cakewright.running.acceptance import AcceptanceResult, Judged, JudgedRun, Outcome, Protocol
from cakewright.running.signals import signal, signals
from cakewright.running.tuning import Response, surface_columns
from cakewright.statistics.pass_rule import RuleKind

__all__ = ["acceptance_sections", "plan_sections", "tuning_sections"]


def _name(key: str) -> str:
    """House name behind a setting."""
    return signal(key).name if key in signals() else key


def _label(key: str) -> str:
    return signal(key).label if key in signals() else label_of_indicator(key)


def _money(rate: float) -> str:
    """Money per tonne of dry solids."""
    return f"{1000 * rate:.0f}"


def _band_money(band: Band) -> str:
    return f"{_money(band.p10)} to {_money(band.p90)}"


def _setting_rows(findings: CommissionFindings, units: Units) -> tuple[tuple[Cell, ...], ...]:
    best = findings.best
    rows = []
    for factor in findings.factors:
        name = _name(factor.key)
        low, high = best.region[factor.key]
        rows.append(
            (
                Cell(_label(factor.key)),
                Cell(value_text(name, findings.today[factor.key], units)),
                Cell(value_text(name, best.settings[factor.key], units), strong=True),
                Cell(unit_of(name, units)),
                Cell(f"{value_text(name, low, units)}–{value_text(name, high, units)}"),
                Cell(
                    f"{value_text(name, factor.low, units)}–{value_text(name, factor.high, units)}"
                ),
                Cell("at its limit" if factor.key in best.on_limit else ""),
                Cell(value_text(name, findings.next_run[factor.key], units)),
            )
        )
    return tuple(rows)


def _kept_blocks(findings: CommissionFindings, units: Units) -> list[Block]:
    """What the best setting keeps and with what chance; together at nine in ten."""
    if not findings.best.held:
        return [Paragraph("Nothing was asked to be kept: no capture, throughput or stop.")]
    rows = []
    for keep, chance in findings.best.held:
        name = _name(keep.name)
        side, value = ("at least", keep.low) if np.isfinite(keep.low) else ("at most", keep.high)
        text = f"{side} {value_text(name, value, units)} {unit_of(name, units)}"
        rows.append((Cell(_label(keep.name)), Cell(text), Cell(share_text(chance))))
    columns = (
        Column("kept there", share=2.0), Column("limit", share=1.4),
        Column("chance", align="right"),
    )  # fmt: skip
    caption = "The best setting keeps all of these together with at least nine chances in ten."
    return [Table(columns, tuple(rows), caption)]


_SAVED = {"polymer_dose": "active polymer, kg per t of dry solids",
          "wet_cake": "wet cake to haul, kg per t of dry solids"}  # fmt: skip


def _saved_blocks(findings: CommissionFindings) -> list[Block]:
    """Polymer and haulage saved per dry solids, with the chance that anything is saved."""
    best = findings.best
    rows = tuple(
        (
            Cell(_SAVED[name]), Cell(f"{1000 * band.p50:+.1f}".replace("-", "−")),
            Cell(f"{1000 * band.p10:+.1f} to {1000 * band.p90:+.1f}".replace("-", "−")),
            Cell(share_text(best.chance_saved[name])),
        )
        for name, band in best.saved.items()
    )  # fmt: skip
    columns = (
        Column("saved against today", share=2.4), Column("middle", align="right"),
        Column("P10 to P90", align="middle"), Column("chance of any saving", align="right"),
    )  # fmt: skip
    return [Table(columns, rows)]


def _coming_blocks(findings: CommissionFindings, units: Units) -> list[Block]:
    """Load, feed and money of the coming weeks."""
    coming, week = findings.coming, findings.weekly_saving
    if coming is None or week is None:
        return []
    currency = findings.site.prices.currency
    mass, spread = coming.mass / 1000, NORMAL_90 * coming.mass_spread / 1000
    lines = [
        f"Dry solids: {mass:.1f} ± {spread:.1f} t a week, as in the last weeks of the log.",
        f"Saving: {week.p50:.0f} ({week.p10:.0f} to {week.p90:.0f}) {currency} a week with eight "
        "chances in ten.".replace("-", "−"),
    ]
    for key, (then, now) in coming.feed.items():
        name = _name(key)
        lines.append(
            f"{_label(key)}: {value_text(name, then, units)} in the runs, "
            f"{value_text(name, now, units)} {unit_of(name, units)} of late; cake and capture are "
            "brought to that feed by the site's own slopes."
        )
    return [Bullets("The coming weeks", tuple(lines))]


def _answer(findings: CommissionFindings, units: Units) -> Section:
    best, currency = findings.best, findings.site.prices.currency
    saves = best.saving.p50 > 0 and best.chance_of_saving >= 0.9
    words = (
        f"The setting below should save {_money(best.saving.p50)} {currency} per tonne of dry "
        f"solids ({_band_money(best.saving)} with eight chances in ten; chance that it saves at "
        f"all: {share_text(best.chance_of_saving)})."
        if saves
        else "These runs do not show a setting that is surely cheaper than today's "
        f"(chance {share_text(best.chance_of_saving)})."
    )
    columns = (
        Column("setting", share=2.0), Column("today", align="right"), Column("best", align="right"),
        Column("unit"), Column("region of the best", align="middle", share=1.4),
        Column("safe limits", align="middle", share=1.3), Column("", share=0.9),
        Column("next run", align="right"),
    )  # fmt: skip
    expected = tuple(
        (
            Cell(label_of_indicator(name)),
            Cell(value_text(name, band.p50, units)),
            Cell(f"{value_text(name, band.p10, units)}–{value_text(name, band.p90, units)}"),
            Cell(unit_of(name, units)),
        )
        for name, band in best.expected.items()
    )
    cost = (
        Cell("cost"), Cell(_money(best.cost.p50)), Cell(_band_money(best.cost)),
        Cell(f"{currency}/t"),
    )  # fmt: skip
    heads = (
        Column("at the best setting", share=2.0), Column("value", align="right"),
        Column("P10–P90", align="middle"), Column("unit"),
    )  # fmt: skip
    blocks: tuple[Block, ...] = (
        Paragraph(words, "lead"), Table(columns, _setting_rows(findings, units)),
        Table(heads, (*expected, cost)),
        *_kept_blocks(findings, units), *_saved_blocks(findings), *_coming_blocks(findings, units),
        *((Bullets("Notes", findings.notes),) if findings.notes else ()),
    )  # fmt: skip
    return Section("answer", "Best setting and what it saves", blocks)


def _figure(findings: CommissionFindings, response: Response, units: Units) -> str:
    """One line per factor through the best setting, the others held there."""
    factors, best = findings.factors, findings.best

    def paint(figure: Axes) -> None:
        panels = np.atleast_1d(figure.subplots(1, len(factors), sharey=True))
        for i, factor in enumerate(factors):
            points = np.zeros((60, len(factors)))
            for k, other in enumerate(factors):
                middle, half = (other.low + other.high) / 2, (other.high - other.low) / 2
                points[:, k] = (best.settings[other.key] - middle) / half
            points[:, i] = np.linspace(-1, 1, 60)
            columns = surface_columns(points)
            fit = response.surface.fit
            line = columns @ fit.parameters
            half = NORMAL_90 * np.sqrt(np.einsum("ij,jk,ik->i", columns, fit.covariance, columns))
            x = shown_array(_name(factor.key), np.linspace(factor.low, factor.high, 60), units)
            low, middle_line, high = (
                shown_array(response.name, part, units) for part in (line - half, line, line + half)
            )
            panels[i].fill_between(x, low, high, color=QUIET, alpha=0.18, linewidth=0)
            panels[i].plot(x, middle_line, color=INK)
            at = shown(_name(factor.key), best.settings[factor.key], units)
            panels[i].axvline(at, color=ACCENT)
            panels[i].set_xlabel(f"{_label(factor.key)}, {unit_of(_name(factor.key), units)}")
        panels[0].set_ylabel(
            f"{label_of_indicator(response.name)}, {unit_of(response.name, units)}"
        )

    alt = f"{label_of_indicator(response.name)} over each setting through the best one"
    return draw(f"tune-{response.name}", alt, paint, height_mm=60)


def _response_blocks(findings: CommissionFindings, one: Response, units: Units) -> list[Block]:
    fit = one.surface.fit
    names = ["level", *(_label(f.key) for f in findings.factors)]
    labels = [_label(f.key) for f in findings.factors]
    names += [f"{a} × {b}" for i, a in enumerate(labels) for b in labels[i + 1 :]]
    names += [f"{a}²" for a in labels]
    unit = unit_of(one.name, units).replace("%", "points")
    scale = shown(one.name, 1.0, units) - shown(one.name, 0.0, units)
    rows = tuple(
        (
            Cell(name),
            Cell(f"{scale * b:+.2f}".replace("-", "−")),
            Cell(f"{scale * s:.2f}"),
            Cell(f"{b / s:+.1f}".replace("-", "−") if s > 0 else "–"),
        )
        for name, b, s in zip(names, fit.parameters, fit.standard_errors, strict=True)
    )
    columns = (
        Column("term (settings from −1 to +1 over the safe limits)", share=3.0),
        Column("effect", unit, "right"), Column("standard error", unit, "right"),
        Column("effect over error", align="right"),
    )  # fmt: skip
    lack = (
        "no repeats to spare for a test of fit"
        if one.lack is None
        else f"lack of fit: F = {one.lack.statistic:.2f}, chance {one.lack.chance:.2f}"
    )
    flat = "" if one.stationary is None else f"; flat point is a {one.stationary.kind.value}"
    words = (
        f"R² = {one.surface.r_squared:.2f}; {lack}; corners less centre "
        f"{scale * one.curvature:+.2f} {unit} (chance without curvature "
        f"{one.curvature_chance:.2f}){flat}."
    ).replace("-", "−")
    return [
        Heading(label_of_indicator(one.name)),
        Paragraph(words),
        Picture(_figure(findings, one, units), f"{label_of_indicator(one.name)} over the settings",
                "Grey: band with eight chances in ten. Upright line: best setting."),
        Table(columns, rows),
    ]  # fmt: skip


def tuning_sections(findings: CommissionFindings, units: Units = Units.SI) -> tuple[Section, ...]:
    """Report of the tuning runs."""
    blocks = [
        block
        for one in findings.responses.values()
        for block in _response_blocks(findings, one, units)
    ]
    care = tuple(Paragraph(f"{c.text} ({c.source})", "caution") for c in findings.cautions)
    return (
        _answer(findings, units),
        Section("surfaces", f"What {findings.runs} runs show", tuple(blocks), new_page=True),
        Section("cautions", "Cautions", care),
    )


def plan_sections(rules: Sequence[str]) -> tuple[Section, ...]:
    """What to mind while the runs are made."""
    care = tuple(Paragraph(f"{c.text} ({c.source})", "caution") for c in tuning_cautions())
    return (Section("rules", "While the runs are made", (Bullets("Rules", tuple(rules)), *care)),)


_WORDS = {
    Outcome.PASS: "The test is passed.",
    Outcome.FAIL: "The test is failed.",
    Outcome.UNDECIDED: "The test does not decide.",
}


def _judged_row(one: Judged, units: Units) -> tuple[Cell, ...]:
    name = one.guarantee.name
    needed = value_text(name, one.needed, units)
    return (
        Cell(label_of_indicator(name)),
        Cell(value_text(name, one.value, units)),
        Cell(value_text(name, one.half_width, units)),
        Cell(value_text(name, one.guarantee.value, units)),
        Cell(unit_of(name, units)),
        Cell(share_text(one.chance)),
        Cell(one.outcome.value, strong=True),
        Cell(share_text(one.risk_if_passed)),
        Cell(share_text(one.risk_if_failed)),
        Cell(needed),
    )


def _run_row(run: JudgedRun, names: tuple[str, ...], units: Units) -> tuple[Cell, ...]:
    cells = [Cell(run.name), Cell("valid" if not run.faults else "not valid")]
    for name in names:
        raw, moved = run.values.get(name, np.nan), run.corrected.get(name, np.nan)
        text = value_text(name, raw, units)
        cells.append(
            Cell(text if abs(raw - moved) < 1e-9 else f"{text} → {value_text(name, moved, units)}")
        )
    gap = "–" if not np.isfinite(run.gap_solids) else f"{100 * run.gap_solids:+.1f} %"
    return (*cells, Cell(gap.replace("-", "−")), Cell("; ".join(run.faults)))


_RULES = {
    RuleKind.AS_READ: "as read: a value passes if the mean of the runs keeps it, and fails if not",
    RuleKind.GUARD_BAND: (
        "guard band: a value passes if the mean keeps it by Student's t times its uncertainty, "
        "fails if it misses it by as much, and is undecided between"
    ),
    RuleKind.SEQUENTIAL: (
        "sequential: run by run by the lines agreed; after the last run the middle line decides"
    ),
}


def _rule_text(protocol: Protocol) -> str:
    rule = protocol.pass_rule
    risks = (
        ""
        if rule.kind is RuleKind.AS_READ
        else f" Risks agreed: wrong pass {100 * rule.wrong_pass:.3g} %, wrong fail "
        f"{100 * rule.wrong_fail:.3g} %."
    )
    return (
        f"Pass rule, {_RULES[rule.kind]}. No verdict, neither way, on fewer than {rule.runs} valid "
        f"runs.{risks} Instruments and laboratory are the same in every run, so their uncertainty "
        "does not average out. Chances are by Student's law at the freedom of the budget."
    )


def acceptance_sections(result: AcceptanceResult, units: Units = Units.SI) -> tuple[Section, ...]:
    """Report of the acceptance test, with places to sign."""
    columns = (
        Column("guaranteed", share=1.8), Column("reached", align="right"),
        Column("± 95 %", align="right"), Column("guarantee", align="right"), Column("unit"),
        Column("chance it is met", align="right"),
        Column("outcome", share=1.2), Column("risk if passed", align="right"),
        Column("risk if failed", align="right"), Column("mean that passes", align="right"),
    )  # fmt: skip
    table = Table(columns, tuple(_judged_row(one, units) for one in result.judged))
    names = tuple(one.guarantee.name for one in result.judged)
    run_columns = (
        Column("run"), Column("", share=0.9),
        *(Column(label_of_indicator(n), unit_of(n, units), "right") for n in names),
        Column("solids gap", align="right"), Column("why not", share=3.0),
    )  # fmt: skip
    runs = Table(
        run_columns, tuple(_run_row(run, names, units) for run in result.runs),
        "Reconciled values; an arrow leads to the value at the agreed feed.",
    )  # fmt: skip
    budgets: list[Block] = []
    for one in result.judged:
        rows = tuple(
            (
                Cell(part.label),
                Cell(value_text(one.guarantee.name, part.deviation, units)),
                Cell(f"{100 * part.share:.0f} %"),
            )
            for part in one.budget
        )
        heads = (
            Column(label_of_indicator(one.guarantee.name), share=3.0),
            Column("standard uncertainty", unit_of(one.guarantee.name, units), "right"),
            Column("share of variance", align="right"),
        )
        budgets.append(Table(heads, rows))
    rule = _rule_text(result.protocol)
    open_ = tuple(
        f"{label_of_indicator(one.guarantee.name)}: {one.decided_by}."
        for one in result.judged
        if one.decided_by
    )
    notes: tuple[Block, ...] = (Bullets("What would decide it", open_),) if open_ else ()
    notes += (Bullets("Notes", result.notes),) if result.notes else ()
    blank = Cell("name, date, signature")
    sign = ((Cell("for the supplier"), blank), (Cell("for the works"), blank))
    return (
        Section("answer", "Outcome", (
            Paragraph(_WORDS[result.outcome], "lead"), table, Paragraph(rule), *notes)),
        Section("runs", "The runs", (runs,)),
        Section("budget", "Uncertainty budgets", tuple(budgets)),
        Section("sign", "Signatures", (Table((Column(""), Column("", share=3.0)), sign),)),
    )  # fmt: skip
