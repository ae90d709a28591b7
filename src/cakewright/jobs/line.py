"""The line around the chosen machine, from the study and the machine's figures."""

from __future__ import annotations

import numpy as np

from cakewright.jobs.draws import StudyDraws
from cakewright.line.design import LineDesign, design
from cakewright.line.inputs import Cake, LineInputs, Outlet, Product, RunPattern
from cakewright.line.study_case import feed_of, press_of_frame
from cakewright.machines import Performance, Plan
from cakewright.machines.piece import has_piece
from cakewright.physics.alkalinity import Conditioner
from cakewright.quantities import FloatArray
from cakewright.sludge import Feed, LoadCases, WeekPattern, load_cases, week_pattern
from cakewright.study import Study

__all__ = ["cases_of", "has_line", "line_inputs", "line_of", "missing_line"]


# Share of the polymer that stays in the cake: it adsorbs. JUDGEMENT.
POLYMER_RETAINED = 1.0
_CONDITIONERS = {
    "ferric chloride": Conditioner.FERRIC_CHLORIDE,
    "alum": Conditioner.ALUM,
    "hydrated lime": Conditioner.HYDRATED_LIME,
    "lime": Conditioner.HYDRATED_LIME,
}


def has_line(machine: str) -> bool:
    """Whether the line round this kind of machine is known."""
    return has_piece(machine)


def missing_line(label: str) -> str:
    """What stands wherever the line of a kind would stand if it were known."""
    return (
        f"The line round a {label} is not designed yet: no equipment, drawing, list, control "
        "description, interlock or caution of a line is shown for it, because those of another "
        "kind of machine would be wrong and could hurt someone. Ask the supplier of the machine."
    )


def cases_of(study: Study, draws: StudyDraws, feed: Feed, plan: Plan) -> LoadCases:
    """The study's cases with the hours this plan runs in a mean week."""
    return load_cases(
        feed.mix.dry_solids_flow,
        feed.mix.volume_flow,
        draws["duty.hours_per_day"],
        draws["duty.days_per_week"],
        np.maximum(draws["production.peak_factor"], 1.0),
        plan.figures["run_hours_per_day"].samples,
    )


def line_of(
    study: Study,
    draws: StudyDraws,
    feed: Feed,
    plan: Plan,
    performance: Performance,
    promised: float | None = None,
    sized: LineDesign | None = None,
) -> LineDesign:
    """The designed line; ``promised`` is the throughput of the acceptance test. [kg/s]

    ``sized`` is the line of the same machine whose sizes are kept, where the draws are others.
    """
    doses = None if sized is None else _dose_span(sized)
    return design(line_inputs(study, draws, feed, plan, performance, promised, doses))


def _dose_span(line: LineDesign) -> tuple[float, float] | None:
    """Lowest and highest polymer dose that make-up and pump were sized for."""
    last = line.inputs.products[-1]
    if last.dose_low is None or last.dose_high is None:
        return None
    return last.dose_low, last.dose_high


def line_inputs(
    study: Study,
    draws: StudyDraws,
    feed: Feed,
    plan: Plan,
    performance: Performance,
    promised: float | None = None,
    doses: tuple[float, float] | None = None,
) -> LineInputs:
    """What the design needs, in SI; samples where the line takes them.

    ``doses`` spans the polymer make-up; left out, it is the band of the samples.
    """
    days = max(1, min(7, round(study.value("duty.days_per_week"))))
    cases, capacity, frame = cases_of(study, draws, feed, plan), plan.capacity, plan.frame
    own_drives = frame.drive_power / frame.power if frame.power > 0 else 1.0
    return LineInputs(
        feed=feed_of(
            feed.mix,
            pattern=_hourly(
                week_pattern(
                    24.0 * study.value("production.hours_per_day"),
                    study.value("production.days_per_week"),
                    start_hour=6.0,
                )
            ),
            foams=any("flotation" in part.sludge_class for part in feed.parts),
        ),
        presses=(
            press_of_frame(
                frame,
                plan.machines - plan.standby,
                plan.standby,
                solids_capacity=float(capacity.dry_solids_flow[0]),
                flow_capacity=float(capacity.volume_flow[0]),
                cycle_time=_cycle(plan),
            ),
        ),
        products=_products(study, performance, doses),
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
        cases=cases if promised is None else cases.with_promise(promised),
        wash_specific=performance.samples("wash_water_specific"),
        press_energy=performance.samples("specific_energy") * own_drives,
        title=study.word("title"),
    )


def _hourly(pattern: WeekPattern) -> tuple[float, ...]:
    """Quarter hours as hourly weights."""
    return tuple(float(x) for x in pattern.relative.reshape(168, -1).mean(axis=1))


def _cycle(plan: Plan) -> float:
    """Seconds of one cycle of a plate press; 0 for a machine that works all the time."""
    times = plan.capacity.cycle_time
    return 0.0 if times is None else float(np.atleast_1d(times)[0])


def _products(
    study: Study, performance: Performance, doses: tuple[float, float] | None
) -> tuple[Product, ...]:
    """Inorganic conditioners in the order they are added, then the polymer, where there is one."""
    found = [
        Product(
            name=one.name,
            form="lime" if "lime" in one.name else "coagulant",
            dose=one.dose,
            stock=one.strength,
            final=one.strength,
            retained=one.retained,
            solids=one.formed / np.where(one.dose > 0.0, one.dose, 1.0),
            conditioner=_CONDITIONERS[one.name],
        )
        for one in performance.conditioners
    ]
    whole = performance.samples("polymer_dose")
    if not whole[0] > 0.0 and found:
        return tuple(found)
    main, ahead = whole, performance.figures.get("first_polymer_dose")
    if ahead is not None:
        # Never all of it: the second polymer makes the floc that is pressed.
        first = np.minimum(ahead.samples, _MOST_AHEAD * whole)
        main = whole - first
        found.append(_polymer(study, "first polymer", first, (ahead.band.p10, ahead.band.p90)))
    band = performance["polymer_dose"].band
    share = float(main[0] / whole[0]) if whole[0] > 0.0 else 1.0
    low, high = doses or (band.p10 * share, band.p90 * share)
    found.append(_polymer(study, "polymer", main, (low, high)))
    return tuple(found)


# Most of a pair that the first polymer may be (judgement).
_MOST_AHEAD = 0.9


def _polymer(study: Study, name: str, dose: FloatArray, span: tuple[float, float]) -> Product:
    """A polymer in the form the study buys; a second product is taken to come in the same form."""
    return Product(
        name=name,
        form=study.word("polymer.form"),
        dose=dose,
        dose_low=min(span[0], float(dose[0])),
        dose_high=max(span[1], float(dose[0])),
        activity=study.value("polymer.activity"),
        stock=study.value("polymer.stock"),
        retained=POLYMER_RETAINED,
    )
