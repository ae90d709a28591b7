"""One fit of all tests of a sludge into its law, with priors where nothing was tested."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from cakewright.bench.fit import Clues
from cakewright.bench.law_model import MODEL_SPREAD, SHAPE_SHARE, predictor, values_of
from cakewright.quantities import Basis, FloatArray, Mark
from cakewright.sludge.law import LAW_PARAMETERS, LawParameter, SludgeLaw, from_space

__all__ = ["JointFit", "Misfit", "clue_covariance", "clue_jacobian", "fit_law"]

# A test this unlikely under the joint law contradicts the others.
_CONTRADICTION = 0.01
_PRIOR_DRAWS = 256
# Below this share of the prior's variance taken away a parameter counts as not tested.
_LEARNT = 0.2


@dataclass(frozen=True, slots=True, eq=False)
class Misfit:
    """How one test sits with the joint law: residuals in standard deviations, and the verdict.

    ``prior_chance`` is that of readings as far from what the class foretells before any test, and
    ``prior_odd`` how far each clue is from that.
    """

    test: str
    kind: str
    residuals: FloatArray
    learns: tuple[str, ...]
    chance: float
    prior_chance: float
    prior_odd: FloatArray

    @property
    def surprises(self) -> bool:
        """True when the class's prior would hardly foretell such a test."""
        return self.prior_chance < _CONTRADICTION

    @property
    def strangest(self) -> tuple[str, float]:
        """What the class foretells worst, and by how many standard deviations."""
        at = int(np.argmax(np.abs(self.prior_odd)))
        return self.learns[at], float(self.prior_odd[at])

    @property
    def contradicts(self) -> bool:
        """True when chance alone would hardly put the test so far from the law."""
        return self.chance < _CONTRADICTION


@dataclass(frozen=True, slots=True, eq=False)
class JointFit:
    """The law, how each test sits with it, and what stays unknown.

    ``inflation`` multiplies the standard deviations when the tests disagree more than they
    should; ``unknown`` says in words what these tests cannot tell.
    """

    law: SludgeLaw
    prior: SludgeLaw
    misfits: tuple[Misfit, ...]
    inflation: float
    chance: float
    unknown: tuple[str, ...]
    widened: tuple[str, ...]
    blocks: tuple[Clues, ...]


def clue_covariance(block: Clues) -> FloatArray:
    """Covariance of a test's clues, with what a test of this sludge is off by.

    Two tests of one sludge differ by more than their readings do: that part is common to all clues
    of one kind in a test, so that ten readings of one test do not average it away.
    """
    kinds = [clue.learns for clue in block.clues]
    between = np.array([MODEL_SPREAD[kind] for kind in kinds])
    same = np.array([[a is b for b in kinds] for a in kinds], dtype=float)
    common = np.outer(between, between) * same
    shape = np.diag((SHAPE_SHARE * between) ** 2)
    return np.asarray(block.covariance + common + shape)


def _gap(block: Clues, theta: FloatArray) -> FloatArray:
    values = np.array([clue.value for clue in block.clues])
    return np.asarray(values - predictor(block.clues)(values_of(theta)))


def clue_jacobian(block: Clues, theta: FloatArray, step: float = 1e-4) -> FloatArray:
    """Derivative of the predictions by the law's parameters on their lines."""
    columns = []
    predict = predictor(block.clues)
    for shift in np.eye(len(theta)) * step:
        rise = predict(values_of(theta + shift)) - predict(values_of(theta - shift))
        columns.append(rise / (2 * step))
    return np.column_stack(columns)


def _whitener(block: Clues) -> FloatArray:
    return np.asarray(np.linalg.inv(np.linalg.cholesky(clue_covariance(block))))


