"""The engineer's report: indicators, promise, drifts with evidence, balances, log, service."""

from __future__ import annotations

import numpy as np

from cakewright.jobs.watch import WatchFindings
from cakewright.quantities import Basis
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
from cakewright.reports.marks import badge
from cakewright.reports.numbers import Units
from cakewright.reports.running_figures import (
    figure_against_expectation,
    figure_chart,
    figure_closure,
)
from cakewright.reports.running_operator import operator_text
from cakewright.reports.running_service import service_section
from cakewright.reports.running_words import (
    amount,
    day,
    drift_title,
    label_of_indicator,
    move_text,
    promise_verdict,
    share_text,
    since,
    unit_of,
    value_text,
)
from cakewright.running.diagnosis import Diagnosis, Evidence, Verdict
from cakewright.running.expectation import BaselineLaw
from cakewright.running.investigate import Drift
from cakewright.running.reconcile import BALANCE_KEYS
from cakewright.running.signals import signal
from cakewright.running.watching import BETWEEN, ChartKind

__all__ = ["engineer_sections"]

_INDICATORS = (
    "dry_solids_flow", "volume_flow", "cake_solids", "capture", "polymer_dose",
    "specific_energy", "wash_water_specific", "cost_specific", "carbon_specific",
    "run_hours_per_day",
)  # fmt: skip
_WEEKS = 13


def _answer(findings: WatchFindings, units: Units) -> Section:
    lines = operator_text(findings).splitlines()
    columns = (
        Column("", share=2.0), Column("last 4 weeks", align="point"), Column("±", align="right"),
        Column("promised", align="point"), Column("unit"),
        Column("chance it is kept", align="right"),
        Column("verdict", share=1.5), Column("read", align="right"),
    )  # fmt: skip
    rows = tuple(
        (
            Cell(label_of_indicator(one.name)),
            Cell(value_text(one.name, one.value, units)),
            Cell(value_text(one.name, NORMAL_90 * one.spread, units)),
            Cell(value_text(one.name, one.promised, units)),
            Cell(unit_of(one.name, units, findings.site.prices.currency)),
            Cell(share_text(one.chance)),
            Cell(promise_verdict(one)),
            Cell(f"{100 * one.coverage:.0f} %"),
        )
        for one in findings.promise
    )
    blocks: list[Block] = [Paragraph(lines[0], "lead")]
    if rows:
        caption = (
            "Weighted by solids over the last four weeks; ± with eight chances in ten, scatter "
            "between shifts and common uncertainty of the instruments together."
        )
        blocks.append(Table(columns, rows, caption))
    for drift in findings.current:
        blocks.append(Paragraph(f"{drift_title(drift)}, {since(findings, drift)}."))
    if not findings.current:
        blocks.append(Paragraph("Nothing has left its usual level in the last two weeks."))
    return Section("answer", "Where it stands", tuple(blocks))


def _weeks(findings: WatchFindings, units: Units) -> Section:
    names = [n for n in _INDICATORS if n in findings.month]
    columns = (
        Column("week from", share=1.5),
        *(
            Column(label_of_indicator(n), unit_of(n, units, findings.site.prices.currency), "right")
            for n in names
        ),
    )
    rows = []
    for week in findings.weeks[-_WEEKS:]:
        cells = [Cell(day(week.start))]
        for name in names:
            one = week.found.get(name)
            cells.append(Cell(value_text(name, one.value, units) if one else "–"))
        rows.append(tuple(cells))
    cover = tuple(
        (
            Cell(label_of_indicator(n)),
            Cell(value_text(n, findings.month[n].value, units)),
            Cell(value_text(n, findings.month[n].spread, units)),
            Cell(unit_of(n, units, findings.site.prices.currency)),
            Cell(f"{100 * findings.month[n].coverage:.0f} %"),
            Cell(str(findings.month[n].shifts)),
        )
        for n in names
    )
    heads = (
        Column("last four weeks", share=2.0), Column("value", align="right"),
        Column("standard uncertainty", align="right", share=1.3), Column("unit"),
        Column("coverage", align="right"), Column("shifts", align="right"),
    )  # fmt: skip
    pictures = tuple(
        Picture(
            figure_against_expectation(findings, n, units, height_mm=52),
            f"{label_of_indicator(n)} per shift",
            f"{label_of_indicator(n)} per shift; band: eight shifts in ten on that feed.",
        )
        for n in ("cake_solids", "capture")
        if n in findings.month
    )
    blocks: tuple[Block, ...] = (
        Table(columns, tuple(rows), kind="dense"), Table(heads, cover), *pictures,
    )  # fmt: skip
    return Section("indicators", "Indicators week by week", blocks)


