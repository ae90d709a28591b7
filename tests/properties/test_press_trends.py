"""Trends of the pressing paths over random draws, and no draw without an answer or a cause."""

from __future__ import annotations

from dataclasses import fields, replace
from functools import cache
from typing import Any

import numpy as np
import pytest
from tests.properties.press_draws import NEW_BELT
from tests.properties.press_draws import SCREW as FRAME

from cakewright.machines.belt.path import (
    BeltOperation,
    BeltParameters,
    belt_capacity,
    belt_path,
)
from cakewright.machines.decanter.path import (
    DecanterGeometry,
    DecanterOperation,
    DecanterParameters,
    decanter_path,
    slowest_scroll,
)
from cakewright.machines.interface import Kind
from cakewright.machines.press_priors import drawn, parameter_draws, parameter_priors, record_from
from cakewright.machines.pressing_path import PathResult, PathStatus, PressedSludge, PressLoad
from cakewright.machines.screw.capacity import ScrewCapacity, screw_capacity
from cakewright.machines.screw.path import (
    ScrewOperation,
    ScrewParameters,
    screw_path,
)

COUNT = 500
BOWL = DecanterGeometry(0.35, 0.9, 0.06, 0.1)


@cache
def _draws() -> tuple[PressedSludge, PressLoad, ScrewOperation, ScrewParameters]:
    rng = np.random.default_rng(7)

    def spread(middle: float, factor: float) -> Any:
        return middle * np.exp(np.log(factor) * rng.standard_normal(COUNT))

    sludge = PressedSludge(
        solids_density=rng.uniform(1250.0, 1500.0, COUNT),
        gel_point=np.clip(spread(0.024, 1.4), 0.008, 0.06),
        yield_scale=spread(120.0, 1.8),
        yield_exponent=rng.uniform(2.6, 3.8, COUNT),
        local_resistance=spread(1e10, 2.5),
        resistance_exponent=rng.uniform(0.7, 1.0, COUNT),
        creep_share=0.7,
        creep_rate=spread(2e-3, 2.0),
    )
    load = PressLoad(spread(2.5, 1.8) / 3600.0, rng.uniform(0.012, 0.04, COUNT), 0.05)
    setting = ScrewOperation(rng.uniform(1.0, 4.0, COUNT) / 60.0, spread(3e4, 1.5), 0.2)
    machine = drawn(ScrewParameters, Kind.MULTI_DISC_SCREW_PRESS, COUNT, rng)
    return sludge, load, setting, machine


def _path(
    sludge: dict[str, Any] | None = None,
    load: dict[str, Any] | None = None,
    setting: dict[str, Any] | None = None,
    machine: dict[str, Any] | None = None,
) -> PathResult:
    """Path of all draws with some inputs multiplied by a factor."""
    parts: list[Any] = []
    for record, factors in zip(_draws(), (sludge, load, setting, machine), strict=True):
        one: Any = record
        scaled = {k: np.asarray(getattr(one, k)) * f for k, f in (factors or {}).items()}
        parts.append(replace(one, **scaled))
    return screw_path(parts[0], parts[1], parts[2], parts[3], FRAME)


@cache
def _base() -> PathResult:
    return _path()


def _drier(one: PathResult, other: PathResult) -> float:
    """Share of the draws with both answers in which ``one`` is at least as dry as ``other``."""
    both = one.answered & other.answered
    assert both.sum() > 50
    return float(np.mean(one.cake_solids[both] >= other.cake_solids[both] * (1.0 - 1e-4)))


def test_every_draw_ends_in_an_answer_or_a_cause() -> None:
    """No draw is unresolved, none has a number and a cause, and answers are finite."""
    answer = _base()
    assert np.sum(answer.status == PathStatus.UNRESOLVED) == 0
    assert np.array_equal(np.isfinite(answer.cake_solids), answer.answered)
    assert 0.3 < np.mean(answer.answered) < 1.0
    assert sum(answer.counts().values()) == COUNT
    assert np.all(answer.cake_solids[answer.answered] < 0.9)
    assert np.all((answer.capture[answer.answered] > 0) & (answer.capture[answer.answered] < 1))


