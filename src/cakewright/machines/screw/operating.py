"""Where to run a screw press: the map of settings, and the best point for an aim by gradient."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from cakewright.machines.goal import Aim, Prices
from cakewright.machines.outcome import least_margin_of
from cakewright.machines.pressing_path import PathResult, PathStatus
from cakewright.machines.screw.case import ScrewSamples
from cakewright.quantities import FloatArray

__all__ = ["OperatingMap", "Setting", "best_setting", "operating_map"]

_SPEEDS, _PLATES = 9, 9
_STEP = 1e-3  # of the logarithm of a setting, for central differences
_HELD = 1e-3  # how far a limit may be missed by the search
_MORE_LOAD = 1.1  # load a setting must still carry: beyond a limit the plug goes at once


@dataclass(frozen=True, slots=True, eq=False)
class OperatingMap:
    """Point case over speed [1/s] (columns) and back pressure [Pa] (rows).

    ``cake_solids`` is NaN where ``status`` is not 0; ``margin`` is the least margin there.
    """

    speed: FloatArray
    back_pressure: FloatArray
    cake_solids: FloatArray
    capture: FloatArray
    power: FloatArray
    margin: FloatArray
    status: np.ndarray


@dataclass(frozen=True, slots=True)
class Setting:
    """A chosen setting, what it is best for, and how it compares with the best cell of the map."""

    speed: float
    back_pressure: float
    dose: float
    aim: Aim
    worth: float
    map_worth: float
    evaluations: int
    words: str


def operating_map(case: ScrewSamples) -> OperatingMap:
    """The point case over the window of settings."""
    speeds = np.linspace(*case.speeds, _SPEEDS)
    plates = np.geomspace(*case.plates, _PLATES)
    speed, plate = np.meshgrid(speeds, plates)
    columns = case.at_point(speed.ravel(), plate.ravel())
    result, spare = _with_more_load(case, columns)

    def grid(values: FloatArray) -> FloatArray:
        return np.asarray(values).reshape(speed.shape)

    return OperatingMap(
        speed=speeds,
        back_pressure=plates,
        cake_solids=grid(result.cake_solids),
        capture=grid(result.capture),
        power=grid(result.power),
        margin=grid(np.minimum(least_margin_of(result), spare)),
        status=result.status.reshape(speed.shape),
    )


def _with_more_load(
    case: ScrewSamples, columns: Mapping[str, FloatArray]
) -> tuple[PathResult, FloatArray]:
    """The path, and the margin left when the load rises a little (added to what it rose by)."""
    more = {name: np.concatenate([values, values]) for name, values in columns.items()}
    half = columns["speed"].size
    more["dry_solids_flow"] = more["dry_solids_flow"].copy()
    more["dry_solids_flow"][half:] *= _MORE_LOAD
    both = case.run(more)
    spare = least_margin_of(both)[half:] + (_MORE_LOAD - 1.0)
    return both.part(0, half), spare


class _Search:
    """Objective and limits with their gradients, one batch per point visited.

    ``x`` is the logarithm of speed and plate and, where it is free, of the dose.
    """

    def __init__(
        self, case: ScrewSamples, aim: Aim, prices: Prices, least_capture: float, free_dose: bool
    ) -> None:
        self.case, self.aim, self.prices = case, aim, prices
        self.least_capture, self.free_dose = least_capture, free_dose
        self.least_margin = float(case.window["least_margin"])
        self.dose = float(case.pressed.dose[0])
        self.evaluations = 0
        self._seen: dict[bytes, tuple[FloatArray, FloatArray]] = {}

    def bounds(self) -> list[tuple[float, float]]:
        """Window of each free setting on its logarithm; the dose within the tested ones."""
        case = self.case
        ends = [case.speeds, (case.plates[0], case.hardest_planned)]
        if self.free_dose:
            low, high = case.pressed.tested_doses
            ends.append((low, high) if high > low else (0.6 * self.dose, 1.5 * self.dose))
        return [(float(np.log(a)), float(np.log(b))) for a, b in ends]

    def run(self, x: FloatArray) -> tuple[PathResult, FloatArray, FloatArray]:
        """Path at rows of x, the dose of each, and the least margin, more load thought of."""
        dose = np.exp(x[:, 2]) if self.free_dose else np.full(len(x), self.dose)
        changed = self.case.dosed(dose) if self.free_dose else {}
        columns = self.case.at_point(np.exp(x[:, 0]), np.exp(x[:, 1]), **changed)
        self.evaluations += len(x)
        result, spare = _with_more_load(self.case, columns)
        return result, dose, np.minimum(least_margin_of(result), spare)

    def rows(self, x: FloatArray) -> FloatArray:
        """To be made small, then what must stay above 0: margin and capture. Shape (3, n)."""
        result, dose, least = self.run(x)
        margin = least - self.least_margin
        capture = np.where(result.answered, result.capture, 0.0) - self.least_capture
        return np.stack([self._worth(result, dose), margin, capture])

    def _worth(self, result: PathResult, dose: FloatArray) -> FloatArray:
        cake = np.where(result.answered, result.cake_solids, 0.02)
        if self.aim is Aim.DRIEST_CAKE:
            return -10.0 * cake
        if self.aim is Aim.LEAST_POLYMER:
            # the cake breaks ties, at a hundredth of its weight
            return dose / self.dose - 0.1 * cake
        capture = np.where(result.answered, result.capture, 1.0)
        power = np.where(result.answered, result.power, 0.0)
        solids = self.case.inputs["dry_solids_flow"][0]
        cost = dose * self.prices.polymer + capture / cake * self.prices.cake
        cost = cost + power / solids * self.prices.energy
        scale = self.dose * self.prices.polymer + 5.0 * self.prices.cake
        return np.asarray(10.0 * cost / max(scale, 1e-12))

    def at(self, x: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Rows at one point and their gradients, by central differences in one batch."""
        key = x.tobytes()
        if key not in self._seen:
            size = x.size
            shift = _STEP * np.concatenate([np.zeros((1, size)), np.eye(size), -np.eye(size)])
            rows = self.rows(x + shift)
            slopes = (rows[:, 1 : size + 1] - rows[:, size + 1 :]) / (2.0 * _STEP)
            self._seen[key] = rows[:, 0], slopes
        return self._seen[key]