def _evidence_row(one: Evidence) -> tuple[Cell, ...]:
    foretold = "rises" if one.foretold > 0 else "falls" if one.foretold < 0 else "stays"
    moved = amount(one.feature, one.moved) if np.isfinite(one.moved) else "not read"
    return (Cell(one.label), Cell(foretold), Cell(moved), Cell(one.verdict.value))


def _cause_blocks(one: Diagnosis) -> list[Block]:
    rows = tuple(
        _evidence_row(e)
        for v in (Verdict.FOR, Verdict.AGAINST, Verdict.NOT_READ)
        for e in one.pick(v)
    )
    columns = (
        Column("what is seen", share=2.6), Column("the cause foretells"),
        Column("what happened", share=1.3), Column("speaks", share=0.8),
    )  # fmt: skip
    mark = badge(Basis.ASSUMED, one.cause.mark)
    return [
        Heading(f"{one.cause.label} ({share_text(one.share)})"),
        Table(columns, rows) if rows else Paragraph("No feature speaks for or against."),
        Bullets("Check", (one.cause.check,)),
        Bullets("Its own first move", (one.cause.first_move,)),
        *(Paragraph(c.text, "caution") for c in one.cautions),
        Paragraph(f"Signs from {one.cause.source} ({mark.warning}).", "note"),
    ]


def _drift_blocks(findings: WatchFindings, drift: Drift) -> list[Block]:
    start = findings.table.start
    told = drift.explained
    moved = [f for f in (drift.feature, *drift.also) if f in drift.moves]
    words = "; ".join(move_text(f, drift.moves[f].size) for f in moved) or "no clear move"
    alarm = f"{drift.alarm.chart.value} chart, {day(int(start[drift.alarm.shift]))}"
    begun = since(findings, drift)
    blocks: list[Block] = [
        Paragraph(f"{begun[0].upper()}{begun[1:]}; first alarm: {alarm}. Moved: {words}."),
        Paragraph(
            f"Chance that nothing moved (a false alarm): {share_text(told.nothing)}; that it is "
            f"none of the causes known here: {share_text(told.other)}.",
            "note",
        ),
    ]
    for one in told.causes[:3]:
        if one.share > 0.03:
            blocks += _cause_blocks(one)
    return blocks


def _drifts(findings: WatchFindings) -> Section:
    watching = findings.watching
    charts = sum(len(one.charts) for one in watching.watched.values())
    blocks: list[Block] = [
        Paragraph(
            f"{charts} charts on {len(watching.watched)} series, each with limits for one false "
            f"alarm in {BETWEEN} shifts given the memory of its series: expect about "
            f"{watching.false_alarms_per_month:.1f} false alarms a month when nothing is wrong."
        )
    ]
    if not watching.drifts:
        blocks.append(Paragraph("No series left its usual level since the baseline."))
    for number, drift in enumerate(reversed(watching.drifts), start=1):
        blocks.append(Heading(f"{number}. {drift_title(drift)}"))
        blocks += _drift_blocks(findings, drift)
    return Section("drifts", "What drifted, since when, why", tuple(blocks), new_page=True)


def _charts(findings: WatchFindings) -> Section:
    pictures = tuple(
        Picture(figure_chart(findings, one), f"EWMA chart of {one.label}")
        for one in findings.watching.watched.values()
        if any(chart.kind is ChartKind.EWMA for chart in one.charts)
    )
    intro = Paragraph(
        "Dots: shifts in standard deviations about the baseline. Line: EWMA. Dashes: limits. "
        "Ticks at the foot: CUSUM beyond its limit. Responses are residuals from the expectation, "
        "so that a thinner feed alone raises no alarm on them."
    )
    return Section("charts", "Charts", (intro, *pictures), new_page=True)


