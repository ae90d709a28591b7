"""Write how the cake of each class follows the parameters of its law, at a typical ring press.

`python docs/cake_slopes.py` writes `src/cakewright/sludge/data/cake_slopes.toml`. Run it again when
the press's path, its priors or the class priors change; a test says when that is due.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from cakewright.machines import Kind, shipped_catalogue
from cakewright.machines.frames import frame_named
from cakewright.machines.press_priors import parameter_priors, record_from
from cakewright.machines.pressing_path import PressedSludge, PressLoad
from cakewright.machines.registry import data_of
from cakewright.machines.screw.case import screw_geometry
from cakewright.machines.screw.path import ScrewOperation, ScrewParameters, screw_path
from cakewright.quantities import FloatArray
from cakewright.reference import sludge_classes
from cakewright.sludge.law import LAW_PARAMETERS
from cakewright.sludge.law_prior import prior_of_class

TARGET = Path(__file__).parents[1] / "src" / "cakewright" / "sludge" / "data" / "cake_slopes.toml"

KIND = Kind.MULTI_DISC_SCREW_PRESS
FRAME, LOAD_SHARE, FEED, SPEEDS = "disc 200 x 1", 0.7, 0.025, (1.0, 2.0, 3.0, 4.0, 5.0)
DRAWS, SEED = 2048, 11

HEADER = f"""\
# Change of the cake's log-odds, ln(S/(1-S)), for one standard deviation of each parameter of the
# class prior, all other parameters moving too: regression over {DRAWS} draws of the class on the
# middle machine, frame {FRAME}, {LOAD_SHARE:.0%} of its rated solids, feed of {FEED:.1%}, driest
# cake of {len(SPEEDS)} speeds. `explained`: share of the variance these slopes explain. Written by
# docs/cake_slopes.py: our own physics, no measurement.
"""


def cakes(sludge_class: str, normals: FloatArray) -> FloatArray:
    """Driest cake of the middle machine over laws of a class; NaN where none stands."""
    values = prior_of_class(sludge_class).at_normals(normals)
    taken = {k: v for k, v in values.items() if k in PressedSludge.__dataclass_fields__}
    taken["creep_share"] = np.minimum(taken["creep_share"], 0.95)
    frame = frame_named(FRAME, shipped_catalogue())
    window = data_of(KIND, "settings.toml")
    plate = float(np.sqrt(window["back_pressure_low"] * window["back_pressure_high"]))
    machine = record_from(
        ScrewParameters, {name: prior.at(0.0) for name, prior in parameter_priors(KIND).items()}
    )
    load = PressLoad(LOAD_SHARE * frame.solids_limit, FEED, 0.05)
    found = [
        screw_path(
            PressedSludge(**taken),
            load,
            ScrewOperation(speed / 60.0, plate, 0.2),
            machine,
            screw_geometry(frame),
        ).cake_solids
        for speed in SPEEDS
    ]
    return np.asarray(np.fmax.reduce(found))


def slopes(sludge_class: str) -> tuple[FloatArray, float]:
    """Slope of each parameter, in the order of the law, and the share of variance explained."""
    normals = np.random.default_rng(SEED).standard_normal((DRAWS, len(LAW_PARAMETERS)))
    cake = cakes(sludge_class, normals)
    stands = np.isfinite(cake)
    odds = np.log(cake[stands] / (1.0 - cake[stands]))
    rows = np.column_stack((np.ones(odds.size), normals[stands]))
    found, *_ = np.linalg.lstsq(rows, odds, rcond=None)
    left = odds - rows @ found
    return np.asarray(found[1:]), float(1.0 - np.var(left) / np.var(odds))


def text() -> str:
    """The whole file."""
    blocks = [HEADER]
    for name in sludge_classes():
        found, explained = slopes(name)
        lines = [f"[{name}]", f"explained = {explained:.2f}"]
        lines += [f"{p} = {x:.3f}" for p, x in zip(LAW_PARAMETERS, found, strict=True)]
        blocks.append("\n".join(lines) + "\n")
    return "\n".join(blocks)


if __name__ == "__main__":
    TARGET.write_text(text(), encoding="utf-8")
