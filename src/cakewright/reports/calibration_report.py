"""What trial runs told of a press: report, data, headline."""

from __future__ import annotations

import json
from collections.abc import Sequence

from cakewright.jobs.calibrate import CalibrationFindings, Narrowed, RunCheck
from cakewright.jobs.next_trial import NextTrial
from cakewright.quantities import house_name
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
from cakewright.reports.figures.predictive import PredictiveRow, figure_predictive
from cakewright.reports.numbers import (
    Units,
    decimals_for,
    number_text,
    shown,
    shown_unit,
    unit_text,
)
from cakewright.reports.running_pages import sections_page, sections_pdf

__all__ = ["calibration_headline", "calibration_outputs", "next_table"]

_NAMES = {
    "cake_solids": "cake_solids",
    "capture": "capture",
    "power": "power",
    "torque": "screw_torque",
}
_WIDTH = 96


def _unit(name: str, units: Units) -> str:
    return unit_text(shown_unit(name, units))


def _quantity(name: str, value: float, units: Units, digits: int = 1) -> str:
    return f"{number_text(shown(name, value, units), digits)} {_unit(name, units)}".strip()


def calibration_outputs(
    found: CalibrationFindings, units: Units = Units.SI
) -> dict[str, str | bytes]:
    """Report as HTML and PDF, and the data."""
    title = f"What the trial told of frame {found.fitted.frame}"
    sections = (_answer(found, units), _readings(found, units), _parameters(found), _basis(found))
    invented = found.fitted.mark == "invented"
    site = found.fitted.sludge
    return {
        "calibration.html": sections_page(title, site, sections, invented=invented),
        "calibration.pdf": sections_pdf(title, site, sections, units, invented=invented),
        "calibration.json": calibration_json(found),
    }


def _runs(found: CalibrationFindings) -> str:
    """Runs of this trial, and how many went before them."""
    before = found.trial.before
    now = found.fitted.runs - (before.runs if before else 0)
    told = f"{now} run{'' if now == 1 else 's'}"
    return f"{told} after {before.runs} earlier ones" if before else told


def _answer(found: CalibrationFindings, units: Units) -> Section:
    fitted = found.fitted
    lead = (
        f"{_runs(found)} on frame {fitted.frame} with {fitted.sludge}. {_narrowing(found, units)}"
    )
    blocks: list[Block] = [Paragraph(lead, "lead")]
    blocks += [Paragraph(text[:1].upper() + text[1:], "caution") for text in found.contradictions]
    blocks.append(Bullets("What the runs can tell", found.words))
    if found.next_trials and found.target is not None:
        blocks += [Heading("The run to make next"), next_table(found.next_trials, units)]
        blocks.append(
            Paragraph(
                f"Ranked by how much each is expected to narrow the cake at {found.target.words}. "
                "One reading of cake and of capture each; settings near the limits of the press "
                "are left to the judgement of those at the machine.",
                "note",
            )
        )
    return Section("answer", "Answer", tuple(blocks))


def _narrowing(found: CalibrationFindings, units: Units) -> str:
    cakes = [c for c in found.checks if c.output == "cake_solids"]
    if not cakes:
        return "No cake was read, so its band is as before."
    before = sum(c.before[2] - c.before[0] for c in cakes) / len(cakes)
    after = sum(c.after[2] - c.after[0] for c in cakes) / len(cakes)
    unit = _unit("cake_solids", units)
    return (
        f"The band of cake solids at the settings run narrows from "
        f"{number_text(shown('cake_solids', before, units), 1)} to "
        f"{number_text(shown('cake_solids', after, units), 1)} {unit} wide (10 to 90 %)."
    )


def next_table(trials: Sequence[NextTrial], units: Units) -> Table:
    """Candidate settings in the order of their worth."""
    columns = (
        Column("", share=0.4),
        Column("screw speed", _unit("screw_speed", units), "right"),
        Column("back pressure", _unit("back_pressure", units), "right"),
        Column("dry solids", _unit("dry_solids_flow", units), "right"),
        Column("dose", _unit("polymer_dose", units), "right"),
        Column("cake expected", _unit("cake_solids", units), "right"),
        Column("spread taken away", "%", "right"),
    )
    rows = tuple(
        (
            Cell(str(at)),
            Cell(number_text(shown("screw_speed", t.speed, units), 1)),
            Cell(number_text(shown("back_pressure", t.back_pressure, units), 0)),
            Cell(number_text(shown("dry_solids_flow", t.dry_solids_flow, units), 1)),
            Cell(number_text(shown("polymer_dose", t.dose, units), 1)),
            Cell(number_text(shown("cake_solids", t.cake_expected, units), 1)),
            Cell(number_text(100.0 * t.narrowing, 0), strong=at == 1),
        )
        for at, t in enumerate(trials, start=1)
    )
    return Table(columns, rows, "Settings worth running next, best first.")


