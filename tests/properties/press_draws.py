"""Cakes of all kinds over draws of a class prior, each at the load of published trials."""

from __future__ import annotations

from functools import cache

import numpy as np

from cakewright.machines.belt.path import BeltGeometry, BeltOperation, BeltParameters, belt_path
from cakewright.machines.decanter.path import (
    DecanterGeometry,
    DecanterOperation,
    DecanterParameters,
    decanter_path,
    slowest_scroll,
)
from cakewright.machines.interface import Kind
from cakewright.machines.plates.path import (
    ChamberGeometry,
    ChamberOperation,
    ChamberParameters,
    chamber_path,
)
from cakewright.machines.press_priors import drawn, parameter_priors, record_from
from cakewright.machines.pressing_path import PressedSludge, PressLoad
from cakewright.machines.registry import data_of
from cakewright.machines.screw.path import (
    ScrewGeometry,
    ScrewOperation,
    ScrewParameters,
    screw_path,
)
from cakewright.physics.dose_response import resistance_ratio_dose
from cakewright.quantities import FloatArray
from cakewright.sludge.law_prior import prior_of_class, prior_with_cake

COUNT = 200
SCREW = ScrewGeometry(0.2, 1.2, (0.09, 0.13), (0.16, 0.08))
OLD_BELT = BeltGeometry(1.0, 2.5, 0.8, (0.4, 0.3, 0.25, 0.2), (0.6, 0.45, 0.35, 0.3), (0.3,) * 4)
NEW_BELT = BeltGeometry(
    1.0,
    4.0,
    1.2,
    (0.5, 0.4, 0.3, 0.25, 0.2, 0.17, 0.15, 0.12, 0.1, 0.1),
    (0.9, 0.8, 0.6, 0.5, 0.4, 0.35, 0.3, 0.25, 0.2, 0.2),
    (0.3,) * 10,
)
BOWL, FORCE = DecanterGeometry(0.34, 0.93, 0.075, 0.119), 3000.0 * 9.80665

# Loads at which published trials of each kind ran. Decanter: P08, 5.2 to 8.9 kg/h on a bowl of
# 0.2 m2 between weir and cone, so up to 40 kg/h on this one of 1 m2. Belt: 454 kg/h a press (P37),
# taken as two metres wide. Screw: no published load; 70 % of the catalogue's.
DECANTER_LOAD, BELT_LOAD, SCREW_LOAD = 40.0, 225.0, 10.5


@cache
def class_sludge(name: str, dose: float = 1.0) -> PressedSludge:
    """Draws of the class; ``dose`` over the optimum."""
    values = prior_with_cake(name).sample(COUNT, np.random.default_rng(3))
    best, shape = values["optimum_dose"], (values["dose_curvature"], values["dose_gain"])
    ratio = np.asarray(resistance_ratio_dose(dose * best, best, *shape))
    taken = {k: v for k, v in values.items() if k in PressedSludge.__dataclass_fields__}
    taken["creep_share"] = np.minimum(taken["creep_share"], 0.95)
    taken["local_resistance"] = taken["local_resistance"] * ratio
    return PressedSludge(**taken)


def typical_sludge(name: str, *, tried: bool = False) -> PressedSludge:
    """The middle of the class, with the cakes of published trials known or not."""
    law = prior_with_cake(name) if tried else prior_of_class(name)
    known = {one.name: one.value for one in law.parameters}
    taken = {n: v for n, v in known.items() if n in PressedSludge.__dataclass_fields__}
    return PressedSludge(**taken)


def typical_screw() -> ScrewParameters:
    """The middle of the ring press."""
    kind = Kind.MULTI_DISC_SCREW_PRESS
    return record_from(ScrewParameters, {n: p.at(0.0) for n, p in parameter_priors(kind).items()})


def settled_cake(
    name: str, load: PressLoad, force: float, bowl: DecanterGeometry
) -> tuple[FloatArray, FloatArray]:
    """Cake of the slowest scroll that stands and that speed; NaN where none does."""
    speeds = np.array(data_of("decanter", "settings.toml")["differential_speeds"])
    machine = drawn(DecanterParameters, Kind.DECANTER, COUNT, np.random.default_rng(4))
    turns = float(np.sqrt(force / (0.5 * bowl.bowl_diameter)) / (2.0 * np.pi))
    fastest, sludge = DecanterOperation(turns, speeds[-1]), class_sludge(name)
    speed = slowest_scroll(sludge, load, fastest, machine, bowl, speeds)
    setting = DecanterOperation(turns, speed)
    return decanter_path(sludge, load, setting, machine, bowl).cake_solids, speed


@cache
def decanter_cake(name: str, load: float) -> FloatArray:
    """The same of a bowl of the catalogue, feed 2.5 %."""
    return settled_cake(name, PressLoad(load / 3600.0, 0.025, 0.05), FORCE, BOWL)[0]


def belt_cake(name: str, geometry: BeltGeometry, tension: float, dose: float = 1.0) -> FloatArray:
    """Driest cake that stands among the belt's speeds."""
    machine = drawn(BeltParameters, Kind.BELT_PRESS, COUNT, np.random.default_rng(5))
    fed = PressLoad(BELT_LOAD / 3600.0, 0.025, 0.05)
    cakes = [
        belt_path(class_sludge(name, dose), fed, BeltOperation(speed, tension), machine, geometry)
        for speed in data_of("belt_press", "settings.toml")["belt_speeds"]
    ]
    return np.asarray(np.fmax.reduce([r.cake_solids for r in cakes]))


def screw_cake(name: str) -> FloatArray:
    """Driest cake that stands among the screw's speeds, the plate in the middle of its window."""
    window = data_of("multi_disc_screw_press", "settings.toml")
    plate = float(np.sqrt(window["back_pressure_low"] * window["back_pressure_high"]))
    machine = drawn(ScrewParameters, Kind.MULTI_DISC_SCREW_PRESS, COUNT, np.random.default_rng(6))
    fed = PressLoad(SCREW_LOAD / 3600.0, 0.025, 0.05)
    cakes = [
        screw_path(class_sludge(name), fed, ScrewOperation(n / 60.0, plate, 0.2), machine, SCREW)
        for n in (1.0, 2.0, 3.0, 4.0, 5.0)
    ]
    return np.asarray(np.fmax.reduce([r.cake_solids for r in cakes]))


@cache
def site_cakes(name: str) -> tuple[FloatArray, ...]:
    """The four machines of the site trials over the same draws of sludge."""
    return (
        belt_cake(name, OLD_BELT, 4e3, dose=0.5),
        screw_cake(name),
        belt_cake(name, NEW_BELT, 8e3),
        decanter_cake(name, DECANTER_LOAD),
    )


def plate_cake(kind: Kind, name: str) -> FloatArray:
    """Cake of a plate press at its usual pressures and times."""
    settings = data_of(kind, "settings.toml")
    operation = ChamberOperation(**{n: settings[n] for n in ChamberOperation.__dataclass_fields__})
    machine = drawn(ChamberParameters, kind, COUNT, np.random.default_rng(4))
    fed = PressLoad(1e-3, 0.025, 0.05)
    return chamber_path(
        class_sludge(name), fed, operation, machine, ChamberGeometry(30.0, 0.03)
    ).cake_solids
