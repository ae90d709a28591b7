"""Totals and sheets: power, utilities, data sheets."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from cakewright.line.air import Ventilation
from cakewright.line.balance import Balance
from cakewright.line.case import Case
from cakewright.line.conditioning import ProductLine
from cakewright.line.duty_numbers import sized
from cakewright.line.inputs import point
from cakewright.line.items import Datum, Item, Motor, PipeLine, Sheet, Utility
from cakewright.line.pressing import WashWater
from cakewright.machines.piece import applies
from cakewright.quantities import FloatArray

__all__ = ["PowerTotals", "data_sheets", "power_totals", "utilities"]


@dataclass(frozen=True, slots=True, eq=False)
class PowerTotals:
    """Installed, simultaneous and largest starting power [W]; energy per day as a mean [W].

    ``specific_energy`` over samples, per dry solids fed [J/kg].
    """

    installed: float
    simultaneous: float
    largest_motor: float
    starting: float
    energy_mean: float
    specific_energy: FloatArray


def power_totals(case: Case, motors: Sequence[Motor]) -> PowerTotals:
    """Sums of the motor list; the largest motor starts while the rest runs."""
    installed = sum(m.installed for m in motors)
    together = sum(m.simultaneous for m in motors)
    largest = max(motors, key=lambda m: m.rated_power)
    factor = case.book["start_current_factor"] if largest.control == "direct start" else 1.5
    run = case.run_share
    mean = sum(m.simultaneous * (m.running_share * run + m.idle_share * (1 - run)) for m in motors)
    return PowerTotals(
        installed=installed,
        simultaneous=together,
        largest_motor=largest.rated_power,
        starting=together - largest.absorbed_power + factor * largest.rated_power,
        energy_mean=mean,
        specific_energy=mean / case.dry_solids,
    )


def utilities(
    case: Case,
    power: PowerTotals,
    products: Sequence[ProductLine],
    wash: WashWater,
    air: Ventilation,
    streams: Balance,
    numbers: Mapping[str, float],
) -> tuple[Utility, ...]:
    """What the site must bring: electricity, water, products, drain, air."""
    share = case.run_share
    peak = sum(p.water_peak for p in products) + sum(point(p.dilution_flow) for p in products)
    found = [
        Utility(
            "electricity",
            "three-phase",
            "power",
            power.simultaneous,
            "energy_per_day",
            power.energy_mean,
            f"installed {power.installed / 1000:.1f} kW; largest motor "
            f"{power.largest_motor / 1000:.2f} kW",
        ),
        Utility(
            "make-up water",
            "clean water, 4 to 32 degC",
            "volume_flow",
            peak,
            "volume_per_day",
            point(streams.make_up_water) * share,
            "hardness, chlorine and iron shorten the life of polymer",
        ),
    ]
    if wash.pump is not None:
        found.append(
            Utility(
                "wash water",
                f"{case.chosen.piece.cleaning.label}: clean or well-filtered, "
                f"{wash.pressure / 1e5:.1f} bar",
                "volume_flow",
                wash.peak,
                "volume_per_day",
                wash.week_mean,
                "through air gap",
            )
        )
    for p in products:
        supplied = point(p.as_supplied)
        found.append(
            Utility(
                p.product.name,
                f"{p.form.label}, {100 * p.activity:.0f} % active",
                "product_mass_flow",
                supplied,
                "mass_per_day",
                supplied * point(case.dry_solids) / case.design_solids,
                "as supplied",
            )
        )
    drain = streams.stream("liquor returned")
    found += [
        Utility(
            "drain to works",
            f"{case.chosen.piece.liquor} and wash water",
            "volume_flow",
            point(drain.volume_flow),
            "volume_per_day",
            point(drain.volume_flow) * share,
        ),
        Utility(
            "extraction",
            "press room and covers",
            "air_flow",
            air.room_air + air.odour_air,
            "air_flow",
            air.room_air + air.odour_air,
            "to odour treatment",
        ),
    ]
    found += [
        Utility(
            row.name,
            row.medium,
            row.peak.name,
            sized(row.peak, numbers),
            row.mean.name,
            sized(row.mean, numbers),
            row.note,
        )
        for row in case.chosen.piece.utilities
        if applies(row.when, case.chosen.present)
    ]
    return tuple(found)


def _rows(
    item: Item, motors: Sequence[Motor], pipes: Sequence[PipeLine]
) -> list[tuple[str, str, Datum | str]]:
    rows: list[tuple[str, str, Datum | str]] = [
        ("identity", "tag", item.tag),
        ("identity", "service", item.service),
        ("identity", "duty and standby", f"{item.duty} + {item.standby}"),
        ("identity", "material", item.material or "to be agreed with the supplier"),
    ]
    rows += [("duty", d.label or "", d) for d in item.data]
    for m in motors:
        rows += [
            ("drive", "motor", m.tag),
            ("drive", "number", f"{m.number}, of which {m.running} run"),
            ("drive", "rated", f"{m.rated_power / 1000:.2f} kW, {m.control}"),
            ("drive", "enclosure", "wash-down; area class by a competent person"),
        ]
    rows += [("connections", p.service, f"DN {p.nominal}, {p.source} to {p.target}") for p in pipes]
    if item.note:
        rows.append(("notes", "note", item.note))
    return rows


def data_sheets(
    items: Sequence[Item], motors: Sequence[Motor], pipes: Sequence[PipeLine], title: str
) -> tuple[Sheet, ...]:
    """One sheet per item: identity, duty, drive, connections, notes."""
    return tuple(
        Sheet(
            tag=item.tag,
            title=f"{item.tag} {item.label}",
            rows=tuple(
                _rows(
                    item,
                    [m for m in motors if m.item == item.tag],
                    [p for p in pipes if item.tag in (p.source, p.target)],
                )
            ),
            cautions=item.cautions,
            meta={"line": title},
        )
        for item in items
    )
