"""Cases the press benchmarks share: prior draws of sludge and machine on one invented frame."""

from __future__ import annotations

import numpy as np

from cakewright.machines.interface import Kind
from cakewright.machines.press_priors import drawn
from cakewright.machines.pressing_path import PressedSludge, PressLoad
from cakewright.machines.screw.path import ScrewGeometry, ScrewOperation, ScrewParameters

FRAME = ScrewGeometry(0.2, 1.2, (0.09, 0.13), (0.16, 0.08))


def draws(
    count: int, seed: int = 1, creep: float = 0.7
) -> tuple[PressedSludge, PressLoad, ScrewOperation, ScrewParameters, ScrewGeometry]:
    """Digested-sludge laws, loads and settings around a common duty, machine from its prior."""
    rng = np.random.default_rng(seed)

    def spread(typical: float, factor: float) -> np.ndarray:
        return typical * np.exp(np.log(factor) * rng.standard_normal(count))

    sludge = PressedSludge(
        solids_density=rng.uniform(1250.0, 1550.0, count),
        gel_point=np.clip(spread(0.024, 1.4), 0.008, 0.06),
        yield_scale=spread(120.0, 1.8),
        yield_exponent=rng.uniform(2.7, 3.7, count),
        local_resistance=spread(1e10, 2.5),
        resistance_exponent=rng.uniform(0.7, 1.0, count),
        creep_share=creep,
        creep_rate=spread(2e-3, 2.0),
    )
    load = PressLoad(rng.uniform(1.0, 7.0, count) / 3600.0, rng.uniform(0.012, 0.04, count), 0.06)
    operation = ScrewOperation(rng.uniform(1.0, 5.0, count) / 60.0, spread(3e4, 1.8), 0.2)
    machine = drawn(ScrewParameters, Kind.MULTI_DISC_SCREW_PRESS, count, rng)
    return sludge, load, operation, machine, FRAME