def test_margins_agree_with_causes() -> None:
    """Where there is an answer every margin is positive; where a cause is named, its own is not."""
    answer = _base()
    for name, margin in answer.margins.items():
        assert np.all(margin[answer.answered] > 0.0), name
    for cause in (PathStatus.HYDRAULIC, PathStatus.PLATE):
        hit = answer.status == cause
        assert np.all(answer.margins[cause.name.lower()][hit] <= 0.0)


def test_higher_back_pressure_is_drier_with_a_longer_pressing_zone() -> None:
    """A plate set a third tighter: drier, longer pressing zone, more torque, less capture."""
    tight, base = _path(setting={"back_pressure": 1.33}), _base()
    both = tight.answered & base.answered
    assert _drier(tight, base) == 1.0
    length = "pressing_length"
    assert np.all(tight.details[length][both] > base.details[length][both])
    assert np.all(tight.details["torque"][both] > base.details["torque"][both])
    assert np.all(tight.capture[both] < base.capture[both])


def test_slower_screw_is_drier_at_less_throughput() -> None:
    """Speed and load a fifth down together: drier in every draw."""
    slow = _path(setting={"speed": 0.8}, load={"dry_solids_flow": 0.8})
    assert _drier(slow, _base()) == 1.0


def test_slower_screw_at_the_same_load_is_drier_where_the_screw_is_filled() -> None:
    """At the same load: drier wherever the plug takes half of the screw's pace or more.

    Where the plug hardly fills the screw, speed only renews the layer and slower may be wetter.
    """
    slow, base = _path(setting={"speed": 0.8}), _base()
    both = slow.answered & base.answered
    filled = both & (base.margins["conveying"] < 0.5)
    assert filled.sum() >= 20
    assert np.all(slow.cake_solids[filled] > base.cake_solids[filled])
    assert np.median(slow.cake_solids[both] / base.cake_solids[both]) > 1.0


def test_more_load_is_wetter() -> None:
    """A quarter more load: wetter in at least 95 % of draws, fewer draws within capacity.

    The exceptions are those whose pressing zone grows because the screw is nearly overrun.
    """
    more, base = _path(load={"dry_solids_flow": 1.25}), _base()
    assert _drier(base, more) > 0.95
    both = more.answered & base.answered
    odd = both & (more.cake_solids > base.cake_solids * (1.0 + 1e-4))
    length = "pressing_length"
    assert np.all(more.details[length][odd] > 1.1 * base.details[length][odd])
    assert more.answered.sum() < base.answered.sum()


def test_thicker_feed_moves_the_hydraulic_limit() -> None:
    """Feed half as thick again: more room to the hydraulic limit, cake little changed."""
    thick, base = _path(load={"feed_solids": 1.5}), _base()
    assert np.all(thick.margins["hydraulic"] >= base.margins["hydraulic"] - 1e-9)
    both = thick.answered & base.answered
    change = np.abs(thick.cake_solids[both] / base.cake_solids[both] - 1.0)
    assert np.median(change) < 0.03


def test_poor_flocculation_hurts_everything() -> None:
    """Resistance doubled and fines doubled (under- or over-dosed): wetter, dirtier, less room."""
    poor = _path(sludge={"local_resistance": 2.0}, load={"fines_share": 2.0})
    base = _base()
    both = poor.answered & base.answered
    assert _drier(base, poor) > 0.97
    assert np.all(poor.capture[both] < base.capture[both])
    assert np.all(poor.margins["hydraulic"] <= base.margins["hydraulic"] + 1e-9)


def test_more_ash_is_drier_by_mass() -> None:
    """Denser solids of the same volume law: drier cake by mass."""
    heavy = _path(sludge={"solids_density": 1.1}, load={"dry_solids_flow": 1.1})
    assert _drier(heavy, _base()) > 0.99


def _first(record: Any, count: int) -> Any:
    """The first draws of a record."""
    columns = {one.name: getattr(record, one.name) for one in fields(record)}
    return replace(record, **{k: np.asarray(v)[:count] for k, v in columns.items() if np.ndim(v)})


def test_capacity_falls_with_back_pressure_and_slower_screw() -> None:
    """A tighter plate takes less dry solids, a slower screw carries less, in every draw."""
    sludge, load, setting, machine = (_first(r, 10) for r in _draws())

    def most(**factors: float) -> ScrewCapacity:
        scaled = {k: f * np.asarray(getattr(setting, k)) for k, f in factors.items()}
        chosen = replace(setting, **scaled)
        return screw_capacity(sludge, chosen, machine, FRAME, load.feed_solids)

    base, tight, slow = most(), most(back_pressure=1.5), most(speed=0.7)
    assert np.all(tight.dry_solids_flow <= base.dry_solids_flow * (1.0 + 1e-4))
    assert np.all(slow.by_cause["conveying"] < base.by_cause["conveying"])