def _readings(found: CalibrationFindings, units: Units) -> Section:
    blocks: list[Block] = []
    for output, name in _NAMES.items():
        checks = [c for c in found.checks if c.output == output]
        if checks:
            blocks += [_picture(checks, name, units)]
    blocks += [_check_table(found.checks, units), _foreseen_table(found)]
    return Section("readings", "Readings against the model", tuple(blocks), new_page=True)


def _picture(checks: Sequence[RunCheck], name: str, units: Units) -> Picture:
    def triple(values: tuple[float, float, float]) -> tuple[float, float, float]:
        low, middle, high = (float(shown(name, v, units)) for v in values)
        return low, middle, high

    rows = [
        PredictiveRow(
            c.run,
            float(shown(name, c.measured, units)),
            float(shown(name, c.measured + c.sd, units) - shown(name, c.measured, units)),
            triple(c.before),
            triple(c.after),
            c.contradicts,
        )
        for c in checks
    ]
    title = house_name(name).label
    label = f"{title}, {_unit(name, units)}"
    spoken = "; ".join(
        f"{r.label} measured {r.measured:.3g}, after {r.after[0]:.3g} to {r.after[2]:.3g}"
        for r in rows
    )
    svg = figure_predictive(rows, y_label=label, alt=f"{label}: {spoken}", key=f"predictive-{name}")
    return Picture(
        svg,
        f"{label}: {spoken}",
        f"{title[:1].upper()}{title[1:]}. Pale: 10 to 90 % before the runs; strong: after them; "
        "points: measured, with two standard deviations; cross: a reading that contradicts the "
        "others.",
    )


def _check_table(checks: Sequence[RunCheck], units: Units) -> Table:
    columns = (
        Column("run"),
        Column("reading", share=1.4),
        Column("unit", share=0.7),
        Column("measured", align="right"),
        Column("before", align="middle", share=1.4),
        Column("after", align="middle", share=1.4),
        Column("from the others, sd", align="right", share=1.2),
    )
    return Table(
        columns,
        tuple(_check_row(check, units) for check in checks),
        "Before and after: 10 to 90 %. Last column: distance from what all other runs foretell. Of "
        "made-up honest trials about 2 in 100 had a run named as contradicting the others: look at "
        "its sampling before leaving it out.",
        kind="dense",
    )


def _check_row(check: RunCheck, units: Units) -> tuple[Cell, ...]:
    name = _NAMES[check.output]
    digits = decimals_for(name, (check.measured, check.after[0]), units)

    def text(value: float) -> str:
        return number_text(shown(name, value, units), digits)

    return (
        Cell(check.run),
        Cell(house_name(name).label),
        Cell(_unit(name, units)),
        Cell(text(check.measured)),
        Cell(f"{text(check.before[0])}–{text(check.before[2])}"),
        Cell(f"{text(check.after[0])}–{text(check.after[2])}"),
        Cell(number_text(check.odd, 1), strong=check.contradicts),
    )


def _foreseen_table(found: CalibrationFindings) -> Table:
    columns = (
        Column("before any fit", share=2.0),
        Column("presses that could run", "%", "right"),
        Column("chance of the readings", align="right"),
    )
    rows = tuple(
        (
            Cell(one.what),
            Cell(number_text(100.0 * one.could, 0)),
            Cell("not told" if one.chance is None else _chance(one.chance)),
        )
        for one in found.foreseen
    )
    return Table(
        columns,
        rows,
        "Each run and each trend against what law and machine foretold before the runs: share of "
        "the presses believed possible that could run there, and chance that such a press reads "
        "as far off as was read. Not told where fewer than 20 of the presses tried could run.",
        kind="dense",
    )


def _parameters(found: CalibrationFindings) -> Section:
    columns = (
        Column("parameter", share=1.6),
        Column("unit", share=0.8),
        Column("before: 10, 50, 90 %", align="middle", share=2.0),
        Column("after: 10, 50, 90 %", align="middle", share=2.0),
        Column("spread left", "%", "right"),
    )
    rows = tuple(_parameter_row(item) for item in found.narrowed)
    note = Paragraph(
        "Parameters belong to this machine and frame. Where little spread was taken away the "
        "runs say nothing of that parameter, and what was believed before stands.",
        "note",
    )
    return Section("parameters", "Machine parameters", (Table(columns, rows), note))


