"""One battery of checks that every kind of machine must pass."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from cakewright.machines import (
    Answer,
    Duty,
    Kind,
    Machine,
    OneOut,
    choose,
    machine_types,
    shipped_catalogue,
    size,
    worst_answer,
)
from cakewright.physics.balance import Additive, balance_dewatering
from cakewright.quantities import house_name
from cakewright.reference import sludge_classes
from cakewright.sludge import Composition, Feed, Sludge, blend, run_load
from cakewright.sources import source

TYPES = pytest.mark.parametrize("kind", machine_types().values(), ids=lambda k: str(k.kind))
QUANTILES = np.array([0.5, 0.001, 0.1, 0.9, 0.999])
PER_HOUR = 1.0 / 3600.0


def _feed(key: str = "was", flow_kg_h: float = 20.0, total_solids: float = 0.015) -> Feed:
    composition = Composition(total_solids, 0.25, oil=0.03, fibre=0.03, grit=0.01, dissolved=0.03)
    return blend([Sludge.of("one", key, flow_kg_h * PER_HOUR, composition)])


def _mixed() -> Feed:
    froth = Sludge.of("a", "flotation_froth", 15 * PER_HOUR, Composition(0.035, 0.1, oil=0.25))
    floc = Sludge.of("b", "industrial_biological", 9 * PER_HOUR, Composition(0.008, 0.2))
    return blend([froth, floc])


@TYPES
@pytest.mark.parametrize("key", sorted(sludge_classes()))
def test_figures_lie_within_limits(kind: Machine, key: str) -> None:
    """Cake is drier than the feed, shares are shares, and nothing is negative, on every class."""
    feed = _feed(key)
    performance = kind.performance(feed, Duty(), QUANTILES)
    cake = performance.samples("cake_solids")
    assert (cake > feed.mix.total_solids).all()
    assert (cake < 1.0).all()
    assert ((performance.samples("capture") > 0.5) & (performance.samples("capture") < 1.0)).all()
    for figure in performance.figures.values():
        assert np.isfinite(figure.samples).all()
        assert (figure.samples > 0.0).all()


@TYPES
def test_figures_rise_with_their_quantile(kind: Machine) -> None:
    """A higher quantile never gives a lower figure, and 0.5 is the point case."""
    feed = _mixed()
    performance = kind.performance(feed, Duty(), np.array([0.5, 0.02, 0.1, 0.5, 0.9, 0.98]))
    for name, figure in performance.figures.items():
        assert (np.diff(figure.samples[1:]) >= 0.0).all(), name
        assert figure.samples[0] == figure.samples[3]


@TYPES
def test_figures_say_where_they_are_from(kind: Machine) -> None:
    """Every figure has a house name and known sources; none is passed off as measured."""
    for figure in kind.performance(_mixed(), Duty()).figures.values():
        house_name(figure.name)
        for part in (figure.source or "").split():
            source(part)
        assert figure.source
        assert figure.mark.value or figure.basis.value in ("published", "practice")


@TYPES
def test_every_verdict_has_words_basis_and_source(kind: Machine) -> None:
    """Each rule answers once, with words, a house name, numbers and known sources."""
    duty = Duty(cake_target=0.18, capture_target=0.9, noise_limit=80.0)
    verdicts = kind.verdicts(_mixed(), duty)
    keys = [verdict.rule for verdict in verdicts]
    assert len(keys) == len(set(keys))
    assert {"feed thin", "inorganic share", "oil", "grit", "chloride", "cake wanted", "noise"} <= {
        *keys
    }
    for verdict in verdicts:
        assert verdict.text.endswith(".")
        house_name(verdict.name)
        assert np.isfinite([verdict.value, verdict.limit]).all()
        for part in verdict.source.split():
            source(part)


@TYPES
def test_a_cake_nobody_reaches_does_not_suit(kind: Machine) -> None:
    """Asking for 85 % cake is refused by every kind, with the figure it falls short by."""
    verdicts = kind.verdicts(_feed(), Duty(cake_target=0.85))
    assert worst_answer(verdicts) is Answer.DOES_NOT_SUIT
    said = next(v for v in verdicts if v.rule == "cake wanted")
    assert said.limit == 0.85
    assert said.value < 0.85


@TYPES
def test_better_performance_given_changes_the_verdict(kind: Machine) -> None:
    """A cake proved by physics or a pilot takes the place of the published one."""
    duty = Duty(cake_target=0.60)
    performance = kind.performance(_feed(), duty, QUANTILES)
    drier = replace(performance["cake_solids"], samples=np.full(5, 0.65))
    before = {v.rule: v.answer for v in kind.verdicts(_feed(), duty)}
    after = {v.rule: v.answer for v in kind.verdicts(_feed(), duty, performance.replaced(drier))}
    assert before["cake wanted"] is not Answer.SUITS
    assert after["cake wanted"] is Answer.SUITS


@TYPES
def test_every_kind_has_frames_that_do(kind: Machine) -> None:
    """The shipped catalogue carries a small load with one machine of every kind."""
    feed = _feed(flow_kg_h=4.0)
    duty = Duty()
    load = run_load(feed, 1 / 3, 5)
    plans = choose(kind, shipped_catalogue(), feed, load, duty, kind.performance(feed, duty))
    best = plans[0]
    assert best.machines == 1
    assert sum(plan.chosen for plan in plans) == 1
    assert all(plan.why for plan in plans)
    for figure in best.figures.values():
        house_name(figure.name)
        assert np.isfinite(figure.samples).all()


@TYPES
def test_more_load_never_needs_fewer_machines(kind: Machine) -> None:
    """The number of machines and the hours run rise with the load."""
    frame = next(f for f in shipped_catalogue() if f.machine is kind.kind)
    duty = Duty(spare_capacity=0.1, one_out=OneOut.REDUCED, largest_number=1000)
    counts = []
    for flow in (1.0, 3.0, 10.0, 30.0, 100.0):
        feed = _feed(flow_kg_h=flow)
        load = run_load(feed, 1 / 3, 5, 1.2)
        plan = size(kind, frame, feed, load, duty, kind.performance(feed, duty))
        counts.append(plan.machines)
        assert plan.figures["run_hours_per_day"].point <= 1 / 3 + 1e-12
        assert plan.figures["utilisation"].point <= 1.0 / 1.1 + 1e-9
    assert counts == sorted(counts)
    assert counts[-1] > counts[0]


@TYPES
def test_stricter_rules_for_one_out_never_need_fewer(kind: Machine) -> None:
    """Nothing, reduced and full duty with one out take ever more machines; full duty is kept."""
    feed = _feed(flow_kg_h=25.0)
    load = run_load(feed, 1 / 3, 5, 1.3)
    frame = next(f for f in shipped_catalogue() if f.machine is kind.kind)
    counts = []
    for rule in OneOut:
        duty = Duty(one_out=rule, largest_number=1000)
        plan = size(kind, frame, feed, load, duty, kind.performance(feed, duty))
        counts.append(plan.machines)
        if rule is OneOut.FULL:
            assert plan.figures["capacity_one_out"].point >= 1.0 - 1e-9
    assert counts == sorted(counts)


@TYPES
def test_balance_closes_on_every_kind(kind: Machine) -> None:
    """Streams built from a kind's own figures close to 1e-9 on every balance and sample."""
    feed = _mixed()
    performance = kind.performance(feed, Duty(), QUANTILES)
    dose = performance.samples("polymer_dose") * feed.mix.dry_solids_flow
    balance = balance_dewatering(
        feed.mix.dry_solids_flow,
        feed.mix.total_solids,
        feed.mix.dissolved,
        performance.samples("cake_solids"),
        performance.samples("capture"),
        [Additive("polymer", dose, dose / 0.002, 0.95)],
        wash_flow=performance.samples("wash_water_specific") * feed.mix.dry_solids_flow,
        density_dry=feed.mix.solids_density,
    )
    assert max(balance.closure.values()) < 1e-9
    for stream in balance.streams.values():
        assert (stream.water >= 0.0).all()
        assert (stream.dry >= -1e-15).all()
    assert np.allclose(balance.streams["cake"].total_solids, performance.samples("cake_solids"))


def test_kinds_are_frozen_and_each_is_there_once() -> None:
    """The registry holds each kind once, in the order of the list, and none can be changed."""
    assert list(machine_types()) == list(Kind)
    assert [one.kind for one in machine_types().values()] == list(Kind)
    for one in machine_types().values():
        with pytest.raises((AttributeError, TypeError)):
            one.anything = 1  # type: ignore[attr-defined]
