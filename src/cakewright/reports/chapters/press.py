"""The chosen press by its physics: setting, prediction, limits, profile, operating grid."""

from __future__ import annotations

import numpy as np

from cakewright.machines.pressing_path import PathStatus
from cakewright.machines.screw.path import ScrewProfile
from cakewright.machines.screw.prediction import FAR, PressFindings
from cakewright.quantities import FloatArray
from cakewright.quantities.constants import MINUTE
from cakewright.reports.book import NOTHING, Book
from cakewright.reports.chapters.press_changes import capacity, changes, every_kind, plate_cycles
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
from cakewright.reports.figures.operating_grid import GridCell, figure_operating_grid
from cakewright.reports.figures.press_profile import Profile, figure_press_profile
from cakewright.reports.numbers import number_text, shown, shown_array, shown_unit, unit_text

__all__ = ["press"]


def press(book: Book) -> Section | None:
    """Prediction for the chosen screw press, and for every kind on a tested law."""
    found = book.findings.press
    if found is None and not book.findings.kinds:
        return None
    blocks = [] if found is None else _screw(book, found)
    blocks += [*every_kind(book), *plate_cycles(book)]
    return Section("press", "Press", tuple(blocks))


def _screw(book: Book, found: PressFindings) -> list[Block]:
    blocks: list[Block] = [Paragraph(_setting(book, found)), *_warnings(found)]
    if found.figures:
        rows = book.figure_rows(tuple(found.figures.values()), "press")
        blocks.append(Table(book.figure_columns("prediction"), rows, "At this setting."))
    blocks += [Heading("Distance to each limit"), _limits(found), capacity(book, found)]
    if found.profile is not None:
        blocks += [Heading("Along the press"), _profile(book, found.profile)]
    blocks += [Heading("If the setting is changed"), _grid(book, found)]
    return blocks + changes(book, found)


def _setting(book: Book, found: PressFindings) -> str:
    speed = number_text(found.speed * MINUTE, 1)
    plate = book.quantity("back_pressure", found.back_pressure)
    dose = book.quantity("polymer_dose", found.dose)
    aim = f"Chosen for: {found.setting.aim.value}, {found.setting.words}."
    return (
        f"Frame {found.frame} at {speed} turns a minute, a back pressure of {plate} and a dose of "
        f"{dose}. {found.binding_words[:1].upper()}{found.binding_words[1:]}. {aim} {_used(found)}"
    )


def _used(found: PressFindings) -> str:
    if found.tested:
        return "Cake, capture and dose of this report are these predictions: the law is tested."
    return (
        "By the prior of the class alone: the report's figures stay with the published band, and "
        "this prediction stands beside it."
    )


def _warnings(found: PressFindings) -> list[Block]:
    blocks: list[Block] = []
    if found.causes:
        causes = ", ".join(
            f"{name} {share * 100:.0f} %" for name, share in found.causes.items() if share >= 0.005
        )
        blocks.append(
            Paragraph(
                f"{found.answered * 100:.0f} % of the cases can be run at this setting; what stops "
                f"the others: {causes}.",
                "caution",
            )
        )
    if found.notes:
        blocks.append(Bullets("To be read with it", found.notes))
    return blocks


def _limits(found: PressFindings) -> Table:
    most = found.capacity.margins
    columns = (
        Column("limit"),
        Column("to spare", "%", "right"),
        Column("at the most it takes", "%", "right", 1.4),
        Column("", share=2.0),
    )
    rows = tuple(
        (
            Cell(name, strong=name == found.binding),
            Cell(_spare(margin)),
            Cell(_spare(most[name]) if name in most else NOTHING),
            Cell("nearest" if name == found.binding else ""),
        )
        for name, margin in found.margins.items()
    )
    caption = "Point case; below zero the press could not run."
    return Table(columns, rows, caption, kind="legend")


def _spare(margin: float) -> str:
    return number_text(100 * margin, 0) if margin <= FAR else f"over {100 * FAR:.0f}"


def _profile(book: Book, profile: ScrewProfile) -> Picture:
    def panel(name: str, label: str, values: FloatArray) -> tuple[str, FloatArray]:
        unit = unit_text(shown_unit(name, book.units))
        return f"{label}, {unit}", shown_array(name, values, book.units)

    solids, mean = panel("total_solids", "total solids", profile.total_solids)
    _, face = panel("total_solids", "", profile.total_solids_face)
    _, core = panel("total_solids", "", profile.total_solids_core)
    stress, axial = panel("axial_stress", "axial stress", profile.axial_stress)
    place, z = panel("barrel_position", "place along the drained length", profile.z)
    start = float(shown_array("barrel_position", np.array([profile.pressing_start]), book.units)[0])
    zones = [("drainage zone", float(z[0]), start), ("pressing zone", start, float(z[-1]))]
    alt = (
        f"Along the press total solids rise from {mean[0]:.3g} to {mean[-1]:.3g} % and axial "
        f"stress from {axial[0]:.2g} to {axial[-1]:.2g}; the pressing zone begins at {start:.2g}"
    )
    others = (("at the rings", face), ("at the screw", core))
    svg = figure_press_profile(
        z,
        [Profile(solids, mean, others=others), Profile(stress, axial)],
        [zone for zone in zones if zone[2] > zone[1]],
        x_label=place,
        alt=alt,
    )
    return Picture(svg, alt, "Point case. Strong line: mean over the section.")


def _grid(book: Book, found: PressFindings) -> Picture:
    chart = found.map
    wanted = next((g.value for g in book.findings.givens if g.name == "target_cake_solids"), 0.0)
    cells = [
        [
            _grid_cell(book, float(solids), int(status), wanted)
            for solids, status in zip(line, states, strict=True)
        ]
        for line, states in zip(chart.cake_solids, chart.status, strict=True)
    ]
    pressures = shown_array("back_pressure", chart.back_pressure, book.units)
    digits = 2 if float(pressures.max()) < 10 else 0
    unit = unit_text(shown_unit("back_pressure", book.units))
    column = int(np.argmin(np.abs(chart.speed - found.speed)))
    row = int(np.argmin(np.abs(chart.back_pressure - found.back_pressure)))
    alt = (
        f"Cake solids over screw speed and back pressure; the setting chosen is "
        f"{found.speed * MINUTE:.1f} turns a minute"
    )
    svg = figure_operating_grid(
        [number_text(speed * MINUTE, 1) for speed in chart.speed],
        [number_text(pressure, digits) for pressure in pressures],
        cells,
        title="Cake solids, %",
        x_label="screw speed, 1/min",
        y_label=f"back pressure, {unit}",
        alt=alt,
        chosen=(row, column),
    )
    caption = (
        "Point case. Framed: the setting chosen. Grey: cake below what is wanted. Struck: cannot "
        "be run, with the limit that stops it."
    )
    return Picture(svg, alt, caption)


def _grid_cell(book: Book, solids: float, status: int, wanted: float) -> GridCell:
    if status != PathStatus.ANSWER or not np.isfinite(solids):
        return GridCell(PathStatus(status).label, feasible=False)
    text = number_text(shown("cake_solids", solids, book.units), 1)
    return GridCell(text, meets=solids >= wanted)
