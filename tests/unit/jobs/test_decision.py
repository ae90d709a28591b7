"""Uncertainty, sensitivity and the worth of knowing, each against a second way of finding it."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from scipy.stats import spearmanr

from cakewright.economics import overload_share
from cakewright.errors import StudyError
from cakewright.jobs.decision import DecisionFindings, _turning
from cakewright.jobs.draws import study_draws
from cakewright.jobs.evaluate import evaluate
from cakewright.jobs.findings import Findings
from cakewright.jobs.sensitivity import Moves
from cakewright.jobs.worth import DecisionValue, value_of_decision
from cakewright.storage.studies import demo_text
from cakewright.study import parse_study

SOY = demo_text("soy")


@cache
def findings(more: str = "", samples: int = 256, text: str = SOY) -> Findings:
    """Soy with tables added."""
    return evaluate(
        parse_study(f"{text}\n[sampling]\nsamples = {samples}\n{more}"), with_press=False
    )


def decided(found: Findings) -> DecisionFindings:
    """What was decided."""
    assert found.decide is not None
    return found.decide


PAIRS = '[correlation]\npairs = "sludge.0.flow ~ sludge.0.total_solids = {}"\n'


def test_design_is_the_one_the_study_names() -> None:
    """Latin hypercube unless Sobol is asked for; the notes name it with the seed."""
    for more, words in (("", "Latin hypercube"), ('design = "sobol"', "scrambled Sobol")):
        found = evaluate(
            parse_study(f"{SOY}\n[sampling]\nsamples = 64\nseed = 7\n{more}\n"),
            with_press=False,
            with_decision=False,
        )
        assert any(words in note and "seed 7" in note for note in found.notes)


@pytest.mark.parametrize("wanted", [-0.7, 0.5])
def test_correlated_inputs_have_the_rank_correlation_written(wanted: float) -> None:
    """What the study says of two inputs is what their samples show."""
    study = parse_study(SOY + "\n[sampling]\nsamples = 2048\n" + PAIRS.format(wanted))
    draws = study_draws(study, (), ())
    got = spearmanr(draws["sludge.0.flow"][1:], draws["sludge.0.total_solids"][1:]).statistic
    assert got == pytest.approx(wanted, abs=0.03)
    free = study_draws(parse_study(SOY + "\n[sampling]\nsamples = 2048\n"), (), ())
    none = spearmanr(free["sludge.0.flow"][1:], free["sludge.0.total_solids"][1:]).statistic
    assert none == pytest.approx(0.0, abs=0.03)


def test_correlation_narrows_what_it_should() -> None:
    """Thin when there is much of it: the dry load, and with it the hours, spread less."""
    wide, narrow = (findings(more).decision.headline[3].band for more in ("", PAIRS.format(-0.8)))
    assert (narrow.p90 - narrow.p10) < 0.85 * (wide.p90 - wide.p10)


@pytest.mark.parametrize(
    ("pairs", "text"),
    [
        (
            "sludge.0.flow ~ sludge.0.ash = 0.9; sludge.0.ash ~ sludge.0.oil = 0.9; "
            "sludge.0.flow ~ sludge.0.oil = -0.9",
            "not positive definite",
        ),
        ("sludge.0.flow ~ duty.x = 0.2", "is no value of this study"),
        ("sludge.0.flow ~ duty.hours_per_day = 0.2", "has no spread"),
        ("sludge.0.flow ~ sludge.0.ash = 1.5", "strictly between -1 and 1"),
        ("sludge.0.flow = 0.5", "place ~ place = number"),
    ],
)
def test_impossible_correlations_are_faults(pairs: str, text: str) -> None:
    """Every way a correlation can be wrong is named at its line, before anything is drawn."""
    with pytest.raises(StudyError, match=text) as caught:
        parse_study(f'{SOY}\n[correlation]\npairs = "{pairs}"\n')
    assert caught.value.faults[0].where == "correlation.pairs"
    assert caught.value.faults[0].line


def test_tornado_ends_are_what_the_whole_chain_gives_there() -> None:
    """The disposal price at its high end, evaluated as a study of its own, gives that cost.

    The line keeps its sizes along the chain: bars start at the headline itself.
    """
    found = findings()
    tornado = next(t for t in decided(found).tornado if t.output == "cost_specific")
    assert tornado.point == pytest.approx(found.decision.headline[-1].point, rel=1e-9)
    bars = tornado.bars
    bar = next(b for b in bars if b.place == "prices.disposal")
    price = f'"{1000 * bar.high:.12f} EUR/t ± 12 EUR/t"'
    text = SOY.replace('"58 EUR/t ± 12 EUR/t"', price)
    assert text != SOY
    again = findings(text=text)
    assert again.decision.headline[-1].point == pytest.approx(bar.at_high, rel=1e-9)
    assert [b.at_high > b.at_low for b in bars if b.place == "prices.disposal"] == [True]


def test_total_shares_are_no_smaller_than_first_shares() -> None:
    """What an input acts through includes what it does alone, within the errors stated."""
    shares = decided(findings()).shares
    assert shares is not None
    pairs = zip(shares.first, shares.first_error, shares.total, shares.total_error, strict=False)
    for first, first_error, total, total_error in pairs:
        assert total > first - 3.0 * np.hypot(first_error, total_error)
    assert decided(findings(PAIRS.format(0.3))).shares is None


def test_error_left_in_the_percentiles_shrinks_with_samples() -> None:
    """Sixteen times the samples leave at most half the error, on the mean of three points."""
    few, many = (decided(findings(samples=n)).convergence["cost_specific"] for n in (64, 1024))
    assert many.standard_errors.mean() < 0.5 * few.standard_errors.mean()
    assert "± two standard errors from 8 blocks" in many.statement.replace("(", "")


def value(spread: float, samples: int = 2048) -> DecisionValue:
    """Two options whose difference is the common score of one figure, times ``spread``."""
    study = parse_study(f"{SOY}\n[sampling]\nsamples = {samples}\n")
    draws = study_draws(study, ("belt_press", "decanter"), ("cake_solids", "capture"))
    gain = spread * draws["~cake_solids"][1:]
    benefit = np.column_stack([gain, np.zeros_like(gain)])
    places = ["~cake_solids", "~capture", "prices.power"]
    found = value_of_decision(
        study, draws, ["belt_press", "decanter"], benefit, places, {"cake_solids": 0.2}
    )
    assert found is not None
    return found


def test_worth_of_knowing_one_normal_difference() -> None:
    """A gain of N(0, s): knowing all, or the one input that matters, is worth s/sqrt(2 pi)."""
    found = value(1000.0)
    exact = 1000.0 / np.sqrt(2.0 * np.pi)
    assert found.everything.value == pytest.approx(exact, rel=0.01)
    by_place = {item.place: item for item in found.knowing}
    assert by_place["~cake_solids"].perfect.value == pytest.approx(exact, rel=0.01)
    for place in ("~capture", "prices.power"):
        assert by_place[place].perfect.value <= found.noise
    assert found.noise < 0.15 * exact


def test_worth_of_a_test_follows_its_error() -> None:
    """Normal-normal: the share of the perfect worth is 1/sqrt(1 + u2), u in scores."""
    item = next(i for i in value(1000.0).knowing if i.place == "~cake_solids")
    scale = np.sqrt(0.6) * 0.2
    for count, worth in item.by_replicates:
        u = np.hypot(0.06, 0.05 / np.sqrt(count)) / scale
        assert worth == pytest.approx(1000.0 / np.sqrt(2 * np.pi) / np.hypot(1.0, u), rel=0.04)
    worths = [worth for _, worth in item.by_replicates]
    assert worths == sorted(worths)
    assert worths[-1] < item.perfect.value
    assert dict(item.by_replicates)[item.replicates] >= 0.9 * worths[-1]


def test_questions_with_worth_come_first() -> None:
    """Ranked by money where the choice is open; nothing is worth more than everything."""
    found = findings('[machines]\nkinds = ["belt_press", "screen_drum_screw_press"]\n')
    worths = [q.worth.point for q in found.questions if q.worth is not None]
    assert len(worths) >= 2
    assert worths == sorted(worths, reverse=True)
    everything = decided(found).value
    assert everything is not None
    assert worths[0] <= everything.everything.value
    assert [q.rank for q in found.questions] == list(range(1, len(found.questions) + 1))


def test_knowing_is_worth_nothing_where_the_choice_is_clear() -> None:
    """With one kind to choose there is nothing to learn for the choice."""
    found = findings('[machines]\nkinds = ["decanter"]\n')
    worth = decided(found).value
    assert worth is not None
    assert worth.everything.value == 0.0
    assert all(q.worth is None for q in found.questions)


def test_overload_share_against_counted_weeks() -> None:
    """Lognormal weeks with the largest of 52 at the peak factor, counted one by one."""
    z = 2.0699018
    sigma = z - np.sqrt(z * z - 2.0 * np.log(1.4))
    scores = np.random.default_rng(5).standard_normal(2_000_000)
    weeks = 0.85 * np.exp(sigma * scores - sigma * sigma / 2.0)
    counted = np.maximum(weeks - 1.0, 0.0).mean() / 0.85
    assert float(overload_share(0.85, 1.4)) == pytest.approx(counted, rel=0.01)


def test_smaller_frames_leave_more_over_and_cost_less_to_own() -> None:
    """The trade-off between sizes runs the right way, and the recommended size is among them."""
    sizes = decided(findings()).sizes.sizes
    left = [float(size.overload.mean()) for size in sizes]
    assert left == sorted(left, reverse=True)
    assert [size.chosen for size in sizes].count(True) == 1
    assert sum(size.chance_best for size in sizes) == pytest.approx(1.0)


def test_point_case_alone_gives_no_bands_but_all_else() -> None:
    """Without samples: no worth, no tornado, no errors; money and promises stand."""
    found = decided(findings(samples=0))
    assert found.value is None
    assert found.tornado == ()
    assert found.shares is None
    assert found.convergence == {}
    assert found.questions == ()
    assert found.money.options
    assert any("No samples" in note for note in found.guarantee.notes)


def test_what_moves_all_kinds_alike_cannot_turn_the_choice() -> None:
    """Of three places only the one that moves one kind's cost against the other's is left."""
    places = ("both", "one", "trace")
    ends = dict.fromkeys(places, 0.0)
    first = np.array([1.0, 0.8, 1.2, 1.0, 1.0, 1.0, 1.0])
    second = np.array([1.5, 1.3, 1.7, 1.3, 1.5, 1.5, 1.5005])
    every = [Moves(places, ends, ends, {"cost_specific": cost}) for cost in (first, second)]
    assert _turning(every) == frozenset({"one"})
    assert every[0].moving("cost_specific") == {"both"}
    assert _turning([]) is None


def test_what_cannot_move_a_figure_gets_no_share_of_it() -> None:
    """No price, rise or upkeep is said to widen the cake; asked for are things that can."""
    for question in findings().questions:
        if question.effect_on == "cake_solids" and question.share > 0:
            assert not question.where.startswith(("prices.", "outlet.", "carbon.")), question
