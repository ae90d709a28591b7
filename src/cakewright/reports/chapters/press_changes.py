"""What changes at the press: load it can take, one thing changed at a time, a shaft out."""

from __future__ import annotations

from cakewright.machines.prediction import KindFindings
from cakewright.machines.screw.change import Lever, Sensitivity, ShaftOut
from cakewright.machines.screw.prediction import PressFindings
from cakewright.reports.book import NOTHING, Book
from cakewright.reports.content import Block, Cell, Column, Heading, Paragraph, Table
from cakewright.reports.numbers import number_text, shown

__all__ = ["capacity", "changes", "every_kind", "plate_cycles"]

_MOST = 8
_WORDS = {
    "side_ratio": "side ratio (machine)",
    "grip": "grip (machine)",
    "conveying": "conveying share (machine)",
    "medium_resistance": "face resistance (machine)",
    "remix": "remixing (machine)",
    "kneading": "gain by kneading (machine)",
    "critical_shear": "critical shear rate (machine)",
    "path_share": "share of the layer's depth water goes (machine)",
    "wash_load": "washing by hydraulic load (machine)",
    "wash_gap": "washing by the gap (machine)",
    "renewals": "renewals of the face (machine)",
    "fines_factor": "fines factor (machine)",
    "extrusion": "extrusion (machine)",
    "speed": "screw speed",
    "level": "level of the flocculation tank",
    "dry_solids_flow": "solids load",
}


def capacity(book: Book, found: PressFindings) -> Paragraph:
    """The most the press takes at the setting, and what stops more."""
    load = found.capacity
    most = book.quantity("dry_solids_flow", load.dry_solids_flow)
    return Paragraph(f"One machine takes {most} dry solids at this setting: {load.words}.", "note")


def changes(book: Book, found: PressFindings) -> list[Block]:
    """Levers, one shaft out, sensitivities."""
    blocks: list[Block] = [Heading("If one thing changes"), _levers(book, found.levers)]
    if found.shaft_out is not None:
        blocks += [Heading("With one shaft out of service"), _shaft_out(book, found.shaft_out)]
    rows = [row for row in found.sensitivities if row.answer == "cake_solids"][:_MOST]
    if rows:
        blocks += [Heading("What moves the cake most"), _sensitivities(rows)]
    return blocks


def _levers(book: Book, levers: tuple[Lever, ...]) -> Table:
    columns = (
        Column("changed", share=2.0),
        Column("by", "%", "right"),
        Column("cake solids", book.unit("cake_solids"), "right"),
        Column("capture", book.unit("capture"), "right"),
        Column("least margin", "%", "right"),
        Column("", share=1.6),
    )

    def row(lever: Lever) -> tuple[Cell, ...]:
        told = f"cannot be run: {lever.stopped}" if lever.stopped else ""
        told = "dose not tested: extrapolated" if lever.extrapolated and not told else told
        return (
            Cell(lever.words),
            Cell(number_text(100.0 * (lever.factor - 1.0), 0)),
            _value(book, "cake_solids", lever.cake_solids),
            _value(book, "capture", lever.capture),
            Cell(number_text(100.0 * lever.margin, 0) if not lever.stopped else NOTHING),
            Cell(told),
        )

    caption = "Point case, everything else as it is."
    return Table(columns, tuple(row(lever) for lever in levers), caption, kind="dense")


def _value(book: Book, name: str, value: float | None) -> Cell:
    if value is None:
        return Cell(NOTHING)
    return Cell(number_text(shown(name, value, book.units), 1))


def _shaft_out(book: Book, out: ShaftOut) -> Paragraph:
    text = f"{out.words[:1].upper()}{out.words[1:]}."
    if out.cake_solids is not None and out.capture is not None:
        cake = book.quantity("cake_solids", out.cake_solids)
        capture = book.quantity("capture", out.capture)
        speed = book.quantity("screw_speed", out.speed)
        plate = book.quantity("back_pressure", out.back_pressure)
        text += f" Cake of {cake} and capture of {capture}, at {speed} and {plate} (point case)."
    return Paragraph(text)


