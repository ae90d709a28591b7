"""Causes, evidence, and the knowledge behind them."""

from __future__ import annotations

import numpy as np
import pytest

from cakewright.running.diagnosis import (
    FEATURES,
    Move,
    Verdict,
    causes,
    cautions,
    diagnose,
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
    """The pattern a cause foretells at a clear strength ranks that cause first or second."""
    cause = causes()[key]
    moves = {f: Move(1.4 * cause.sign.get(f, 0.0), 0.1) for f in FEATURES}
    ranked = [one.cause.key for one in diagnose(moves, cause.shapes[0]).causes]
    assert key in ranked[:2]


def test_evidence_for_and_against() -> None:
    """Poor mixing with the mixer at speed shows the mixer as evidence against."""
    moves = {**STILL, "r_loss": Move(2.0, 0.2), "r_cake_solids": Move(-1.0, 0.2)}
    mixing = next(d for d in diagnose(moves).causes if d.cause.key == "poor_mixing")
    assert "mixer_speed" in [e.feature for e in mixing.pick(Verdict.AGAINST)]
    assert "r_loss" in [e.feature for e in mixing.pick(Verdict.FOR)]


def test_what_was_not_read_is_said_and_counts_neither_way() -> None:
    """Without a mixer reading, mixing and weak polymer are both possible; the gap is named."""
    moves = {f: m for f, m in STILL.items() if f != "mixer_speed"}
    moves |= {
        "r_loss": Move(2.0, 0.2),
        "r_cake_solids": Move(-1.0, 0.2),
        "r_floc_level": Move(1.0, 0.2),
    }
    told = diagnose(moves)
    ranked = [one.cause.key for one in told.causes[:2]]
    mixing = next(d for d in told.causes if d.cause.key == "poor_mixing")
    assert set(ranked) == {"polymer_weak", "poor_mixing"}
    assert [e.feature for e in mixing.pick(Verdict.NOT_READ)] == ["mixer_speed"]


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


def test_extreme_moves_stay_finite() -> None:
    """Absurd sizes give finite shares."""
    told = diagnose({f: Move(1e9, 0.0) for f in FEATURES})
    assert np.isfinite([one.share for one in told.causes]).all()
