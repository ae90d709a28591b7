"""The items round the machine, sized by the rows of its piece of line."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from cakewright.line.case import Case, Part, datum, motor_of, parts_joined
from cakewright.line.duty_numbers import sized
from cakewright.line.feeding import feed_fluid
from cakewright.line.inputs import PipeRun, point
from cakewright.line.items import Datum, Item, ItemKind, Motor
from cakewright.line.piping import Fluid
from cakewright.line.pumping import PumpDuty, pump_design
from cakewright.machines.piece import PieceItem, applies
from cakewright.physics.water import water_viscosity_iapws

__all__ = ["items_of_piece", "piece_rows"]


def piece_rows(case: Case) -> tuple[PieceItem, ...]:
    """Rows of the piece that apply to this line."""
    chosen = case.chosen
    return tuple(row for row in chosen.piece.items if applies(row.when, chosen.present))


def _count(case: Case, row: PieceItem) -> tuple[int, int]:
    """Units on duty and standing by."""
    if row.units == "machine":
        return sum(p.units for p in case.inputs.presses), sum(
            p.standby for p in case.inputs.presses
        )
    return 1, row.standby


def _data(row: PieceItem, numbers: Mapping[str, float]) -> tuple[Datum, ...]:
    found = [datum(s.name, sized(s, numbers), s.source, s.note, s.label) for s in row.sizes]
    if row.sound:
        found.append(datum("sound_level", row.sound, row.source))
    if row.plan is not None:
        for label, value in zip(("length", "width", "height"), row.plan, strict=True):
            found.append(datum("pipe_length", value, "JUDGEMENT", label=label))
    return tuple(found)


def _motor(case: Case, row: PieceItem, numbers: Mapping[str, float]) -> tuple[Motor, ...]:
    if row.motor is None:
        return ()
    duty, standby = _count(case, row)
    return (
        motor_of(
            case.book,
            f"M-{row.tag}",
            row.tag,
            row.motor_label or row.label,
            sized(row.motor, numbers),
            number=duty + standby,
            running=duty,
            running_share=numbers.get(row.motor_share_of, row.motor_share),
            control=row.motor_control,
        ),
    )


def _plain(case: Case, row: PieceItem, numbers: Mapping[str, float]) -> Part:
    duty, standby = _count(case, row)
    item = Item(
        tag=row.tag,
        kind=ItemKind(row.kind),
        label=row.label,
        service=row.service,
        duty=duty,
        standby=standby,
        data=_data(row, numbers),
        material=row.material,
        cautions=row.cautions,
        note=row.note,
    )
    return Part(items=(item,), motors=_motor(case, row, numbers))


def _fluid(case: Case, medium: str) -> Fluid:
    if medium == "sludge":
        return feed_fluid(case)
    water = float(water_viscosity_iapws(point(case.inputs.feed.temperature)))
    return Fluid(medium, case.water_density, water)


def _pump(case: Case, row: PieceItem, numbers: Mapping[str, float]) -> Part:
    if row.flow is None or row.pressure is None:
        return Part()
    duty, _ = _count(case, row)
    flow, run = sized(row.flow, numbers) * duty, case.inputs.pipe(row.run)
    design = pump_design(
        PumpDuty(
            tag=row.tag,
            service=row.service,
            flow_design=flow,
            flow_high=flow * (1 + case.book["pump_margin"]),
            flow_low=flow * case.book["feed_minimum_share"],
            fluid=_fluid(case, row.medium),
            pipe_tag=row.pipe,
            source=row.from_tag,
            target=row.to_tag,
            run=PipeRun(run.length, run.static_head, sized(row.pressure, numbers)),
            displacement=row.pump != "centrifugal",
            plunger=row.pump == "plunger",
            standby=row.standby > 0,
            number=duty,
            running_share=numbers.get(row.motor_share_of, row.motor_share),
            temperature=point(case.inputs.feed.temperature),
        ),
        case.book,
    )
    items = tuple(replace(i, label=row.label) for i in design.part.items)
    return replace(design.part, items=items)


def items_of_piece(case: Case, numbers: Mapping[str, float]) -> Part:
    """Every item of the piece but the measuring tank, open stirred tanks and the machine."""
    made = {"sizes": _plain, "pump": _pump}
    rows = [row for row in piece_rows(case) if row.rule in made]
    return parts_joined([made[row.rule](case, row, numbers) for row in rows])
