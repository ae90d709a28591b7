"""The operating map to be moved on: the report's own figure, and the numbers under it."""

from __future__ import annotations

import json
from dataclasses import dataclass

import numpy as np

from cakewright.jobs.findings import Findings
from cakewright.machines.screw.prediction import OperatingMap, PressFindings
from cakewright.quantities import FloatArray, house_name
from cakewright.reports.figures.operating_map import figure_operating_map
from cakewright.reports.numbers import (
    Units,
    decimals_for,
    shown,
    shown_array,
    shown_unit,
    unit_text,
)

__all__ = ["MapView", "Reading", "map_of"]

_SHOWN = ("cake_solids", "capture", "power")


@dataclass(frozen=True, slots=True)
class Reading:
    """One figure read off the map where the handle stands."""

    key: str
    label: str
    unit: str


@dataclass(frozen=True, slots=True)
class MapView:
    """The figure, the numbers as JSON in shown units, and what is read off."""

    svg: str
    data: str
    readings: tuple[Reading, ...]
    words: str


def map_of(findings: Findings, units: Units) -> MapView | None:
    """The map of the chosen press, if its physics was worked out."""
    press = findings.press
    if press is None:
        return None
    chart = press.map
    x = shown_array("screw_speed", chart.speed, units)
    y = shown_array("back_pressure", chart.back_pressure, units)
    point = (
        shown("screw_speed", press.speed, units),
        shown("back_pressure", press.back_pressure, units),
    )
    feasible = (chart.status == 0) & np.isfinite(chart.cake_solids)
    svg = figure_operating_map(
        x,
        y,
        shown_array("cake_solids", np.where(feasible, chart.cake_solids, 0.0), units),
        feasible,
        x_label=_axis("screw_speed", units),
        y_label=_axis("back_pressure", units),
        result_label=_axis("cake_solids", units),
        alt="Operating map: cake solids over screw speed and back pressure",
        outside=" ",
        key="operating-map",
    )
    names = (*("screw_speed", "back_pressure"), *_SHOWN)
    readings = [Reading(n, house_name(n).label, _unit(n, units)) for n in names]
    readings.append(Reading("margin", "capacity margin", "%"))
    return MapView(svg, _data(chart, press, x, y, point, units), tuple(readings), _words(press))


def _words(press: PressFindings) -> str:
    basis = "tests of this sludge" if press.tested else "the prior of the sludge's class"
    return f"By {basis}; {press.binding_words}."


def _unit(name: str, units: Units) -> str:
    return unit_text(shown_unit(name, units))


def _axis(name: str, units: Units) -> str:
    unit = _unit(name, units)
    return f"{house_name(name).label}, {unit}" if unit else house_name(name).label


def _data(
    chart: OperatingMap,
    press: PressFindings,
    x: FloatArray,
    y: FloatArray,
    point: tuple[float, float],
    units: Units,
) -> str:
    grids = {name: _grid(name, getattr(chart, name), units) for name in _SHOWN}
    grids["margin"] = _plain(100.0 * chart.margin)
    decimals = {
        name: decimals_for(
            name, [v for v in np.ravel(getattr(chart, name)) if np.isfinite(v)], units
        )
        for name in _SHOWN
    }
    decimals |= {
        "margin": 0,
        "screw_speed": decimals_for("screw_speed", (press.speed,), units),
        "back_pressure": decimals_for("back_pressure", (press.back_pressure,), units),
    }
    return json.dumps(
        {
            "x": [float(v) for v in x],
            "y": [float(v) for v in y],
            "point": point,
            "here": _here(press, units),
            "runs": (chart.status == 0).tolist(),
            "grids": grids,
            "decimals": decimals,
        },
        allow_nan=False,
    )


def _here(press: PressFindings, units: Units) -> dict[str, float]:
    """What the press does where the design stands: worked out there, not read between points."""
    there = [n for n in _SHOWN if n in press.figures and press.figures[n].exists]
    found = {n: float(shown(n, press.figures[n].point, units)) for n in there}
    if press.margins and found:
        found["margin"] = 100.0 * min(press.margins.values())
    return found


def _grid(name: str, values: FloatArray, units: Units) -> list[list[float | None]]:
    return _plain(shown_array(name, np.asarray(values), units))


def _plain(values: FloatArray) -> list[list[float | None]]:
    """Rows of numbers; where there is no answer there is none, never a made-up number."""
    return [[float(v) if np.isfinite(v) else None for v in row] for row in values]
