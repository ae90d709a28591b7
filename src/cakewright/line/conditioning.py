"""Conditioning: one or two products, made down, aged, pumped; pH, alkalinity, added solids."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from cakewright.line.case import Case, Part, datum, line_of, motor_of, parts_joined
from cakewright.line.conditioning_checks import (
    ageing_finding,
    chemistry_findings,
    life_finding,
    range_finding,
    strength_finding,
)
from cakewright.line.inputs import Product, point
from cakewright.line.items import Item, ItemKind, Motor
from cakewright.line.piping import Fluid
from cakewright.line.practice import ProductForm, product_form
from cakewright.line.pumping import PumpDesign, PumpDuty, pump_design
from cakewright.physics.alkalinity import (
    alkalinity_after_dose,
    conditioner_solids,
    ph_carbonate,
)
from cakewright.physics.polymer_solution import (
    active_flow,
    batch_tank_volume,
    dilution_water_flow,
    product_flow,
    solution_flow,
)
from cakewright.quantities import CalculationLine, FloatArray, Status
from cakewright.quantities.constants import DAY, HOUR

__all__ = ["ProductLine", "conditioning", "dose_of", "entry_tag", "has_first_chamber"]

_CAUTIONS = {
    "polymer": (
        "Spilt polymer is as slippery as ice and clear: absorb and sweep first, then wash.",
        "Powder dust: eyes and lungs; ventilate the place where bags are tipped.",
    ),
    "coagulant": (
        "Corrosive; heat and spatter when neat product meets sludge: eyewash and shower beside it.",
        "Can crystallise below 0 degC.",
    ),
    "lime": ("Caustic: eyewash beside it, no skin contact; scale in lines, keep the tank near.",),
}


@dataclass(frozen=True, slots=True, eq=False)
class ProductLine:
    """One product over samples: active, product and solution flows in the design case.

    ``stock_flow`` and ``dilution_flow`` [m3/s]; ``solids_flow`` dry solids it adds, of which
    ``retained_flow`` stay in the cake [kg/s]; tanks [m3]; ``alkalinity_left`` [kg/m3] and ``ph``
    of None when the product does not touch them.
    """

    product: Product
    form: ProductForm
    activity: float
    stock: float
    final: float
    ageing: float
    life: float
    dose: FloatArray
    active: FloatArray
    as_supplied: FloatArray
    stock_flow: FloatArray
    dilution_flow: FloatArray
    solids_flow: FloatArray
    retained_flow: FloatArray
    tank_volume: float
    tanks: int
    oldest_solution: float
    water_peak: float
    day_tank: float
    pump: PumpDesign
    alkalinity_left: float | None
    ph: float | None
    part: Part


def has_first_chamber(case: Case) -> bool:
    """True when the first product is mixed in hard ahead of the last."""
    return "chamber" in case.chosen.present


def entry_tag(case: Case, number: int) -> str:
    """Where a product enters: ahead for the first of two, or for a metal salt."""
    way, first = case.chosen.way, number == 1 and has_first_chamber(case)
    return way.salt if first else way.polymer


def dose_of(case: Case, product: Product) -> FloatArray:
    """Dose as active mass per dry solids, whichever way it was given."""
    if product.dose_per_volume is None:
        return np.atleast_1d(np.asarray(product.dose, dtype=float))
    per_volume = np.atleast_1d(np.asarray(product.dose_per_volume, dtype=float))
    return np.asarray(per_volume / (case.density * np.atleast_1d(case.inputs.feed.total_solids)))


def _flows(case: Case, product: Product, final: float, stock: float) -> dict[str, FloatArray]:
    dose = dose_of(case, product)
    active = np.asarray(active_flow(case.solids_design, dose))
    return {
        "dose": dose,
        "active": active,
        "stock": np.asarray(solution_flow(active, stock, product.density)),
        "dilution": np.asarray(dilution_water_flow(active, stock, final, product.density)),
    }


def _idle_gap(case: Case) -> float:
    """Longest standstill of the week: overnight, or over the weekend."""
    run = case.inputs.run
    night = DAY - run.hours_per_day * HOUR
    return night + (7 - run.days) * DAY


def _chemistry(case: Case, product: Product, dose: float) -> tuple[float | None, float | None]:
    """Alkalinity left and pH, point case."""
    if product.conditioner is None:
        return None, None
    feed = case.inputs.feed
    per_volume = dose * point(case.density) * point(feed.total_solids)
    before = point(feed.alkalinity)
    left = float(alkalinity_after_dose(before, per_volume, product.conditioner))
    carbon = before * (1 + 10 ** (6.35 - point(feed.ph)))
    known = 5.0 <= point(feed.ph) <= 8.3
    if not known or left <= 0 or left >= carbon:
        return left, None
    return left, float(ph_carbonate(point(feed.ph), before, left))


def _cautions(form: ProductForm) -> tuple[str, ...]:
    return _CAUTIONS.get(form.name, _CAUTIONS["polymer"])


def _pump(case: Case, number: int, flows: dict[str, FloatArray], product: Product) -> PumpDesign:
    """Solution pump: span from lowest load and dose to highest load and dose."""
    dose, stock = point(flows["dose"]), point(flows["stock"])
    high = (product.dose_high or dose) / dose if dose > 0 else 1.0
    low = (product.dose_low if product.dose_low is not None else dose) / dose if dose > 0 else 1.0
    polymer = product.conditioner is None
    fluid = Fluid(
        medium=f"{product.name} solution",
        density=product.density,
        consistency=case.book["solution_viscosity" if polymer else "coagulant_viscosity"],
    )
    return pump_design(
        PumpDuty(
            tag=f"P-20{number}",
            service=f"{product.name} dosing",
            flow_design=stock,
            flow_high=stock * max(high, 1.0) * (1 + case.book["pump_margin"]),
            flow_low=stock * min(low, 1.0) * case.book["feed_minimum_share"],
            fluid=fluid,
            pipe_tag=f"L-20{number}",
            source=f"M-20{number}",
            target=entry_tag(case, number),
            run=case.inputs.pipe("solution"),
            standby=case.inputs.standby_pumps,
            temperature=point(case.inputs.feed.temperature),
        ),
        case.book,
    )


def _tank(case: Case, draw: float, ageing: float, form: ProductForm) -> tuple[float, int]:
    """Volume and number of solution tanks: two turn about where ageing is needed."""
    if ageing <= 0:
        return 0.0, 0
    book = case.book
    times = book["make_down_fill_time"], book["make_down_wetting_time"]
    return float(batch_tank_volume(draw, *times, ageing)), 2


def _item(line: ProductLine, tag: str) -> Item:
    form, product = line.form, line.product
    data = [
        datum("active_mass_flow", point(line.active), label="active, design"),
        datum("product_mass_flow", point(line.as_supplied), label="as supplied, design"),
        datum(
            "polymer_activity",
            line.activity,
            form.activity_source if product.activity is None else "OWN",
        ),
        datum("stock_strength", line.stock, form.stock_source if product.stock is None else "OWN"),
        datum(
            "polymer_strength",
            line.final,
            form.final_source if product.final is None else "OWN",
            label="strength at the sludge",
        ),
        datum("time_span", line.ageing, form.ageing_source, label="ageing"),
        datum("time_span", line.life, form.life_source, label="solution life"),
        datum("solution_volume_flow", line.water_peak, label="make-down water, peak"),
        datum("solution_volume_flow", point(line.dilution_flow), label="dilution water"),
        datum("mass_per_day", line.day_tank / DAY, "L28", label="product at hand, one day"),
    ]
    if line.tanks:
        data.append(datum("line_volume", line.tank_volume, label=f"each of {line.tanks} tanks"))
    return Item(
        tag=tag,
        kind=ItemKind.MAKE_DOWN,
        label=f"{product.name} station",
        service=f"{form.label}, makes down and ages" if line.tanks else form.label,
        duty=1,
        standby=0,
        data=tuple(data),
        material="PVC or fibreglass; stainless steel where metal",
        cautions=_cautions(form),
        note="water 4 to 32 degC; hardness, chlorine, iron and reuse-water solids raise the dose",
    )


def _lines(case: Case, tag: str, line: ProductLine) -> tuple[CalculationLine, ...]:
    m, d = case.design_solids, point(line.dose)
    name = line.product.name
    return (
        line_of(
            f"{tag}.active",
            f"Active {name} per time",
            "m_a",
            "m_s d",
            (("m_s", m, "dry_solids_flow"), ("d", d, "polymer_dose")),
            ("active_mass_flow", point(line.active)),
            "OWN",
        ),
        line_of(
            f"{tag}.stock",
            f"{name} solution",
            "Q_p",
            "m_a / (c ρ)",
            (
                ("m_a", point(line.active), "active_mass_flow"),
                ("c", line.stock, "stock_strength"),
                ("ρ", line.product.density, "fluid_density"),
            ),
            ("solution_volume_flow", point(line.stock_flow)),
            "OWN",
            valid=f"strength {100 * line.form.stock_low:.2g} to {100 * line.form.stock_high:.2g} %",
            status=Status.INSIDE
            if line.form.stock_low <= line.stock <= line.form.stock_high
            else Status.EXTRAPOLATED,
        ),
        line_of(
            f"{tag}.tank",
            f"Each of two {name} solution tanks",
            "V",
            "Q (t_f + t_w + t_a)",
            (
                ("Q", line.pump.flow_high, "solution_volume_flow"),
                ("t_f", case.book["make_down_fill_time"], "make_down_fill_time"),
                ("t_w", case.book["make_down_wetting_time"], "make_down_wetting_time"),
                ("t_a", line.ageing, "time_span"),
            ),
            ("line_volume", line.tank_volume),
            "OWN",
            marks=(case.book.mark("make_down_fill_time"),),
        ),
    )


def _product_line(case: Case, product: Product, number: int, capture: FloatArray) -> ProductLine:
    form, book, tag = product_form(product.form), case.book, f"M-20{number}"
    activity = form.activity if product.activity is None else product.activity
    stock = form.stock if product.stock is None else product.stock
    final = min(form.final, stock) if product.final is None else product.final
    ageing = form.ageing if product.ageing is None else product.ageing
    life = form.life if product.life is None else product.life
    flows = _flows(case, product, final, stock)
    pump = _pump(case, number, flows, product)
    volume, tanks = _tank(case, pump.flow_high, ageing, form)
    # the last batch may be left standing through the longest stop
    oldest = volume / max(point(flows["stock"]), 1e-12) + _idle_gap(case) if tanks else 0.0
    gain = 1.0 if product.conditioner is None else conditioner_solids(product.conditioner)
    solids = flows["active"] * (gain if product.solids is None else product.solids)
    kept = capture if product.retained is None else np.asarray(product.retained, dtype=float)
    left, ph = _chemistry(case, product, point(flows["dose"]))
    water = (
        volume / book["make_down_fill_time"]
        if tanks
        else (point(flows["stock"]) * (1 - stock / activity))
    )
    supplied = np.asarray(product_flow(flows["active"], activity))
    motors: tuple[Motor, ...] = ()
    if tanks:
        power = volume * book["make_down_mixing_power"]
        motors = (
            motor_of(
                book,
                f"M-A-20{number}",
                tag,
                f"{product.name} tank mixers",
                power,
                number=tanks,
                running=tanks,
            ),
        )
    line = ProductLine(
        product=product,
        form=form,
        activity=activity,
        stock=stock,
        final=final,
        ageing=ageing,
        life=life,
        dose=flows["dose"],
        active=flows["active"],
        as_supplied=supplied,
        stock_flow=flows["stock"],
        dilution_flow=flows["dilution"],
        solids_flow=solids,
        retained_flow=solids * kept,
        tank_volume=volume,
        tanks=tanks,
        oldest_solution=oldest,
        water_peak=water,
        day_tank=point(supplied) * case.inputs.run.hours_per_day * HOUR,
        pump=pump,
        alkalinity_left=left,
        ph=ph,
        part=Part(),
    )
    # Lime is meant to raise the pH; the window is that of polymers.
    limed = "lime" in case.chosen.present
    findings = (
        *strength_finding(tag, stock, form),
        *ageing_finding(tag, ageing, form),
        *life_finding(tag, oldest, life, form),
        *range_finding(pump.tag, product, pump.flow_low, pump.flow_high),
        *(() if limed else chemistry_findings(case, tag, product, left, ph)),
    )
    calculations = _lines(case, tag, line)[: 3 if tanks else 2]
    own = Part(items=(_item(line, tag),), motors=motors, findings=findings, lines=calculations)
    return replace(line, part=parts_joined([own, pump.part]))


def conditioning(case: Case) -> tuple[ProductLine, ...]:
    """Every product's line, first product first; the first of two is mixed in hard."""
    capture = np.asarray(case.inputs.cake.capture, dtype=float)
    return tuple(
        _product_line(case, product, number, capture)
        for number, product in enumerate(case.inputs.products, start=1)
    )