def fit_law(
    sludge: str,
    blocks: Sequence[Clues],
    prior: SludgeLaw,
    *,
    dose_window: tuple[float, float] = (0.0, 0.0),
    polymer: str = "",
    invented: bool = False,
) -> JointFit:
    """Law of one sludge from the clues of its tests and the prior of its class."""
    from scipy.optimize import least_squares

    whiteners = [_whitener(block) for block in blocks]
    spread = np.sqrt(np.diag(prior.covariance))
    centre = prior.centre

    every = [clue for block in blocks for clue in block.clues]
    predict, values = predictor(every), np.array([clue.value for clue in every])
    ends = np.cumsum([len(block.clues) for block in blocks])[:-1]

    def residuals(theta: FloatArray) -> FloatArray:
        gaps = np.split(values - predict(values_of(theta)), ends) if blocks else []
        parts = [w @ gap for w, gap in zip(whiteners, gaps, strict=True)]
        return np.concatenate([*parts, (theta - centre) / spread])

    # Eight prior deviations are as good as no limit, and keep the formulas where they hold.
    bounds = (centre - 8 * spread, centre + 8 * spread)
    found = least_squares(residuals, centre, bounds=bounds, x_scale=spread, max_nfev=500)
    theta, jacobian = np.asarray(found.x), np.asarray(found.jac)
    count = sum(len(block.clues) for block in blocks)
    inflation, chance = _inflation(residuals(theta)[:count], jacobian, count)
    if inflation > 1.0:  # wider clues weigh less against the prior: the best law moves a little

        def wider(at: FloatArray) -> FloatArray:
            gaps = residuals(at)
            return np.concatenate([gaps[:count] / inflation, gaps[count:]])

        found = least_squares(wider, theta, bounds=bounds, x_scale=spread, max_nfev=500)
        theta = np.asarray(found.x)
        jacobian = np.asarray(found.jac)
        jacobian[:count] *= inflation
    covariance = _covariance(jacobian, count, inflation)
    covariance, widened = _widen(residuals, theta, covariance, count, inflation, bounds)
    drawn = _drawn(prior)
    law = _law(sludge, prior, theta, covariance, blocks, dose_window, polymer, invented)
    return JointFit(
        law=law,
        prior=prior,
        misfits=tuple(_misfit(b, w, theta, drawn) for b, w in zip(blocks, whiteners, strict=True)),
        inflation=inflation,
        chance=chance,
        unknown=tuple(_unknown(law)),
        widened=widened,
        blocks=tuple(blocks),
    )


def _inflation(gaps: FloatArray, jacobian: FloatArray, count: int) -> tuple[float, float]:
    """Birge's ratio (never below one) and the chance of so large a misfit."""
    from scipy.special import gammaincc

    if count == 0:
        return 1.0, 1.0
    leverage = jacobian @ np.linalg.pinv(jacobian.T @ jacobian) @ jacobian.T
    freedom = max(count - float(np.trace(leverage[:count, :count])), 1.0)
    total = float(gaps @ gaps)
    chance = float(gammaincc(freedom / 2, total / 2))
    return (float(np.sqrt(total / freedom)) if chance < 0.05 else 1.0), chance


def _covariance(jacobian: FloatArray, count: int, inflation: float) -> FloatArray:
    data, prior = jacobian[:count], jacobian[count:]
    return np.asarray(np.linalg.inv(data.T @ data / inflation**2 + prior.T @ prior))


def _widen(
    residuals: Callable[[FloatArray], FloatArray],
    theta: FloatArray,
    covariance: FloatArray,
    count: int,
    inflation: float,
    bounds: tuple[FloatArray, FloatArray],
) -> tuple[FloatArray, tuple[str, ...]]:
    """Stretch the covariance where the misfit is not a parabola: profile at two deviations."""
    from scipy.optimize import least_squares

    def scaled(t: FloatArray) -> FloatArray:
        gaps = residuals(t)
        return np.concatenate([gaps[:count] / inflation, gaps[count:]])

    base = float(np.sum(scaled(theta) ** 2))
    stretch = np.ones(len(theta))
    for index in range(len(theta)):
        sd = float(np.sqrt(covariance[index, index]))
        others = [i for i in range(len(theta)) if i != index]
        slope = covariance[others, index] / covariance[index, index]
        rises = []
        for side in (-2.0, 2.0):
            full = theta.copy()
            full[index] = np.clip(theta[index] + side * sd, bounds[0][index], bounds[1][index])

            def held(
                rest: FloatArray, at: FloatArray = full, kept: list[int] = others
            ) -> FloatArray:
                whole = at.copy()
                whole[kept] = rest
                return scaled(whole)

            start = np.clip(
                theta[others] + slope * side * sd,
                bounds[0][others] + 1e-9, bounds[1][others] - 1e-9,
            )  # fmt: skip
            found = least_squares(
                held, start, bounds=(bounds[0][others], bounds[1][others]), max_nfev=12, ftol=1e-4
            )
            rises.append(max(2 * float(found.cost) - base, 0.05))
        # A parabola rises by 4 at two deviations; a flatter side means a wider interval.
        stretch[index] = float(np.clip(np.sqrt(4.0 / min(rises)), 1.0, 3.0))
    names = tuple(name for name, s in zip(LAW_PARAMETERS, stretch, strict=True) if s > 1.15)
    return covariance * np.outer(stretch, stretch), names


def _drawn(prior: SludgeLaw) -> FloatArray:
    """Draws of the class's law before any test."""
    root = np.linalg.cholesky(prior.covariance)
    normals = np.random.default_rng(0).standard_normal((_PRIOR_DRAWS, len(root)))
    return np.asarray(prior.centre + normals @ root.T)


