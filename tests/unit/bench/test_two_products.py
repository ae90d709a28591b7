"""Two products in sequence: a known surface is found again, saving and ties are told."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from cakewright.bench.readings import BenchTest
from cakewright.bench.two_products import fit_two_products
from cakewright.errors import DataError
from cakewright.quantities import FloatArray

FIRST = np.repeat([0.0, 0.01, 0.02, 0.03], 4)
SECOND = np.tile([0.002, 0.004, 0.006, 0.009], 4)


def _truth(first: FloatArray, second: FloatArray, gain: float) -> FloatArray:
    """Suction time with its least value at 18 and 5 kg/t; ``gain`` is what the first is worth."""
    x, y = (first - 0.018) / 0.03, (second - 0.005) / 0.009
    return np.asarray(20.0 * np.exp(gain * x * x + 1.5 * y * y))


def _test(gain: float = 1.5, noise: float = 0.01, **numbers: float) -> BenchTest:
    random = np.random.default_rng(3)
    times = _truth(FIRST, SECOND, gain) * np.exp(noise * random.standard_normal(16))
    return BenchTest(
        id="D1",
        kind="two_products",
        sludge="one",
        words={"first_product": "ferric chloride", "polymer": "polymer A", "invented": "yes"},
        numbers={"water_blank": 0.0, **numbers},
        columns={"first_dose": FIRST, "second_dose": SECOND, "suction_time": times},
    )


def test_best_pair_of_a_known_surface_is_inside_its_intervals() -> None:
    """Both optima are found, and the intervals hold them without spanning all that was tried."""
    fit = fit_two_products(_test())
    for name, true, span in (("first_optimum_dose", 0.018, 0.03), ("optimum_dose", 0.005, 0.007)):
        found = fit.estimate(name)
        assert found.low <= true <= found.high
        assert found.value == pytest.approx(true, rel=0.1)
        assert found.high - found.low < 0.5 * span
    assert any("moves the suction time" in words for words in fit.remarks)
    assert not fit.warnings


def test_a_first_product_that_does_nothing_is_not_proved() -> None:
    """Where only the polymer matters the jars say that the first product is not proved."""
    fit = fit_two_products(_test(gain=0.0, noise=0.05))
    assert any("is not proved" in words for words in fit.remarks)


def test_cheapest_pair_follows_the_prices() -> None:
    """Dear iron moves the cheapest pair to less of it; it stays among those as good."""
    cheap, dear = (
        fit_two_products(_test(noise=0.05, first_price=p, price=4.0, activity=0.9)).conditions
        for p in (0.1, 20.0)
    )
    assert dear["cheapest_first"] < cheap["cheapest_first"]


def test_too_few_doses_are_named() -> None:
    """Two doses of the first product carry no optimum: the error says what to add."""
    test = _test()
    keep = FIRST < 0.015
    columns = {name: values[keep] for name, values in test.columns.items()}
    few = replace(test, columns=columns)
    with pytest.raises(DataError, match="3 or more"):
        fit_two_products(few)