def _balance(findings: WatchFindings, units: Units) -> Section:
    balance, table = findings.balance, findings.table
    rows = (table.start >= table.start[-1] - 28 * 86400) & (table.run_time > 0)
    checked = rows & (balance.freedom > 0)
    agree = int((checked & balance.agrees).sum())
    blocks: list[Block] = [
        Paragraph(
            f"Of {int(rows.sum())} running shifts in four weeks, {int(checked.sum())} carry a "
            f"reading to spare; in {agree} of these the readings agree with solids and water "
            "balance within their uncertainty (95 %)."
        )
    ]
    columns = (
        Column("stream", share=2.2), Column("read", align="right"),
        Column("reconciled", align="right"),
        Column("±", align="right"), Column("unit"),
        Column("seems off by", align="right", share=1.2),
    )  # fmt: skip
    suspects = {one.key: one for one in findings.suspects}
    lines = []
    for i, key in enumerate(BALANCE_KEYS):
        name, good = signal(key).name, rows & np.isfinite(balance.value[:, i])
        if not good.any():
            continue
        raw = table.get(key)[good]
        raw = raw[np.isfinite(raw)]
        off = suspects.get(key)
        lines.append(
            (
                Cell(signal(key).label),
                Cell(value_text(name, float(raw.mean()), units) if raw.size else "assumed"),
                Cell(value_text(name, float(balance.value[good, i].mean()), units)),
                Cell(value_text(name, float(balance.spread[good, i].mean()), units)),
                Cell(unit_of(name, units)),
                Cell(f"{100 * off.bias:+.0f} %".replace("-", "−") if off else ""),
            )
        )
    caption = (
        "Means over four weeks. “Seems off by” names readings whose adjustment points the same "
        "way shift after shift; readings the balances cannot tell apart are all named."
    )
    blocks.append(Table(columns, tuple(lines), caption))
    if checked.any():
        blocks.append(Picture(figure_closure(findings), "Gaps of the raw balances", "Raw gaps."))
    return Section("balance", "Reconciliation", tuple(blocks), new_page=True)


def _log(findings: WatchFindings) -> Section:
    rows = tuple(
        (Cell(one.what), Cell(one.signal), Cell(str(one.count))) for one in findings.tallies
    )
    columns = (
        Column("what was done", share=3.0), Column("to", share=1.5),
        Column("rows or readings", align="right"),
    )  # fmt: skip
    table = findings.table
    seen = float(table.seen_time.sum() / table.span.sum())
    blocks: list[Block] = [
        Paragraph(
            f"{table.size} shifts from {day(int(table.start[0]))} to {day(int(table.start[-1]))}; "
            f"{100 * seen:.0f} % of that time is in the log."
        ),
        Table(columns, rows) if rows else Paragraph("Nothing had to be dropped or altered."),
    ]
    if findings.notes:
        blocks.append(Bullets("Notes", findings.notes))
    if findings.receipts:
        blocks.append(Bullets("What was read", findings.receipts))
    return Section("log", "The log: what was dropped or altered", tuple(blocks))


def _law(findings: WatchFindings) -> Section:
    law = findings.watching.expectation
    blocks: list[Block] = []
    if isinstance(law, BaselineLaw):
        columns = (
            Column("response", share=1.4),
            *(Column(key.replace("_", " "), align="right") for key in law.conditions),
            Column("scatter", align="right"), Column("shifts", align="right"),
        )  # fmt: skip
        rows = []
        for name, one in law.laws.items():
            sigma = np.sqrt(np.diag(one.covariance))
            cells = [
                Cell(f"{b:+.2f} ± {s:.2f}".replace("-", "−"))
                for b, s in zip(one.parameters[1:], sigma[1:], strict=True)
            ]
            scatter = Cell(f"{100 * one.scatter:.0f} %")
            rows.append((Cell(name.replace("_", " ")), *cells, scatter, Cell(str(one.shifts))))
        caption = (
            "Percent change of the response for one percent of the condition (temperature: per "
            "10 K, natural log). Where a setting never moved in the baseline, the figure is the "
            "documented starting belief (judgement), with its spread."
        )
        blocks.append(Table(columns, tuple(rows), caption))
    blocks.append(
        Paragraph(
            "Balances: weighted least squares after L95. Charts: L97, limits by simulation of a "
            "series with the same memory (OWN). Causes: signature table, likelihood averaged over "
            "how strong a cause may be (OWN; signs are judgement).",
            "note",
        )
    )
    return Section("method", "Expectation and method", tuple(blocks))


def _cautions(findings: WatchFindings) -> Section:
    blocks = tuple(Paragraph(f"{c.text} ({c.source})", "caution") for c in findings.cautions)
    note = Paragraph(
        "Local codes, permits, the supplier's instructions and licensed practice come first. "
        "This report reads data only; nothing here writes to plant controls.",
        "note",
    )
    return Section("cautions", "Cautions", (*blocks, note))


def engineer_sections(findings: WatchFindings, units: Units = Units.SI) -> tuple[Section, ...]:
    """Every section of the full report."""
    return (
        _answer(findings, units), _weeks(findings, units), _drifts(findings), _charts(findings),
        _balance(findings, units), _log(findings), service_section(findings), _law(findings),
        _cautions(findings),
    )  # fmt: skip