def _foretold(block: Clues, drawn: FloatArray) -> tuple[float, FloatArray]:
    """Chance of readings so far from what the prior foretells, and how far each one is."""
    from scipy.special import gammaincc

    predict = predictor(block.clues)
    rows = np.stack([predict(values_of(theta)) for theta in drawn])
    gap = np.array([clue.value for clue in block.clues]) - rows.mean(axis=0)
    spread = rows - rows.mean(axis=0)
    covariance = spread.T @ spread / (len(rows) - 1) + clue_covariance(block)
    distance = float(gap @ np.linalg.solve(covariance, gap))
    chance = float(gammaincc(len(gap) / 2, distance / 2))
    return chance, np.asarray(gap / np.sqrt(np.diag(covariance)))


def _misfit(block: Clues, whitener: FloatArray, theta: FloatArray, drawn: FloatArray) -> Misfit:
    from scipy.special import gammaincc

    gap = _gap(block, theta)
    white = whitener @ gap
    chance = float(gammaincc(len(white) / 2, float(white @ white) / 2))
    shown = gap / np.sqrt(np.diag(clue_covariance(block)))
    learns = tuple(clue.learns.value for clue in block.clues)
    return Misfit(
        block.test, block.kind, np.asarray(shown), learns, chance, *_foretold(block, drawn)
    )


def _law(
    sludge: str,
    prior: SludgeLaw,
    theta: FloatArray,
    covariance: FloatArray,
    blocks: Sequence[Clues],
    dose_window: tuple[float, float],
    polymer: str,
    invented: bool,
) -> SludgeLaw:
    rows = []
    touched = _touched(blocks, theta)
    for index, before in enumerate(prior.parameters):
        learnt = float(np.clip(1 - covariance[index, index] / prior.covariance[index, index], 0, 1))
        value = float(from_space(theta[index], LAW_PARAMETERS[before.name]))
        sd = float(np.sqrt(covariance[index, index]))
        rows.append(_row(before, value, sd, learnt, touched[index], invented))
    return SludgeLaw(
        sludge=sludge,
        sludge_class=prior.sludge_class,
        parameters=tuple(rows),
        covariance=covariance,
        dose_low=dose_window[0],
        dose_high=dose_window[1],
        polymer=polymer,
        tests=tuple(block.test for block in blocks),
        invented=invented,
    )


def _touched(blocks: Sequence[Clues], theta: FloatArray) -> list[tuple[str, ...]]:
    """Tests whose predictions move with each parameter."""
    found: list[list[str]] = [[] for _ in theta]
    for block in blocks:
        moved = np.abs(clue_jacobian(block, theta)).max(axis=0) > 1e-3
        for index in np.flatnonzero(moved):
            found[index].append(block.test)
    return [tuple(tests) for tests in found]


def _row(
    before: LawParameter,
    value: float,
    sd: float,
    learnt: float,
    tests: tuple[str, ...],
    invented: bool,
) -> LawParameter:
    if learnt < _LEARNT:
        note = f"not told by these tests; {before.note}"
        return LawParameter(
            before.name, value, sd, before.basis, before.source, before.mark, note, learnt
        )
    note = f"{100 * learnt:.0f} % of the prior's variance removed by {', '.join(tests)}"
    if before.name == "medium_resistance":
        note += "; of the test cell, not of a machine"
    mark = Mark.INVENTED if invented else (Mark.NONE if learnt > 0.8 else before.mark)
    source = "OWN" if learnt > 0.8 else f"OWN {before.source}"
    return LawParameter(before.name, value, sd, Basis.BENCH, source, mark, note, learnt)


def _unknown(law: SludgeLaw) -> list[str]:
    """What these tests cannot tell: single parameters, then pairs known only together."""
    from cakewright.quantities import house_name

    words = []
    blind = [p.name for p in law.parameters if p.learnt < _LEARNT]
    if blind:
        labels = ", ".join(house_name(name).label for name in blind)
        words.append(f"not told at all, the class's prior stands: {labels}")
    spread = np.sqrt(np.diag(law.covariance))
    correlation = law.covariance / np.outer(spread, spread)
    names = list(LAW_PARAMETERS)
    for i in range(len(names)):
        for j in range(i):
            if abs(correlation[i, j]) > 0.9:
                one, two = house_name(names[j]).label, house_name(names[i]).label
                kind = "product" if correlation[i, j] < 0 else "ratio"
                words.append(
                    f"{one} and {two} are known as a pair (correlation {correlation[i, j]:.2f}); "
                    f"their {kind} is much better known than either"
                )
    return words
