"""Jar tests with two products in sequence: the best pair of doses, and what the first one saves."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cakewright.bench.dose_kinds import RESPONSES, Response
from cakewright.bench.fit import Axis, Clue, Clues, Curve, Estimate, Learns, TestFit
from cakewright.bench.kinds import bench_kind
from cakewright.bench.readings import BenchTest
from cakewright.bench.straight import student
from cakewright.errors import DataError, Fault
from cakewright.quantities import FloatArray

__all__ = ["fit_two_products"]

_GRID = 41
_DRAWS = 400
_LEVELS = 3


@dataclass(frozen=True, slots=True, eq=False)
class _Surface:
    """A full quadratic in both doses, each over its largest; u is smaller where better."""

    beta: FloatArray
    covariance: FloatArray
    freedom: int
    scale: tuple[float, float]

    def rows(self, first: FloatArray, second: FloatArray) -> FloatArray:
        """The terms at pairs of doses."""
        x, y = np.asarray(first) / self.scale[0], np.asarray(second) / self.scale[1]
        return np.stack([np.ones_like(x), x, y, x * x, y * y, x * y], axis=-1)


def fit_two_products(test: BenchTest) -> TestFit:
    """Best pair inside the doses tried, its intervals, and the cheapest pair as good.

    Raises
    ------
    DataError
        If fewer than three doses of a product were tried, or the jars do not cross the doses.
    """
    response = next(r for key, r in RESPONSES.items() if key in test.columns)
    first, second = test.columns["first_dose"], test.columns["second_dose"]
    u = response.level(test.columns[response.key], test.numbers.get("water_blank", 0.0))
    surface = _fitted(test, first, second, u)
    grid = np.meshgrid(
        np.linspace(first.min(), first.max(), _GRID), np.linspace(second.min(), second.max(), _GRID)
    )
    x, y = grid[0].ravel(), grid[1].ravel()
    rows = surface.rows(x, y)
    level = rows @ surface.beta
    best = int(np.argmin(level))
    same = _as_good(surface, rows, best)
    words, cheap = _cheapest(test, x, y, same, best)
    low, high = _intervals(surface, rows, x, y)
    return TestFit(
        id=test.id,
        kind=test.kind,
        title=f"{bench_kind(test.kind).title}: {_pair(test)}",
        sludge=test.sludge,
        estimates=(
            Estimate("first_optimum_dose", float(x[best]), low[0], high[0], "inside those tried"),
            Estimate("optimum_dose", float(y[best]), low[1], high[1], "after the first product"),
        ),
        warnings=tuple(_edges(x, y, best)),
        remarks=(*_saving(test, surface, response, rows, x, best), *words),
        curves=(_curve(test, response, surface, (x, y, best), u),),
        conditions={**test.numbers, "cheapest_first": cheap[0], "cheapest_second": cheap[1]},
        clues=_clues(test, float(y[best]), low[1], high[1]),
        polymer=_conditioner(test, float(x[best])),
        invented=test.invented,
    )


def _pair(test: BenchTest) -> str:
    return f"{test.words.get('first_product', 'first')} then {test.words.get('polymer', 'polymer')}"


def _conditioner(test: BenchTest, first: float) -> str:
    """The pair in the words of sheets made with it: polymer, then the first product's dose."""
    named = test.words.get("first_product", "")
    polymer = test.words.get("polymer", "")
    return f"{polymer} + {named} {1e3 * first:.3g} kg/t" if first > 0.0 else polymer


def _clues(test: BenchTest, best: float, low: float, high: float) -> Clues | None:
    """The polymer's best dose behind the first product, for the law made with that pair."""
    if not best > 0.0:
        return None
    spread = float(np.log(high / max(low, 0.1 * best))) / 3.92
    clue = Clue(Learns.OPTIMUM_DOSE, float(np.log(best)), max(spread, 1e-3))
    return Clues(test.id, test.kind, (clue,))


def _fitted(test: BenchTest, first: FloatArray, second: FloatArray, u: FloatArray) -> _Surface:
    for name, doses in (("first dose", first), ("second dose", second)):
        tried = len(np.unique(doses))
        if tried < _LEVELS:
            fault = Fault(
                f"test {test.id}, column '{name}'",
                f"{tried} different doses",
                f"{_LEVELS} or more",
                "add jars, or take the sheet of one product where only one was varied",
            )
            raise DataError("bench tests", [fault])
    empty = _Surface(np.zeros(6), np.eye(6), 0, (float(first.max()), float(second.max())))
    design = empty.rows(first, second)
    if np.linalg.matrix_rank(design) < 6 or len(u) < 8:
        fault = Fault(
            f"test {test.id}",
            f"{len(u)} jars that do not cross the doses",
            "eight jars or more, each dose of the first with several of the second",
            "add jars at the missing pairs",
        )
        raise DataError("bench tests", [fault])
    beta, *_ = np.linalg.lstsq(design, u, rcond=None)
    freedom = len(u) - 6
    variance = float(np.sum((u - design @ beta) ** 2)) / freedom
    spread = variance * np.linalg.inv(design.T @ design)
    return _Surface(np.asarray(beta), np.asarray(spread), freedom, empty.scale)


