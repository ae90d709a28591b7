"""Pilot runs worth making before any was made: table, words, lines for a terminal."""

from __future__ import annotations

from cakewright.jobs.next_trial import NextTrial
from cakewright.jobs.pilot_worth import PilotWorth
from cakewright.reports.content import Block, Cell, Column, Paragraph, Section, Table
from cakewright.reports.numbers import Units, number_text, shown, shown_unit, unit_text

__all__ = ["pilot_lines", "pilot_section"]


def pilot_section(worth: PilotWorth, units: Units) -> Section:
    """What each run would let be promised, and how far to trust it."""
    blocks: tuple[Block, ...] = (Paragraph(_lead(worth)), _table(worth, units))
    return Section("pilot", "Pilot runs worth making", blocks)


def _unit(name: str, units: Units) -> str:
    return unit_text(shown_unit(name, units))


def _lead(worth: PilotWorth) -> str:
    known = "the tested law" if worth.tested else "the prior of the sludge's class (no test)"
    text = (
        "No trial run stands behind this promise. Runs are ranked by how much one of each narrows "
        f"the cake the press physics foretells at {worth.target.words}, from {known} and the "
        "judged spread of the machine. "
    )
    if worth.tested:
        return text + (
            "Gain: how much drier a cake could be promised at the same chance if the expected cake "
            "stays; a run may also show that less must be promised."
        )
    return text + "The promise itself rests on published bands, so no gain can be told."


def _table(worth: PilotWorth, units: Units) -> Table:
    columns = [Column("", share=0.4)]
    columns += [Column(title, _unit(name, units), "right") for title, name in _SETTINGS]
    columns.append(Column("spread taken away", "%", "right"))
    if worth.tested:
        columns.append(Column("promise gains", "points", "right"))
    rows = []
    for at, trial in enumerate(worth.trials):
        row = [Cell(str(at + 1)), *(Cell(text) for text in _settings(trial, units))]
        row.append(Cell(number_text(100.0 * trial.narrowing, 0)))
        if worth.tested:
            row.append(Cell(number_text(100.0 * worth.gains[at], 1), strong=at == 0))
        rows.append(tuple(row))
    note = "Best first; settings the press could not hold are left out."
    return Table(tuple(columns), tuple(rows), note)


_SETTINGS = (
    ("screw speed", "screw_speed"),
    ("back pressure", "back_pressure"),
    ("dry solids", "dry_solids_flow"),
    ("dose", "polymer_dose"),
)


def _settings(trial: NextTrial, units: Units) -> tuple[str, ...]:
    values = (trial.speed, trial.back_pressure, trial.dry_solids_flow, trial.dose)
    places = (1, 0, 1, 1)
    return tuple(
        number_text(shown(name, value, units), digits)
        for (_, name), value, digits in zip(_SETTINGS, values, places, strict=True)
    )


def pilot_lines(worth: PilotWorth, units: Units, most: int = 3) -> list[str]:
    """The best few for a terminal."""
    what = "cake promised at the same chance gains" if worth.tested else "spread of the cake taken"
    lines = [f"Pilot runs worth making ({what})"]
    for at, trial in enumerate(worth.trials[:most]):
        parts = [
            f"{text} {_unit(name, units)}"
            for text, (_, name) in zip(_settings(trial, units), _SETTINGS, strict=True)
        ]
        gain = f"{number_text(100.0 * trial.narrowing, 0)} %"
        if worth.tested:
            gain = f"{number_text(100.0 * worth.gains[at], 1)} points"
        lines.append(f"  {', '.join(parts)}: {gain}")
    return lines
