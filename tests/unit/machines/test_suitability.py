"""Suitability rules: common practice comes out, limits bite where they should."""

from __future__ import annotations

import pytest

from cakewright.machines import Answer, Duty, Kind, Verdict, machine, worst_answer
from cakewright.machines.suitability import rules
from cakewright.quantities import Mark
from cakewright.sludge import Composition, Feed, Sludge, blend

MD, SD, BELT, DECANTER = (
    "multi_disc_screw_press",
    "screen_drum_screw_press",
    "belt_press",
    "decanter",
)


def _feed(total_solids: float = 0.015, flow: float = 0.01, **changes: float) -> Feed:
    made = Composition(total_solids, **{"ash": 0.25, **changes})
    return blend([Sludge.of("one", "was", flow, made)])


def _answers(kind: str, feed: Feed, duty: Duty | None = None) -> dict[str, Verdict]:
    verdicts = machine(kind).verdicts(feed, duty or Duty())
    return {verdict.rule: verdict for verdict in verdicts}


@pytest.mark.parametrize(
    ("kind", "feed", "rule", "answer"),
    [
        (MD, _feed(0.010), "feed thin", "suits"),
        (MD, _feed(0.004), "feed thin", "with care"),
        (MD, _feed(0.003), "feed thin", "with care"),
        (MD, _feed(0.002), "feed thin", "does not suit"),
        (MD, _feed(0.019), "feed thick", "suits"),
        (MD, _feed(0.025), "feed thick", "with care"),
        (SD, _feed(0.015), "feed thin", "with care"),
        (SD, _feed(0.025), "feed thin", "suits"),
        (MD, _feed(ash=0.39), "inorganic share", "suits"),
        (MD, _feed(ash=0.45), "inorganic share", "with care"),
        (MD, _feed(ash=0.72), "inorganic share", "does not suit"),
        (SD, _feed(ash=0.59), "inorganic share", "suits"),
        (SD, _feed(ash=0.65), "inorganic share", "with care"),
        (MD, _feed(oil=0.25), "oil", "suits"),
        (BELT, _feed(oil=0.25), "oil", "with care"),
        (BELT, _feed(oil=0.30), "oil", "does not suit"),
        (DECANTER, _feed(oil=0.25), "oil", "with care"),
        (DECANTER, _feed(grit=0.06), "grit", "with care"),
        ("chamber_press", _feed(grit=0.20), "grit", "suits"),
        (MD, _feed(chloride=0.5), "chloride", "with care"),
        (MD, _feed(ph=12.8), "alkaline", "does not suit"),
        (DECANTER, _feed(flow=0.003), "small load", "with care"),
        (DECANTER, _feed(flow=0.02), "small load", "suits"),
    ],
)
def test_rule_answers(kind: str, feed: Feed, rule: str, answer: str) -> None:
    """Common practice and source rules answer as stated, on each side of their limits."""
    assert _answers(kind, feed)[rule].answer == answer


def test_unattended_nights_part_the_kinds() -> None:
    """Ten hours alone: slow enclosed presses suit, belt and decanter with care, plates too."""
    duty = Duty(hours_per_day=2 / 3, unattended_hours=9 / 24)
    answers = {k: _answers(k, _feed(), duty)["unattended hours"].answer for k in Kind}
    assert answers[Kind.MULTI_DISC_SCREW_PRESS] is Answer.SUITS
    assert answers[Kind.SCREEN_DRUM_SCREW_PRESS] is Answer.SUITS
    others = set(Kind) - {Kind.MULTI_DISC_SCREW_PRESS, Kind.SCREEN_DRUM_SCREW_PRESS}
    assert {answers[kind] for kind in others} == {Answer.WITH_CARE}


def test_noise_limit_bites_in_steps() -> None:
    """A decanter suits at 90 dB(A), needs care at 75 and does not suit at 60."""
    answers = [
        _answers(DECANTER, _feed(), Duty(noise_limit=limit))["noise"].answer
        for limit in (90.0, 75.0, 60.0)
    ]
    assert answers == [Answer.SUITS, Answer.WITH_CARE, Answer.DOES_NOT_SUIT]


def test_nothing_is_said_on_what_is_not_asked() -> None:
    """Without targets there are no target verdicts."""
    assert not {"cake wanted", "capture wanted", "noise"} & set(_answers(MD, _feed()))


def test_worst_rule_is_the_answer() -> None:
    """One refusal refuses the kind; no rule at all suits."""
    assert worst_answer(()) is Answer.SUITS
    assert worst_answer(tuple(_answers(MD, _feed(ash=0.72)).values())) is Answer.DOES_NOT_SUIT


def test_limits_of_our_own_are_marked() -> None:
    """A limit whose number no source gives carries a mark; care comes before refusal."""
    for rule in rules():
        for limit in (rule.care, rule.refuse):
            if limit is not None and "JUDGEMENT" in limit.source.split():
                assert limit.mark is Mark.JUDGEMENT
            if limit is not None and limit.source == "MEM":
                assert limit.mark is Mark.FROM_MEMORY
        if rule.care is not None and rule.refuse is not None:
            assert (rule.refuse.limit > rule.care.limit) is rule.above