def best_setting(
    case: ScrewSamples,
    chart: OperatingMap,
    aim: Aim,
    prices: Prices,
    least_capture: float,
    *,
    free_dose: bool = False,
) -> Setting:
    """Best setting for an aim within the limits: from the best cell of the map by gradient.

    The best point of the way there that holds every limit is kept, where it beats the cell.
    """
    search = _Search(case, aim, prices, least_capture, free_dose and aim is not Aim.DRIEST_CAKE)
    start, cell_worth, held = _best_cell(search, chart)
    if not held:
        words = "no setting of the window keeps every margin: the widest margin is shown"
        return _setting(search, start, cell_worth, cell_worth, words)
    found, best = _best_of(search, start, _climbed(search, start))
    if best < cell_worth:
        words = "by gradient from the best cell of the map, better than any cell"
        return _setting(search, found, best, cell_worth, words)
    words = "the best cell of the map; the gradient finds nothing better"
    return _setting(search, start, cell_worth, cell_worth, words)


def _best_of(search: _Search, start: FloatArray, end: FloatArray) -> tuple[FloatArray, float]:
    """Best point on the way to where the climb ended that holds every limit, and its worth.

    The climb may end a little outside: what it gained before must not be lost for that.
    """
    shares = np.linspace(1.0, 0.0, 2 * start.size + 1)[:, None]
    way = end * shares + start * (1.0 - shares)
    rows = search.rows(way)
    worth = np.where(np.all(rows[1:] > -_HELD, axis=0), rows[0], np.inf)
    at = int(np.argmin(worth))
    return way[at], float(worth[at])


def _climbed(search: _Search, start: FloatArray) -> FloatArray:
    from scipy.optimize import minimize

    def limit(row: int) -> dict[str, object]:
        return {
            "type": "ineq",
            "fun": lambda x: float(search.at(x)[0][row]),
            "jac": lambda x: search.at(x)[1][row],
        }

    find: Any = minimize  # its overloads know no plain mapping of a constraint
    answer = find(
        lambda x: float(search.at(x)[0][0]),
        start,
        jac=lambda x: search.at(x)[1][0],
        bounds=search.bounds(),
        constraints=[limit(1), limit(2)],
        method="SLSQP",
        options={"maxiter": 6, "ftol": 1e-4},
    )
    bounds = np.array(search.bounds())
    return np.asarray(np.clip(answer.x, bounds[:, 0], bounds[:, 1]))


def _best_cell(search: _Search, chart: OperatingMap) -> tuple[FloatArray, float, bool]:
    """Best cell that keeps every limit, else the one with the widest margin."""
    planned = (chart.back_pressure <= search.case.hardest_planned)[:, None]
    good = (chart.status == PathStatus.ANSWER) & (chart.margin >= search.least_margin) & planned
    kept = good & (np.nan_to_num(chart.capture) >= search.least_capture)
    allowed = kept if kept.any() else good
    speed, plate = np.meshgrid(chart.speed, chart.back_pressure)
    x = np.log(np.stack([speed.ravel(), plate.ravel()], axis=1))
    if search.free_dose:
        x = np.column_stack([x, np.full(len(x), np.log(search.dose))])
    worth = search.rows(x)[0] if search.aim is not Aim.DRIEST_CAKE else -10.0 * _filled(chart)
    if not allowed.any():
        at = int(np.argmax(chart.margin))
        return x[at], float(worth[at]), False
    at = int(np.argmin(np.where(allowed.ravel(), worth, np.inf)))
    return x[at], float(worth[at]), True


def _filled(chart: OperatingMap) -> FloatArray:
    return np.nan_to_num(chart.cake_solids).ravel()


def _setting(search: _Search, x: FloatArray, worth: float, map_worth: float, words: str) -> Setting:
    dose = float(np.exp(x[2])) if search.free_dose else search.dose
    return Setting(
        speed=float(np.exp(x[0])),
        back_pressure=float(np.exp(x[1])),
        dose=dose,
        aim=search.aim,
        worth=worth,
        map_worth=map_worth,
        evaluations=search.evaluations,
        words=words,
    )
