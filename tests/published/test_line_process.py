"""Storage, polymer, mixing, recycle, conveyor and cake against examples, misprints kept in."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from cakewright.line.balance import balance
from cakewright.line.case import case_of
from cakewright.line.conditioning import conditioning
from cakewright.line.inputs import Cake, FeedSludge, LineInputs, Press, Product, RunPattern
from cakewright.line.returns import recycle_passes, returned_solids
from cakewright.line.storage import (
    production_course,
    run_course,
    storage_volume_of_days,
    week_course,
)
from cakewright.physics.alkalinity import Conditioner, alkalinity_use, conditioner_solids
from cakewright.physics.conveying import (
    cake_bulk_density,
    conveyor_capacity,
    conveyor_power_iso_7119,
)
from cakewright.physics.mixing import (
    camp_number,
    impeller_speed_for_power,
    mixing_power_for_gradient,
    tip_speed,
    velocity_gradient,
)
from cakewright.physics.polymer_solution import (
    active_flow,
    batch_tank_volume,
    dilution_water_flow,
    product_flow,
    solution_flow,
)
from cakewright.quantities import to_si

Case = dict[str, Any]
Prove = Callable[[Case, float], None]
DATA = Path(__file__).parent / "data" / "line_process.toml"
CASES = tomllib.loads(DATA.read_text(encoding="utf-8"))["case"]
DAY = 86400.0


def _inputs(flow_m3_d: float, ts: float, run: RunPattern, **more: Any) -> LineInputs:
    """A line with a plain feed of water density, so that mass is volume times 1000."""
    return LineInputs(
        feed=FeedSludge(
            volume_flow=flow_m3_d / DAY, total_solids=ts, solids_density=998.0, temperature=293.36
        ),
        presses=(Press("any", "multi_disc_screw_press", 1, 10.0, 1.0, 100.0),),
        products=more.pop("products", (Product("polymer", "solution", 0.005),)),
        run=run,
        **more,
    )


def _week_storage(i: Case) -> float:
    running = run_course(RunPattern(i["hours"], 5, 8.0))
    return week_course(
        production_course(()) * 168.0, running / running.sum() * 168.0
    ).working_volume


def _run_rate(i: Case) -> float:
    case = case_of(_inputs(24.0, 0.01, RunPattern(i["hours"], 5, 8.0)))
    return 3600 * case.design_flow


def _dry_solids(i: Case) -> float:
    case = case_of(_inputs(i["flow_L_d"] / 1000, i["ts"], RunPattern(24, 7, 0.0)))
    return DAY * float(case.dry_solids[0])


def _run_day_solids(i: Case) -> float:
    case = case_of(_inputs(i["flow_L_d"] / 1000, i["ts"], RunPattern(24, i["days"], 0.0)))
    return DAY * float(case.solids_run[0])


def _chemical(i: Case) -> float:
    return DAY * float(active_flow(_run_day_solids(i) / DAY, i["dose"]))


def _storage_days(i: Case) -> float:
    return storage_volume_of_days(i["flow_L_d"] / 1000 / DAY, i["days"] * DAY)


def _emulsion(i: Case) -> float:
    active = active_flow(i["ds_kg_h"] / 3600, i["dose"])
    stock = solution_flow(active, i["stock"])
    return {
        "active": 3600 * float(active),
        "neat": 3600 * float(product_flow(active, i["activity"])),
        "stock": 3.6e6 * float(stock),
        "final": 3.6e6 * float(solution_flow(active, i["final"])),
        "dilution": 3.6e6 * float(dilution_water_flow(active, i["stock"], i["final"])),
        "ageing": 1000 * float(batch_tank_volume(stock, 0.0, 0.0, 3600 * i["age_h"])),
    }[str(i["what"])]


def _emulsion_us(i: Case) -> float:
    if i["what"] == "solution":
        return float(solution_flow(i["active_gal_h"], i["solution"], 1.0))
    return float(product_flow(i["active_gal_h"], i["activity"]))


def _lime_month(i: Case) -> float:
    per_month = i["lime_kg_d"] * 5 * 4.33
    gain = conditioner_solids(Conditioner.QUICKLIME) if i["hydrated"] else 1.0
    return float(product_flow(per_month * gain, i["purity"]))


def _alkalinity(i: Case) -> float:
    return alkalinity_use(Conditioner[i["form"]])


def _g_us(i: Case) -> float:
    volume = to_si(60.0 * 45 * 14, "ft3", "m3")
    viscosity = to_si(2.735e-5, "lbf*s/ft2", "Pa*s")
    return float(velocity_gradient(to_si(930.0, "ft*lbf/s", "W"), viscosity, volume))


def _power_us(i: Case) -> float:
    viscosity = to_si(2.735e-5, "lbf*s/ft2", "Pa*s")
    power = mixing_power_for_gradient(900.0, viscosity, to_si(189.6, "ft3", "m3"))
    return float(to_si(power, "W", "hp"))


def _flocculator(i: Case) -> float:
    volume = float(i["flow_m3_h"] / 3600 * i["time"])
    power = float(mixing_power_for_gradient(i["gradient"], i["viscosity"], volume))
    speed = float(
        impeller_speed_for_power(power, i["np"], i["density"], i["diameter"], i["viscosity"], 0.0)
    )
    return {
        "volume": volume,
        "power": power,
        "camp": float(camp_number(i["gradient"], i["time"])),
        "rpm": 60 * speed,
        "tip": float(tip_speed(speed, i["diameter"])),
    }[str(i["what"])]


def _recycle(i: Case) -> float:
    generated = 0.60 * 2200 + 0.85 * (0.70 * 2000 - 50) - 150
    args = generated, 0.60 + 0.85 * 0.70 * 0.5, 0.90 * 0.92
    if i["what"] >= 0:
        return recycle_passes(*args, tolerance=1e-5)[int(i["what"])]
    settled = float(returned_solids(*args))
    return settled if i["what"] == -1 else 1 + args[1] * settled / generated


def _conveyor(i: Case) -> float:
    return 5400 * float(conveyor_capacity(0.3, 0.0, 0.3, 50 / 60, 0.3))


def _conveyor_power(i: Case) -> float:
    if i["what"] == "capacity":
        return 3600 * float(conveyor_capacity(0.2, 0.0, 0.2, 20 / 60, 0.3))
    rise = 2.0 if i["what"] == "total" else 0.0
    return float(conveyor_power_iso_7119(2000 / 3600, 6.0, rise, 0.2, 4.0)) / 1000


def _void_free(i: Case) -> float:
    return float(cake_bulk_density(i["ts"], 1400.0, 998.0))


def _cake(i: Case) -> tuple[float, float]:
    """Dry solids [kg/d] and volume [m3/d] of the cake, through the line's own balance."""
    dose = i["chemicals"] / i["sludge"]
    inputs = _inputs(
        i["sludge"] / 20.0,
        0.02,
        RunPattern(24, 7, 0.0),
        products=(Product("lime", "lime", dose, retained=i["retained"]),),
        cake=Cake(i.get("ts", 0.3), i["capture"], i.get("bulk", 1000.0)),
    )
    case = case_of(inputs)
    found = balance(case, conditioning(case)).stream("cake")
    scale = i["sludge"] / (DAY * float(case.dry_solids[0]))
    return (
        DAY * float(found.dry_solids_flow[0]) * scale,
        DAY * float(found.volume_flow[0]) * scale,
    )