def _sensitivities(rows: list[Sensitivity]) -> Table:
    columns = (Column("input", share=2.0), Column("cake moves", "% per %", "right"))
    cells = tuple(
        (
            Cell(_WORDS.get(row.input, row.input.replace("_", " "))),
            Cell(number_text(row.elasticity, 2)),
        )
        for row in rows
    )
    return Table(columns, cells, "Relative change of cake solids per change of the input.")


def every_kind(book: Book) -> list[Block]:
    """Every other kind of machine on the same law; untested, the chosen one alone."""
    kinds = book.findings.kinds
    if not kinds:
        return []
    if not kinds[0].tested:
        return _by_the_prior(book, kinds[0])
    labels = {option.machine: option.label for option in book.findings.options}
    columns = (
        Column("kind", share=1.4),
        Column("frame", share=1.2),
        Column("cake solids", book.unit("cake_solids"), "middle", 1.2),
        Column("can run", "%", "right", 0.7),
        Column("limits, and what is envelope", share=3.4),
    )
    rows = tuple(
        (
            Cell(labels[kind.machine]),
            Cell(kind.frame),
            book.band_cell(kind.figures.get("cake_solids")),
            Cell(number_text(100.0 * kind.answered, 0)),
            Cell(f"{kind.words}. {kind.envelope[:1].upper()}{kind.envelope[1:]}."),
        )
        for kind in kinds
    )
    caption = "10 to 90 % by each kind's own pressing path on the tested law."
    return [Heading("Other kinds on the same law"), Table(columns, rows, caption, kind="dense")]


def _by_the_prior(book: Book, kind: KindFindings) -> list[Block]:
    """The chosen kind beside its published band."""
    share, hours = number_text(100.0 * kind.answered, 0), number_text(24.0 * kind.running, 1)
    planned = {figure.name: figure.point for figure in book.findings.decision.headline}
    rated = planned.get("run_hours_per_day", kind.running)
    whole = (
        f" (the whole shift: the {number_text(24.0 * rated, 1)} hours of the catalogue's rate are "
        "too few)"
        if kind.running > 1.001 * rated
        else ""
    )
    causes = ", ".join(f"{name} {100.0 * part:.0f} %" for name, part in kind.causes.items())
    beyond = f"; what stops the others: {causes}" if causes else ""
    words = (
        f"Frame {kind.frame} by its own pressing path, {hours} hours on an operating day{whole}. "
        f"{kind.words[:1].upper()}{kind.words[1:]}. {share} % of the cases can be run{beyond}. "
        f"{kind.envelope[:1].upper()}{kind.envelope[1:]}. By the prior of the class alone: the "
        "report's figures stay with the published band, and this prediction stands beside it."
    )
    blocks: list[Block] = [Paragraph(words)]
    if kind.figures:
        rows = book.figure_rows(tuple(kind.figures.values()), "press")
        blocks.append(
            Table(book.figure_columns("prediction"), rows, "At the best of its settings.")
        )
    return blocks


def plate_cycles(book: Book) -> list[Block]:
    """Times, cake and throughput of the plate presses' cycles, and what ended them."""
    labels = {option.machine: option.label for option in book.findings.options}
    found = [(labels[k.machine], k.cycle) for k in book.findings.kinds if k.cycle is not None]
    blocks: list[Block] = []
    for label, cycle in found:
        rows = book.figure_rows(tuple(cycle.figures.values()), "press")
        ends = ", ".join(f"{name} {100.0 * share:.0f} %" for name, share in cycle.ends.items())
        caption = (
            f"Point case: {cycle.ended}. Over the cases that can run, filling is ended by: {ends}."
        )
        blocks += [
            Heading(f"Cycle of the {label}"),
            Table(book.figure_columns("cycle"), rows, caption),
        ]
    return blocks
