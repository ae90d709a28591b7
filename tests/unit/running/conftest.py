"""Invented plants shared by the tests of the running room."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import numpy as np
import pytest

from cakewright.running.investigate import Watching, investigate
from cakewright.running.practice_plant import PlantLog, invented_shifts
from cakewright.running.reconcile import BalanceTable, reconcile_shifts

Watched = tuple[PlantLog, BalanceTable, Watching]


@cache
def _watched(fault: str | None, seed: int) -> Watched:
    log = invented_shifts(fault, seed=seed, shifts=300, start=220)
    balance = reconcile_shifts(log.table)
    baseline = np.arange(log.table.size) < 150
    return log, balance, investigate(log.table, balance, baseline, most=8)


@pytest.fixture
def watched() -> Callable[[str | None, int], Watched]:
    """A plant with a hidden fault from shift 220 on, reconciled and watched."""
    return _watched