def _typical(record: Any, kind: Kind) -> Any:
    return record_from(record, {k: p.at(0.0) for k, p in parameter_priors(kind).items()})


SLUDGE = PressedSludge(1400.0, 0.024, 120.0, 3.12, 1e10, 0.85, 0.7, 2e-3)
EASY = replace(SLUDGE, local_resistance=1.5e9)


def test_oil_blinds_cloths_and_not_rings() -> None:
    """Oil takes capacity from a belt between washes, washing gives it back; rings do not see it."""
    belt = _typical(BeltParameters, Kind.BELT_PRESS)
    setting = BeltOperation(2.0 / 60.0, 8e3, np.array([0.0, 1.0, 1.0]))
    room = belt_capacity(
        SLUDGE, setting, belt, NEW_BELT, 0.025, 0.05, oil_share=np.array([0.2, 0.0, 0.2])
    )
    assert room[0] > room[1] > room[2] > 0.0
    oily = _path(load={"oil_share": 1.0})
    assert np.array_equal(oily.status, _base().status)


def test_fixed_screen_presses_as_rings_do() -> None:
    """The screen-drum press follows the same trend with its plate."""
    screw = _typical(ScrewParameters, Kind.SCREEN_DRUM_SCREW_PRESS)
    load = PressLoad(2.0 / 3600.0, 0.03, 0.05)
    answer = screw_path(
        SLUDGE, load, ScrewOperation(2.0 / 60.0, np.array([2e4, 5e4, 1e5])), screw, FRAME
    )
    assert np.all(np.diff(answer.cake_solids) > 0.0)


def test_slower_and_tighter_belt_is_drier() -> None:
    """Belt press draws: slower belt and more tension dry the cake."""
    rng = np.random.default_rng(3)
    belt = drawn(BeltParameters, Kind.BELT_PRESS, 32, rng)
    load = PressLoad(40.0 / 3600.0, 0.03, 0.05)
    base = belt_path(SLUDGE, load, BeltOperation(3.0 / 60.0, 6e3), belt, NEW_BELT)
    slow = belt_path(SLUDGE, load, BeltOperation(2.0 / 60.0, 6e3), belt, NEW_BELT)
    tight = belt_path(SLUDGE, load, BeltOperation(3.0 / 60.0, 9e3), belt, NEW_BELT)
    assert base.answered.sum() > 10
    for other in (slow, tight):
        both = base.answered & other.answered
        assert np.all(other.cake_solids[both] > base.cake_solids[both])


def test_decanter_scroll_trades_dryness_for_room() -> None:
    """A slower scroll: deeper and drier cake until the pond is full of it; halving finds that."""
    bowl = _typical(DecanterParameters, Kind.DECANTER)
    speeds = np.array([1.0, 5.0, 10.0, 20.0]) / 60.0
    answer = decanter_path(
        EASY, PressLoad(100.0 / 3600.0, 0.025, 0.05), DecanterOperation(58.0, speeds), bowl, BOWL
    )
    assert answer.status[0] == PathStatus.CONVEYING
    assert np.all(np.diff(answer.cake_solids[1:]) < 0.0)
    assert np.all(answer.cake_solids[1:] < answer.details["compressive_limit"][1:])
    found = slowest_scroll(
        EASY,
        PressLoad(100.0 / 3600.0, 0.025, 0.05),
        DecanterOperation(58.0, speeds[-1]),
        bowl,
        BOWL,
        speeds,
    )
    assert found[0] == speeds[np.flatnonzero(answer.answered)[0]]


@pytest.mark.parametrize("kind", list(Kind))
def test_prior_quantiles_are_the_table(kind: Kind) -> None:
    """A tenth of the draws lies below the low value and above the high one."""
    draws = parameter_draws(kind, 4000, np.random.default_rng(5))
    for name, prior in parameter_priors(kind).items():
        assert abs(np.mean(draws[name] < prior.low) - 0.1) < 0.03
        assert abs(np.mean(draws[name] > prior.high) - 0.1) < 0.03
        assert np.isclose(draws[name][0], prior.typical)
