"""A bed settling in a field: rest, first stage, the linear series, an independent twin."""

from __future__ import annotations

import numpy as np
from scipy.integrate import quad, solve_ivp

from cakewright.machines.decanter.settled_bed import SettledBed, settled_bed
from cakewright.quantities import FloatArray

RNG = np.random.default_rng(4)
COUNT = 40
WEIGHT = 10.0 ** RNG.uniform(1.0, 3.5, COUNT)
EXPONENT, RESISTANCE = RNG.uniform(2.2, 3.8, COUNT), RNG.uniform(0.6, 1.05, COUNT)
SHARE, LOOSE = RNG.uniform(0.1, 0.9, COUNT), np.ones(COUNT)


def _one(*numbers: float, cells: int = 12) -> SettledBed:
    weight, time, n, m, start, share = (np.array([v]) for v in numbers)
    return settled_bed(weight, time, n, m, start, share, cells)


def test_after_long_it_rests_under_its_own_weight() -> None:
    """Mean of the whole and of the lower part equal the law read backwards under weight x.

    The loose skin of the surface is thinner than a cell, which the mean of the whole feels.
    """
    bed = settled_bed(WEIGHT, np.full(COUNT, 1e6), EXPONENT, RESISTANCE, LOOSE, SHARE)
    for i in range(COUNT):

        def rest(x: float, w: float = WEIGHT[i], n: float = EXPONENT[i]) -> float:
            return float((1.0 + w * x) ** (-1.0 / n))

        assert np.isclose(
            bed.whole[i], quad(rest, 0.0, 1.0, points=[1e-3, 0.01, 0.1])[0], rtol=0.015
        )
        lower = quad(rest, 1.0 - SHARE[i], 1.0)[0] / SHARE[i]
        assert np.isclose(bed.lower[i], lower, rtol=6e-3)


def test_at_first_the_surface_sinks_as_fast_as_loose_flocs_settle() -> None:
    """While the top still lies loose the bed loses ``weight`` x time, whatever the wall does."""
    time = 0.02 / WEIGHT
    bed = settled_bed(WEIGHT, time, EXPONENT, RESISTANCE, LOOSE, SHARE)
    assert np.allclose(1.0 - bed.whole, 0.02, rtol=0.02)


def test_a_light_bed_follows_the_series_of_linear_consolidation() -> None:
    """A weight of 0.02 is linear: settlement by Terzaghi's series, excess rising to the wall."""
    weight, n = 0.02, 3.0
    for factor in (0.05, 0.2, 0.5):
        odd = np.arange(1, 60, 2) * np.pi / 2.0
        signs = (-1.0) ** np.arange(odd.size)
        degree = 1.0 - float(np.sum(4.0 * signs / odd**3 * np.exp(-(odd**2) * factor)))
        bed = _one(weight, factor / n, n, 1e-6, 1.0, 0.5, cells=48)
        got = (1.0 - bed.whole[0]) * 2.0 * n / weight
        assert np.isclose(got, degree, rtol=0.02), factor


def _twin(weight: float, time: float, n: float, m: float, share: float) -> tuple[float, float]:
    """The same equation as scattered cells and a stiff integrator, upwind towards the wall."""
    cells = 300
    middle = (np.arange(cells) + 0.5) / cells

    def rate(_: float, v: FloatArray) -> FloatArray:
        stress = np.maximum(v, 1e-9) ** -n - 1.0
        drop = np.diff(np.concatenate([[0.0], stress])) / np.diff(np.concatenate([[0.0], middle]))
        flux = np.append((weight - drop) * np.minimum(v, 1.0) ** (n * m), 0.0)
        return np.asarray(np.diff(flux) * cells)

    loose = np.ones(cells)
    end = solve_ivp(
        rate, (0.0, time), loose, method="LSODA", rtol=1e-6, atol=1e-8, lband=1, uband=1
    )
    v = end.y[:, -1]
    lower = v[middle > 1.0 - share]
    return float(v.mean()), float(lower.mean())


def test_it_agrees_with_a_stiff_integrator() -> None:
    """Whole within 5 % and lower part within 2 % of the twin, from a front half way to near rest.

    The whole bed gives the depth alone; its skin at the surface is thinner than a cell.
    """
    for i in range(6):
        weight, n, m = float(WEIGHT[i]), float(EXPONENT[i]), float(RESISTANCE[i])
        for time in (0.3 / weight, 3.0 / weight, 0.05):
            bed = _one(weight, time, n, m, 1.0, 0.4)
            whole, lower = _twin(weight, time, n, m, 0.4)
            assert np.isclose(bed.whole[0], whole, rtol=0.05), (i, time)
            assert np.isclose(bed.lower[0], lower, rtol=0.02), (i, time)


def test_a_sample_alone_is_as_among_others_and_thick_feed_stays() -> None:
    """No sample touches another; a feed denser than the rest under its weight does not swell."""
    time = np.full(COUNT, 0.01)
    all_of_them = settled_bed(WEIGHT, time, EXPONENT, RESISTANCE, LOOSE, SHARE)
    rows = (WEIGHT, time, EXPONENT, RESISTANCE, LOOSE, SHARE)
    alone = _one(*(float(row[7]) for row in rows))
    assert np.isclose(alone.lower[0], all_of_them.lower[7], rtol=1e-12)
    dense = np.full(COUNT, 0.05)
    bed = settled_bed(np.ones(COUNT), time, EXPONENT, RESISTANCE, dense, SHARE)
    assert np.allclose(bed.whole, 0.05)
    assert np.allclose(bed.lower, 0.05)
