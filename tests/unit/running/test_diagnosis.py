"""Causes, evidence, and the knowledge behind them."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pytest

from cakewright.running.diagnosis import (
    FEATURES,
    Diagnosis,
    Explained,
    Move,
    Verdict,
    base_rates,
    causes,
    cautions,
    diagnose,
    first_moves,
    material,
)
from cakewright.running.practice_plant import FAULTS
from cakewright.running.watching import Shape
from cakewright.sources import source

STILL = {feature: Move(0.0, 0.1) for feature in FEATURES}


def test_shares_add_up() -> None:
    """All causes, 'nothing moved' and 'none of these' share one whole."""
    told = diagnose({**STILL, "r_loss": Move(2.0, 0.2)})
    total = sum(one.share for one in told.causes) + told.nothing + told.other
    assert total == pytest.approx(1.0)


def test_nothing_moved_is_the_best_word_for_nothing() -> None:
    """Where nothing moved, no cause is believed over that."""
    told = diagnose(STILL)
    assert told.nothing > told.causes[0].share


def test_a_strange_pattern_is_none_of_these() -> None:
    """A pattern no cause foretells is not forced onto one."""
    wild = {f: Move(4.0 * (-1) ** i, 0.1) for i, f in enumerate(FEATURES)}
    told = diagnose(wild)
    assert told.other > 0.5


@pytest.mark.parametrize("key", list(causes()))
def test_every_cause_wins_on_its_own_pattern(key: str) -> None:
    """The pattern a cause foretells at a clear strength ranks that cause among the first three:
    two or three ways to spoil polymer look the same until somebody goes and looks."""
    cause = causes()[key]
    moves = {f: Move(1.4 * cause.sign.get(f, 0.0), 0.1) for f in FEATURES}
    shape = max(cause.shapes, key=lambda one: cause.shapes[one])
    ranked = [one.cause.key for one in diagnose(moves, shape).causes]
    assert key in ranked[:3]


def test_evidence_for_and_against() -> None:
    """Poor mixing with the mixer at speed shows the mixer as evidence against."""
    moves = {**STILL, "r_loss": Move(2.0, 0.2), "r_cake_solids": Move(-1.0, 0.2)}
    mixing = next(d for d in diagnose(moves).causes if d.cause.key == "poor_mixing")
    assert "mixer_speed" in [e.feature for e in mixing.pick(Verdict.AGAINST)]
    assert "r_loss" in [e.feature for e in mixing.pick(Verdict.FOR)]


def test_what_was_not_read_is_said_and_counts_neither_way() -> None:
    """Without a strength reading thin make-up stays possible and the gap is named; with one that
    did not move it falls behind."""
    moves = {**STILL, "r_loss": Move(1.6, 0.2), "r_cake_solids": Move(-1.5, 0.2),
             "r_torque": Move(-1.3, 0.2), "r_power": Move(-1.0, 0.2)}  # fmt: skip
    read = diagnose(moves)
    bare = diagnose({f: m for f, m in moves.items() if f != "polymer_strength"})
    thin = next(d for d in bare.causes if d.cause.key == "makeup_thin")
    assert thin in bare.in_play
    assert [e.feature for e in thin.pick(Verdict.NOT_READ)] == ["polymer_strength"]
    share = next(d.share for d in read.causes if d.cause.key == "makeup_thin")
    assert share < 0.3 * thin.share


def test_course_tells_a_surge_from_a_lasting_change() -> None:
    """The same moves are more like oil when they came and went."""
    size = {"r_cake_solids": -1.2, "r_loss": 1.2, "r_torque": -1.2, "r_floc_level": 1.0}
    moves = {**STILL, **{feature: Move(x, 0.2) for feature, x in size.items()}}

    def oil(shape: Shape) -> float:
        return next(d.share for d in diagnose(moves, shape).causes if d.cause.key == "oil_surge")

    assert oil(Shape.PULSE) > oil(Shape.DRIFT)


def test_uncertain_moves_convince_less() -> None:
    """The same move with a wide error leaves more room for other causes."""
    sure = diagnose({**STILL, "screw_speed": Move(2.0, 0.1)})
    vague = diagnose({**STILL, "screw_speed": Move(2.0, 3.0)})
    assert sure.causes[0].cause.key == "screw_too_fast"
    assert vague.causes[0].share < sure.causes[0].share


def test_table_is_complete() -> None:
    """Every cause has words, known features, cautions and sources; every feature its size."""
    assert set(material()) == set(FEATURES)
    for cause in causes().values():
        assert cause.check
        assert cause.first_move
        assert set(cause.sign) | cause.open <= set(FEATURES)
        assert set(cause.cautions) <= set(cautions())
        assert cause.cautions
        for key in cause.source.split():
            source(key)
    for caution in cautions().values():
        for key in caution.source.split():
            source(key)


def test_every_hidden_fault_is_a_cause() -> None:
    """The invented plant hides nothing the table does not know."""
    assert set(FAULTS) <= set(causes())


def test_a_first_move_harms_under_no_cause_in_play() -> None:
    """Whatever pair of causes is in play, the move advised is unsafe under neither of them."""
    moves = first_moves()
    by_text = {move.text: move for move in moves.values()}
    pairs = [("sensor_floc_level_high", "gaps_blinded"), ("over_dose", "polymer_aged"),
             ("spring_slack", "septic"), ("screw_too_fast", "wash_fault")]  # fmt: skip
    for pair in pairs:
        told = Explained(tuple(Diagnosis(causes()[key], 0.5, (), ()) for key in pair), 0.0, 0.0)
        assert not by_text[told.first_move].unsafe & set(pair)
    for cause in causes().values():
        assert cause.key not in moves[cause.move].unsafe


def test_blinded_gaps_are_never_answered_by_trust_in_the_meter() -> None:
    """A level that rises alone may be the meter or the gaps: look into the tank, slow the feed."""
    told = diagnose({**STILL, "r_floc_level": Move(2.5, 0.1)}, Shape.DRIFT)
    assert {d.cause.key for d in told.in_play} >= {"sensor_floc_level_high", "gaps_blinded"}
    assert "tank" in told.first_move
    assert "ow the feed" in told.first_move
    assert "reconciled" not in told.first_move
    test = told.test
    assert test is not None
    assert test.key in ("dip_level", "see_rings")


def test_an_answer_ranks_the_causes_anew() -> None:
    """What the cheapest test says moves the causes it tells apart, and costs little to get."""
    moves = {**STILL, "r_floc_level": Move(2.5, 0.1)}
    before = diagnose(moves, Shape.DRIFT)
    assert before.test is not None
    outcome = {"dip_level": 1, "see_rings": 0}[before.test.key]
    after = diagnose(moves, Shape.DRIFT, answers={before.test.key: outcome})
    wanted = {"dip_level": "sensor_floc_level_high", "see_rings": "gaps_blinded"}[before.test.key]

    def share(told: Explained) -> float:
        return next(d.share for d in told.causes if d.cause.key == wanted)

    assert share(after) > max(share(before), 0.6)


def test_base_rates_follow_the_sludge_and_the_site() -> None:
    """A froth is oily more often than a municipal sludge, and a site may know better still."""
    size = {"r_cake_solids": -1.0, "r_torque": -1.8, "r_power": -1.1, "r_floc_level": 1.6}
    moves = {**STILL, **{feature: Move(x, 0.2) for feature, x in size.items()}}

    def oil(rates: Mapping[str, float]) -> float:
        told = diagnose(moves, Shape.PULSE, rates=rates)
        return next(d.share for d in told.causes if d.cause.key == "oil_surge")

    froth = base_rates("flotation_froth")
    assert oil(base_rates()) < oil(froth)
    assert oil(base_rates("flotation_froth", {"oil_surge": 0.01})) < oil(base_rates())
    known = {cause.removesuffix("_high").removesuffix("_low") for cause in causes()}
    assert known | {"nothing", "other"} == set(base_rates())


def test_extreme_moves_stay_finite() -> None:
    """Absurd sizes give finite shares."""
    told = diagnose({f: Move(1e9, 0.0) for f in FEATURES})
    assert np.isfinite([one.share for one in told.causes]).all()
