"""The cycle of a plate press in a study: times, cake, throughput, what ended it."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from cakewright.machines.plates.fill import EndOfFill
from cakewright.machines.plates.squeeze import EndOfSqueeze
from cakewright.machines.prediction import Cycle
from cakewright.machines.pressed import Pressed
from cakewright.machines.pressing_path import PathResult
from cakewright.quantities import Basis, Figure, FloatArray, Mark
from cakewright.quantities.constants import DAY

__all__ = ["plate_cycle"]


# house name -> detail of the path
_FIGURES = {
    "filling_time": "filling_time",
    "squeeze_time": "squeeze_time",
    "technical_time": "technical_time",
    "plate_cycle_time": "cycle_time",
    "cake_thickness": "cake_thickness",
    "cake_solids_cloth": "cake_solids_cloth",
    "cake_solids_core": "cake_solids_core",
    "throughput_per_area": "throughput_per_area",
}
_ENDS = {"solids": EndOfFill.FULL, "flow": EndOfFill.FLOW, "time": EndOfFill.TIME}
_TOLD = {
    "solids": "{:.0f} % of the solids that fill it are in",
    "flow": "the flow is {:.3g} times the end flow",
    "time": "{:.0f} % of the longest time is used",
}


def plate_cycle(result: PathResult, pressed: Pressed, running: FloatArray) -> Cycle | None:
    """The cycle of a plate press; None for other kinds and where the point case has no answer.

    ``running`` is the share of a day it runs.
    """
    x, answered = result.details, result.answered
    if "end_of_filling" not in x or not answered[0]:
        return None
    rows = {name: x[detail] for name, detail in _FIGURES.items()}
    fit = np.floor(running * DAY * (1.0 + 1e-9) / x["cycle_time"])
    rows["cycles_fitting"] = fit
    rows["throughput_per_area_day"] = x["throughput_per_area"] * x["cycle_time"] * fit / DAY
    figures = {}
    for name, values in rows.items():
        filled = np.where(answered, values, float(np.median(values[answered])))
        if name != "squeeze_time" or filled.any():
            figures[name] = _figure(pressed, name, filled)
    ends = x["end_of_filling"][answered]
    shares = {end.words: float(np.mean(ends == end)) for end in EndOfFill}
    return Cycle(figures, _ended(x), {k: v for k, v in shares.items() if v > 0.0})


def _figure(pressed: Pressed, name: str, values: FloatArray) -> Figure:
    """The cake rests on the law; times and throughput first of all on a judged pump and pauses."""
    if name.startswith("cake"):
        return pressed.figure(name, values)
    mark = Mark.JUDGEMENT if pressed.mark is Mark.NONE else pressed.mark
    note = "the pump's flow and the technical times are judgement"
    return Figure(name, values, Basis.ASSUMED, mark, "OWN P05 JUDGEMENT", note)


def _ended(x: Mapping[str, FloatArray]) -> str:
    """What ended filling and squeeze of the point case, and how far off the other ends were."""
    fill = EndOfFill(int(x["end_of_filling"][0]))
    shares = {name: float(x[f"filled_by_{name}"][0]) for name in _ENDS}
    rest = [
        _TOLD[name].format(1.0 / share if name == "flow" else 100.0 * share)
        for name, share in shares.items()
        if _ENDS[name] is not fill
    ]
    squeeze = EndOfSqueeze(int(x["end_of_squeeze"][0]))
    told = "" if squeeze is EndOfSqueeze.NONE else f"; squeeze ended by: {squeeze.words}"
    return f"filling ended by: {fill.words} ({', '.join(rest)}){told}"
