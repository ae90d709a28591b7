"""The responses a jar test may measure, and how each becomes a level where smaller is better."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from cakewright.errors import OutOfRangeError
from cakewright.quantities import FloatArray

__all__ = ["RESPONSES", "Response"]


@dataclass(frozen=True, slots=True)
class Response:
    """One response. ``to_resistance`` turns its curvature into that of ln specific resistance.

    0 when it tells nothing of resistance; ``tells_fines`` when it is solids in the filtrate.
    """

    key: str
    label: str
    house_name: str
    unit: str
    shown: str
    log: bool
    larger_is_better: bool
    to_resistance: float
    tells_fines: bool
    words: str

    @property
    def log_axis(self) -> bool:
        """Whether to draw it on a logarithmic axis."""
        return self.log and not self.larger_is_better

    def level(self, values: FloatArray, water_blank: float = 0.0) -> FloatArray:
        """Level u of readings.

        Raises
        ------
        OutOfRangeError
            If a suction time is not above the water blank, or a reading that must be positive
            is not.
        """
        net = np.asarray(values - water_blank if self.key == "suction_time" else values)
        if self.log and np.any(net <= 0):
            reading = float(values[int(np.argmin(net))])
            raise OutOfRangeError(
                f"{self.label}: got {reading:g}, not above "
                f"{'the water blank' if self.key == 'suction_time' else 'zero'}; leave that jar "
                "out or measure the blank again"
            )
        sign = -1.0 if self.larger_is_better else 1.0
        return np.asarray(sign * (np.log(net) if self.log else net))

    def back(self, level: FloatArray) -> FloatArray:
        """Reading (less the blank) from a level."""
        signed = -level if self.larger_is_better else level
        return np.asarray(np.exp(signed) if self.log else signed)

    def scale(self, spread: float) -> float:
        """Size of a natural-logarithm unit on this level (1 unless the level is no logarithm)."""
        return 1.0 if self.log else spread


# Curvature of ln resistance per curvature of the level: suction time goes with solids times
# resistance (T16); the volume drained in a set time goes with resistance to the power -1/2.
RESPONSES: Mapping[str, Response] = {
    r.key: r
    for r in (
        Response("suction_time", "suction time less water", "suction_time", "s", "s",
                 True, False, 1.0, False, "ln of the suction time less water"),
        Response("drained", "drained volume", "bench_volume", "m3", "mL",
                 True, True, 2.0, False, "minus ln of the drained volume"),
        Response("filtrate_tss", "filtrate solids", "suspended_solids", "kg/m3", "mg/L",
                 True, False, 0.0, True, "ln of the filtrate solids"),
        Response("turbidity", "turbidity", "turbidity", "1", "1",
                 True, False, 0.0, True, "ln of the turbidity"),
        Response("floc_score", "floc score", "floc_score", "1", "1",
                 False, True, 0.0, False, "minus the floc score"),
        Response("resistance", "specific resistance", "specific_resistance", "m/kg", "m/kg",
                 True, False, 1.0, False, "ln of the specific resistance"),
    )
}  # fmt: skip
