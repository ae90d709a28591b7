"""The line around the chosen machine, from the study and the machine's figures."""

from __future__ import annotations

from cakewright.jobs.draws import StudyDraws
from cakewright.line.design import LineDesign, design
from cakewright.line.inputs import (
    Cake,
    FeedSludge,
    LineInputs,
    Outlet,
    Press,
    Product,
    RunPattern,
)
from cakewright.machines import Kind, Performance, Plan
from cakewright.physics.alkalinity import Conditioner
from cakewright.quantities import FloatArray
from cakewright.sludge import Feed, WeekPattern, week_pattern
from cakewright.study import Study

__all__ = ["has_line", "line_inputs", "line_of", "missing_line"]

# Kinds whose own line is known; for any other kind no line is shown rather than a wrong one.
_LINED = frozenset({Kind.MULTI_DISC_SCREW_PRESS})

_CONDITIONERS = {
    "ferric chloride": Conditioner.FERRIC_CHLORIDE,
    "alum": Conditioner.ALUM,
    "hydrated lime": Conditioner.HYDRATED_LIME,
}


def has_line(machine: str) -> bool:
    """Whether the line round this kind of machine is known."""
    return machine in _LINED


def missing_line(label: str) -> str:
    """What stands wherever the line of a kind would stand if it were known."""
    return (
        f"The line round a {label} is not designed yet: no equipment, drawing, list, control "
        "description, interlock or caution of a line is shown for it, because those of another "
        "kind of machine would be wrong and could hurt someone. Ask the supplier of the machine."
    )


def line_of(
    study: Study, draws: StudyDraws, feed: Feed, plan: Plan, performance: Performance
) -> LineDesign:
    """The designed line."""
    return design(line_inputs(study, draws, feed, plan, performance))


def line_inputs(
    study: Study, draws: StudyDraws, feed: Feed, plan: Plan, performance: Performance
) -> LineInputs:
    """What the design needs, in SI; samples where the line takes them."""
    days = max(1, min(7, round(study.value("duty.days_per_week"))))
    return LineInputs(
        feed=_feed(study, feed),
        presses=(_press(plan),),
        products=_products(study, draws, performance),
        run=RunPattern(
            hours_per_day=24.0 * study.value("duty.hours_per_day"),
            days=days,
            start_hour=min(8.0, 24.0 * (1.0 - study.value("duty.hours_per_day"))),
            unattended=study.value("duty.unattended") > 0.0,
        ),
        cake=Cake(
            total_solids=performance.samples("cake_solids"),
            capture=performance.samples("capture"),
        ),
        outlet=Outlet(
            skip_volume=study.value("outlet.skip_volume"),
            truck_payload=study.value("outlet.payload"),
            storage_time=study.value("outlet.storage"),
            trip_days=days,
        ),
        title=study.word("title"),
    )


def _feed(study: Study, feed: Feed) -> FeedSludge:
    mix = feed.mix
    classes = [part.sludge_class for part in feed.parts]
    return FeedSludge(
        volume_flow=mix.volume_flow,
        total_solids=mix.total_solids,
        solids_density=mix.solids_density,
        dissolved_share=mix.dissolved,
        temperature=mix.temperature,
        ph=mix.ph,
        pattern=_hourly(
            week_pattern(
                24.0 * study.value("production.hours_per_day"),
                study.value("production.days_per_week"),
                start_hour=6.0,
            )
        ),
        flammable_gas=any(name.startswith("ad_") for name in classes),
    )


def _hourly(pattern: WeekPattern) -> tuple[float, ...]:
    """Quarter hours as hourly weights."""
    return tuple(float(x) for x in pattern.relative.reshape(168, -1).mean(axis=1))


def _press(plan: Plan) -> Press:
    frame, shafts = plan.frame, plan.frame.shafts
    capacity = plan.capacity
    return Press(
        name=frame.name,
        kind=frame.machine.value,
        units=plan.machines - plan.standby,
        standby=plan.standby,
        shafts=shafts,
        solids_capacity=_first(capacity.dry_solids_flow) / shafts,
        flow_capacity=_first(capacity.volume_flow) / shafts,
        drive_power=frame.drive_power / shafts,
        installed_power=frame.installed_power / shafts,
        auxiliary_power=frame.auxiliary_power / shafts,
        wash_flow=frame.wash_flow / shafts,
        wash_pressure=frame.wash_pressure or 3e5,
        burst=frame.wash_burst,
        interval=frame.wash_interval or 600.0,
        sound_level=frame.sound_level,
        length=frame.length,
        width=frame.width,
        height=frame.height,
        mass_empty=frame.mass_empty,
        mass_full=frame.mass_full,
        speed_low=frame.speed_low,
        speed_high=frame.speed_high,
        mark=frame.mark.value,
    )


def _first(values: FloatArray) -> float:
    return float(values[0])


def _products(study: Study, draws: StudyDraws, performance: Performance) -> tuple[Product, ...]:
    dose = performance.samples("polymer_dose")
    band = performance["polymer_dose"].band
    polymer = Product(
        name="polymer",
        form=study.word("polymer.form"),
        dose=dose,
        dose_low=min(band.p10, float(dose[0])),
        dose_high=max(band.p90, float(dose[0])),
        activity=study.value("polymer.activity"),
        stock=study.value("polymer.stock"),
    )
    kind = study.word("coagulant.kind")
    if kind in ("", "none"):
        return (polymer,)
    coagulant = Product(
        name=kind,
        form="coagulant",
        dose=draws["coagulant.dose"],
        conditioner=_CONDITIONERS[kind],
    )
    return coagulant, polymer