def _as_good(surface: _Surface, rows: FloatArray, best: int) -> np.ndarray:
    """Pairs these jars cannot tell from the best."""
    apart = rows - rows[best]
    error = np.sqrt(np.maximum(np.einsum("ij,jk,ik->i", apart, surface.covariance, apart), 0.0))
    return np.asarray(apart @ surface.beta <= student(0.95, surface.freedom) * error + 1e-12)


def _intervals(
    surface: _Surface, rows: FloatArray, x: FloatArray, y: FloatArray
) -> tuple[tuple[float, float], tuple[float, float]]:
    """Where the best pair lies in 95 of 100 surfaces that fit the jars as well."""
    random = np.random.default_rng(11)
    drawn = random.multivariate_normal(surface.beta, surface.covariance, _DRAWS, method="svd")
    wide = 1.0 / np.sqrt(random.chisquare(surface.freedom, _DRAWS) / surface.freedom)
    drawn = surface.beta + (drawn - surface.beta) * wide[:, None]
    places = np.argmin(rows @ drawn.T, axis=0)
    pairs = np.stack([x[places], y[places]])
    # A pair is known no better than the grid it is looked for on.
    cell = 0.5 * np.array([np.ptp(x), np.ptp(y)]) / (_GRID - 1)
    low = np.maximum(np.quantile(pairs, 0.025, axis=1) - cell, 0.0)
    high = np.quantile(pairs, 0.975, axis=1) + cell
    return (float(low[0]), float(low[1])), (float(high[0]), float(high[1]))


def _cheapest(
    test: BenchTest, x: FloatArray, y: FloatArray, same: np.ndarray, best: int
) -> tuple[tuple[str, ...], tuple[float, float]]:
    """Least polymer, or least money where prices are given, among pairs as good as the best."""
    first, price = test.numbers.get("first_price"), test.numbers.get("price")
    activity = test.numbers.get("activity", 1.0)
    priced = first is not None and price is not None
    cost = x * float(first or 0.0) + y * float(price or 1.0) / activity if priced else y
    at = int(np.flatnonzero(same)[np.argmin(cost[same])])
    why = "cheapest" if priced else "least polymer"
    words = (
        f"{why} among the pairs these jars cannot tell from the best: {1e3 * x[at]:.3g} kg/t, then "
        f"{1e3 * y[at]:.3g} kg/t",
    )
    return words, (float(x[at]), float(y[at]))


def _saving(
    test: BenchTest,
    surface: _Surface,
    response: Response,
    rows: FloatArray,
    x: FloatArray,
    best: int,
) -> tuple[str, ...]:
    """Whether the first product is worth its place, against the second alone."""
    if x.min() > 0.0:
        return ("no jar without the first product: what it is worth is not known",)
    alone = np.flatnonzero(x == 0.0)
    single = int(alone[np.argmin(rows[alone] @ surface.beta)])
    told = not bool(_as_good(surface, rows, best)[single])
    back = response.back(rows[[single, best]] @ surface.beta)
    change = 100.0 * (float(back[1]) / float(back[0]) - 1.0)
    name = test.words.get("first_product", "the first product")
    if told:
        return (f"{name} ahead moves the {response.label} by {change:+.0f} % at best",)
    return (f"these jars cannot tell the best pair from the polymer alone: {name} is not proved",)


def _edges(x: FloatArray, y: FloatArray, best: int) -> list[str]:
    found = []
    for name, doses in (("first", x), ("second", y)):
        if doses[best] >= doses.max():
            found.append(f"the best {name} dose is the largest tried: go on past it")
    return found


def _curve(
    test: BenchTest,
    response: Response,
    surface: _Surface,
    at: tuple[FloatArray, FloatArray, int],
    u: FloatArray,
) -> Curve:
    """Readings over the second dose, and the fit at the best first dose."""
    x, y, best = at
    line = np.linspace(y.min(), y.max(), _GRID)
    fitted = surface.rows(np.full(_GRID, x[best]), line) @ surface.beta
    jars = surface.rows(test.columns["first_dose"], test.columns["second_dose"]) @ surface.beta
    return Curve(
        key=f"{test.id}-two-products",
        title=f"{test.id}: {_pair(test)}, line at {1e3 * x[best]:.3g} kg/t of the first",
        x_axis=Axis("second dose", "kg/kg", "kg/t"),
        y_axis=Axis(response.label, response.unit, response.shown, log=response.log_axis),
        x=test.columns["second_dose"],
        y=np.asarray(response.back(u)),
        used=np.ones(len(u), dtype=bool),
        reasons=("",) * len(u),
        line_x=line,
        line_y=np.asarray(response.back(fitted)),
        marks=(("best", float(y[best])),),
        residuals=u - jars,
    )
