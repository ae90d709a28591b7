"""The best setting of a screw press where no setting keeps its margins."""

from __future__ import annotations

import math
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from cakewright.machines.goal import Aim
from cakewright.machines.pressing_path import PathStatus
from cakewright.machines.screw.operating import _best_cell, _best_of


def test_a_window_without_a_good_setting_has_finite_worth() -> None:
    """The cell with the widest margin is shown, at a worth that can be written down."""
    search: Any = SimpleNamespace(
        case=SimpleNamespace(hardest_planned=1e5), aim=Aim.DRIEST_CAKE, free_dose=False,
        least_margin=1.2, least_capture=0.9,
    )  # fmt: skip
    chart: Any = SimpleNamespace(
        speed=np.array([0.02, 0.04]), back_pressure=np.array([2e4, 4e4]),
        status=np.full((2, 2), PathStatus.ANSWER), margin=np.array([[0.5, 0.9], [0.4, 0.6]]),
        capture=np.full((2, 2), 0.95), cake_solids=np.array([[0.15, 0.16], [0.17, np.nan]]),
    )  # fmt: skip
    x, worth, held = _best_cell(search, chart)
    assert not held
    assert math.isfinite(worth)
    assert np.allclose(np.exp(x), [0.04, 2e4])


def test_a_climb_that_ends_outside_keeps_what_it_gained() -> None:
    """A limit is passed at four fifths of the way: the best point before it is taken."""

    def rows(x: np.ndarray) -> np.ndarray:
        return np.stack([-x[:, 0], 0.8 - x[:, 0], np.ones(len(x))])

    search: Any = SimpleNamespace(rows=rows)
    found, worth = _best_of(search, np.zeros(2), np.array([1.0, 0.3]))
    assert found[0] == pytest.approx(0.75)
    assert found[1] == pytest.approx(0.225)
    assert worth == pytest.approx(-0.75)