def _plain(value: float) -> str:
    """Three digits, very large and small ones as a power of ten."""
    text = f"{value:.3g}"
    if "e" not in text:
        return text
    digits, power = text.split("e")
    raised = str(int(power)).translate(str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹"))
    return f"{digits}·10{raised}"


def _parameter_row(item: Narrowed) -> tuple[Cell, ...]:
    def three(values: tuple[float, float, float]) -> str:
        return ", ".join(_plain(value) for value in values)

    return (
        Cell(item.name.replace("_", " ")),
        Cell(unit_text(item.unit)),
        Cell(three(item.before)),
        Cell(three(item.after)),
        Cell(number_text(100.0 * min(item.left, 1.5), 0), strong=item.left < 0.8),
    )


def _basis(found: CalibrationFindings) -> Section:
    items = (
        f"sludge law: {found.fitted.sludge}; its uncertainty is shared by all runs",
        f"two methods: {found.agreement}",
        f"chance of readings this far from the model, if it holds: {_chance(found.chance)}",
        f"date {found.fitted.date}; basis {found.fitted.basis.value}"
        + (f", {found.fitted.mark.value}" if found.fitted.mark else ""),
    )
    return Section("basis", "What it rests on", (Bullets("Basis", items),))


def _chance(chance: float) -> str:
    if chance < 1e-3:
        return "below 0.1 %"
    return f"{number_text(100.0 * chance, 0 if chance > 0.1 else 1)} %"


def calibration_headline(found: CalibrationFindings, units: Units = Units.SI) -> str:
    """The answer in plain text, for a terminal."""
    import textwrap

    fitted = found.fitted
    parts = [f"Frame {fitted.frame}: {_runs(found)}. {_narrowing(found, units)}"]
    parts += [f"! {text}" for text in found.contradictions]
    parts += [f"- {text}" for text in found.words]
    parts.append(f"- {found.agreement}")
    lines = [line for part in parts for line in textwrap.wrap(part, _WIDTH, subsequent_indent="  ")]
    if found.next_trials:
        lines.append("Run next (expected narrowing of the cake to be guaranteed):")
        lines += [_next_words(t, units) for t in found.next_trials[:3]]
    if fitted.mark == "invented":
        lines.append("The runs are invented.")
    return "\n".join(lines)


def _next_words(trial: NextTrial, units: Units) -> str:
    parts = (
        _quantity("screw_speed", trial.speed, units),
        _quantity("back_pressure", trial.back_pressure, units, 0),
        _quantity("dry_solids_flow", trial.dry_solids_flow, units),
        _quantity("polymer_dose", trial.dose, units),
    )
    return f"  {', '.join(parts)}: {100 * trial.narrowing:.0f} %"


def calibration_json(found: CalibrationFindings) -> str:
    """Results as data, SI, for scripts."""
    data = {
        "format": "cakewright calibration 1",
        "machine": found.fitted.machine.value,
        "frame": found.fitted.frame,
        "runs": found.fitted.runs,
        "earlier_runs": found.trial.before.runs if found.trial.before else 0,
        "invented": found.fitted.mark == "invented",
        "chance": found.chance,
        "agreement": found.agreement,
        "contradictions": list(found.contradictions),
        "words": list(found.words),
        "parameters": {
            n.name: {"before": n.before, "after": n.after, "unit": n.unit, "spread_left": n.left}
            for n in found.narrowed
        },
        "readings": [
            {
                "run": c.run,
                "output": c.output,
                "measured": c.measured,
                "sd": c.sd,
                "before": c.before,
                "after": c.after,
                "from_the_others_sd": c.odd,
            }
            for c in found.checks
        ],
        "before_any_fit": [
            {"what": one.what, "could_run": one.could, "chance": one.chance}
            for one in found.foreseen
        ],
        "next_trials": [
            {
                "speed": t.speed,
                "back_pressure": t.back_pressure,
                "dry_solids_flow": t.dry_solids_flow,
                "dose": t.dose,
                "narrowing": t.narrowing,
            }
            for t in found.next_trials
        ],
    }
    return json.dumps(data, ensure_ascii=False, indent=1, allow_nan=False)