KINDS: dict[str, Callable[[Case], float]] = {
    "week_storage": _week_storage,
    "run_rate": _run_rate,
    "dry_solids": _dry_solids,
    "run_day_solids": _run_day_solids,
    "chemical": _chemical,
    "storage_days": _storage_days,
    "emulsion": _emulsion,
    "emulsion_us": _emulsion_us,
    "lime_month": _lime_month,
    "alkalinity": _alkalinity,
    "g_si": lambda i: float(velocity_gradient(150.0, 0.001, 50.0)),
    "g_us": _g_us,
    "power_us": _power_us,
    "flocculator": _flocculator,
    "recycle": _recycle,
    "conveyor": _conveyor,
    "conveyor_power": _conveyor_power,
    "void_free": _void_free,
    "cake_solids": lambda i: _cake(i)[0],
    "cake_volume": lambda i: _cake(i)[1],
}


@pytest.mark.parametrize("case", CASES, ids=lambda c: c["id"])
def test_process(case: Case, prove: Prove) -> None:
    """Storage, polymer, mixing, recycle and cake meet their sources, or differ for a reason."""
    prove(case, KINDS[case["inputs"]["kind"]](case["inputs"]))


def test_every_pass_of_the_recycle_rises() -> None:
    """Passes climb to the settled value, so the closed form is their limit."""
    passes = recycle_passes(2317.5, 0.8975, 0.828, tolerance=1e-9)
    assert np.all(np.diff(passes) > 0)
    assert passes[-1] == pytest.approx(float(returned_solids(2317.5, 0.8975, 0.828)), rel=1e-8)
