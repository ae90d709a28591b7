"""Cakes of all kinds over draws of a class prior: published order, published bands."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from cakewright.jobs.screw_case import operating_windows
from cakewright.machines.belt_path import BeltGeometry, BeltOperation, BeltParameters, belt_path
from cakewright.machines.chamber_fill import stiffened_exponent
from cakewright.machines.chamber_path import (
    ChamberGeometry,
    ChamberOperation,
    ChamberParameters,
    chamber_path,
)
from cakewright.machines.decanter_path import (
    DecanterGeometry,
    DecanterOperation,
    DecanterParameters,
    decanter_path,
)
from cakewright.machines.interface import Kind
from cakewright.machines.multi_disc_path import multi_disc_path
from cakewright.machines.press_priors import drawn
from cakewright.machines.pressing_path import PressedSludge, PressLoad
from cakewright.machines.screw_path import ScrewGeometry, ScrewOperation, ScrewParameters
from cakewright.physics.compression import solidosity_equilibrium
from cakewright.quantities import FloatArray
from cakewright.sludge.law_prior import prior_of_class

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

# Published cakes, share of total solids. P12: guideline summary, mixed digested sludge. P08, P14:
# activated sludge, pilot unheated and full scale. P07: chamber presses of all sludges. P05: table
# of membrane presses, industrial biological and activated sludge.
BANDS = {
    ("decanter", "ad_mixed"): (0.20, 0.32),
    ("decanter", "was"): (0.128, 0.20),
    ("chamber_press", "was"): (0.25, 0.40),
    ("chamber_press", "industrial_biological"): (0.25, 0.40),
    ("chamber_press", "ad_mixed"): (0.28, 0.40),
    ("membrane_press", "was"): (0.35, 0.45),
    ("membrane_press", "industrial_biological"): (0.30, 0.50),
}
# A fifth to either side: what the decanter's `approach` alone (0.80 to 0.97) does to its cake. The
# priors of the law are wider still, and a median over them knows no more than that.
TOLERANCE = 0.20


@cache
def _sludge(name: str) -> PressedSludge:
    values = prior_of_class(name).sample(COUNT, np.random.default_rng(3))
    taken = {k: v for k, v in values.items() if k in PressedSludge.__dataclass_fields__}
    taken["creep_share"] = np.minimum(taken["creep_share"], 0.95)
    return PressedSludge(**taken)


@cache
def _decanter(name: str, load: float) -> FloatArray:
    """Driest cake that stands among the scroll's speeds; NaN where none does."""
    settings = operating_windows()["decanter"]
    machine = drawn(DecanterParameters, Kind.DECANTER, COUNT, np.random.default_rng(4))
    turns = float(np.sqrt(FORCE / (0.5 * BOWL.bowl_diameter)) / (2.0 * np.pi))
    fed = PressLoad(load / 3600.0, 0.025, 0.05)
    cakes = [
        decanter_path(_sludge(name), fed, DecanterOperation(turns, speed), machine, BOWL)
        for speed in settings["differential_speeds"]
    ]
    return np.asarray(np.fmax.reduce([r.cake_solids for r in cakes]))


def _plates(kind: Kind, name: str) -> FloatArray:
    settings = operating_windows()[kind.value]
    operation = ChamberOperation(**{n: settings[n] for n in ChamberOperation.__dataclass_fields__})
    machine = drawn(ChamberParameters, kind, COUNT, np.random.default_rng(4))
    fed = PressLoad(1e-3, 0.025, 0.05)
    return chamber_path(
        _sludge(name), fed, operation, machine, ChamberGeometry(30.0, 0.03)
    ).cake_solids


@pytest.mark.parametrize(("kind", "name"), list(BANDS))
def test_median_cake_lies_in_the_published_band(kind: str, name: str) -> None:
    """Median over the class's draws; a decanter far below its rated solids dries as well."""
    cake = _decanter(name, 30.0) if kind == "decanter" else _plates(Kind(kind), name)
    low, high = BANDS[kind, name]
    assert np.mean(np.isfinite(cake)) > 0.8
    middle = float(np.nanmedian(cake))
    assert (1.0 - TOLERANCE) * low < middle < (1.0 + TOLERANCE) * high, middle


@pytest.mark.parametrize("name", ["was", "industrial_biological", "ad_mixed"])
def test_published_order_in_the_median(name: str) -> None:
    """Same site trials (T57): belt of old type and screw below modern belt and decanter.

    Over the sludges all four can press. The finer order of the site (old belt 2.7 points below the
    screw, modern belt 1.9 below the decanter) is not held in the median and so not asked here.
    """
    sludge, load = _sludge(name), PressLoad(100.0 / 3600.0, 0.025, 0.05)
    belt = drawn(BeltParameters, Kind.BELT_PRESS, COUNT, np.random.default_rng(5))
    screw = drawn(ScrewParameters, Kind.MULTI_DISC_SCREW_PRESS, COUNT, np.random.default_rng(6))
    old = belt_path(sludge, load, BeltOperation(2.0 / 60.0, 4e3), belt, OLD_BELT)
    new = belt_path(sludge, load, BeltOperation(2.0 / 60.0, 8e3), belt, NEW_BELT)
    fed = PressLoad(8.0 / 3600.0, 0.025, 0.05)
    disc = multi_disc_path(sludge, fed, ScrewOperation(2.0 / 60.0, 2e4), screw, SCREW)
    cakes = [old.cake_solids, disc.cake_solids, new.cake_solids, _decanter(name, 100.0)]
    pressed = np.all(np.isfinite(cakes), axis=0)
    assert pressed.sum() > 30
    belt_old, ring, belt_new, bowl = (float(np.median(c[pressed])) for c in cakes)
    assert max(belt_old, ring) < min(belt_new, bowl), (belt_old, ring, belt_new, bowl)


def test_stiffening_follows_the_piston_tests() -> None:
    """Above 0.35 MPa solidosity grows as stress^0.18 (T41); a law that is stiffer stands."""
    gel, scale = np.array([0.0165]), np.array([180.0])

    def solidosity(stress: float, n: float) -> float:
        law = stiffened_exponent(np.array([stress]), gel, scale, np.array([n]))
        return float(np.asarray(solidosity_equilibrium(stress, gel, scale, law))[0])

    assert np.isclose(stiffened_exponent(np.array([2e5]), gel, scale, np.array([2.75]))[0], 2.75)
    slope = np.log(solidosity(1.5e6, 2.75) / solidosity(3.5e5, 2.75)) / np.log(1.5e6 / 3.5e5)
    assert abs(slope - 0.18) < 0.002, slope
    assert np.isclose(stiffened_exponent(np.array([1.5e6]), gel, scale, np.array([7.0]))[0], 7.0)
    assert solidosity(1.5e6, 1.5) <= 0.69 + 1e-9  # densest cake read, at 50 MPa (T33)
