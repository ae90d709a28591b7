"""The law drawn over the readings it came from, with its band."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from cakewright.bench.fit import Axis, Clue, Clues, Curve, Learns
from cakewright.bench.law_model import cake_solids_at
from cakewright.physics.dose_response import dose_bowl
from cakewright.physics.filtration_resistance import specific_resistance_average
from cakewright.quantities import FloatArray
from cakewright.sludge.law import SludgeLaw

__all__ = ["cake_solids_curve", "resistance_curve"]

_SAMPLES = 400
_SEED = 20260302


def _clues(blocks: Sequence[Clues], learns: Learns) -> list[tuple[str, Clue]]:
    return [(b.test, clue) for b in blocks for clue in b.clues if clue.learns is learns]


def _samples(law: SludgeLaw) -> Mapping[str, FloatArray]:
    return law.sample(_SAMPLES, np.random.default_rng(_SEED))


def _pressures(found: Sequence[tuple[str, Clue]], low: float, high: float) -> FloatArray:
    tested = [clue.at["pressure"] for _, clue in found]
    return np.geomspace(min([low, *tested]) * 0.8, max([high, *tested]) * 1.2, 60)


def cake_solids_curve(law: SludgeLaw, blocks: Sequence[Clues]) -> Curve:
    """Equilibrium cake solids against pressure: readings, law and its 80 % band."""
    found = _clues(blocks, Learns.CAKE_SOLIDS)
    grid = _pressures(found, 5e3, 5e5)
    column = {name: values[:, None] for name, values in _samples(law).items()}
    solids = cake_solids_at(column, grid[None, :])
    low, high = np.quantile(solids[1:], (0.1, 0.9), axis=0)
    return Curve(
        key="cake-solids",
        title="cake solids against pressure",
        x_axis=Axis("pressure on the cake", "Pa", "kPa", log=True),
        y_axis=Axis("cake solids at rest", "1", "%"),
        x=np.array([clue.at["pressure"] for _, clue in found]),
        y=np.exp(np.array([clue.value for _, clue in found])),
        used=np.ones(len(found), dtype=bool),
        reasons=("",) * len(found),
        line_x=grid,
        line_y=solids[0],
        band_low=low,
        band_high=high,
    )


def resistance_curve(law: SludgeLaw, blocks: Sequence[Clues]) -> Curve:
    """Average specific resistance at the best dose against pressure, with its 80 % band.

    Readings at another dose are brought to the best dose by the law.
    """
    found = _clues(blocks, Learns.RESISTANCE)
    grid = _pressures(found, 1e3, 3e5)
    drawn = _samples(law)
    column = {name: values[:, None] for name, values in drawn.items()}
    alpha = np.asarray(
        specific_resistance_average(
            grid[None, :],
            column["local_resistance"],
            column["resistance_exponent"],
            column["yield_scale"],
        )
    )
    low, high = np.quantile(alpha[1:], (0.1, 0.9), axis=0)
    rise = [
        float(
            dose_bowl(
                clue.at["dose"],
                law.value("optimum_dose"),
                law.value("dose_curvature"),
                law.value("dose_gain"),
            )
        )
        if "dose" in clue.at
        else 0.0
        for _, clue in found
    ]
    return Curve(
        key="law-resistance",
        title="specific resistance, best dose",
        x_axis=Axis("pressure P", "Pa", "kPa", log=True),
        y_axis=Axis("specific resistance α", "m/kg", "m/kg", log=True),
        x=np.array([clue.at["pressure"] for _, clue in found]),
        y=np.exp(np.array([clue.value for _, clue in found]) - np.array(rise)),
        used=np.ones(len(found), dtype=bool),
        reasons=("",) * len(found),
        line_x=grid,
        line_y=alpha[0],
        band_low=low,
        band_high=high,
    )
