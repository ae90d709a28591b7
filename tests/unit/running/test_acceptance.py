"""The acceptance test: validity, correction, budget, verdict."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from cakewright.errors import DataError
from cakewright.quantities import FloatArray
from cakewright.running.acceptance import (
    AgreedError,
    Guarantee,
    Outcome,
    Protocol,
    TestRun,
    judge_acceptance,
)
from cakewright.statistics.pass_rule import RuleKind

TRUE = {
    "feed_flow": 10 / 3600, "feed_solids": 0.02, "polymer_flow": 0.8 / 3600,
    "polymer_strength": 0.002, "wash_flow": 0.7 / 3600, "cake_solids": 0.2,
    "filtrate_flow": 10.54240 / 3600, "cake_flow": 957.6 / 3600, "filtrate_solids": 0.95614,
    "drive_power": 1500.0,
}  # fmt: skip
PROTOCOL = Protocol((Guarantee("cake_solids", 0.18), Guarantee("polymer_dose", 0.010)))


Number = float | FloatArray


def _run(
    name: str, cake: float = 0.2, hours: float = 5.0, samples: int = 6, **more: Number
) -> TestRun:
    """A run that closes, unless ``more`` says otherwise."""
    time = np.linspace(0, hours * 3600, samples)
    flow = TRUE["cake_flow"] * 0.2 / cake
    values: dict[str, Number] = {**TRUE, "cake_solids": cake, "cake_flow": flow, **more}
    if "filtrate_flow" not in more:
        values["filtrate_flow"] = (11.5 - float(np.mean(values["cake_flow"])) * 3.6) / 3600
    spread = {k: np.broadcast_to(np.asarray(v, float), time.shape) for k, v in values.items()}
    return TestRun(name, time, spread)


def _runs(*cakes: float) -> list[TestRun]:
    return [_run(str(i + 1), cake) for i, cake in enumerate(cakes)]


def test_a_clear_pass() -> None:
    """Far better than guaranteed, three valid runs: passed, with a small risk."""
    result = judge_acceptance(PROTOCOL, _runs(0.20, 0.201, 0.202))
    cake = result.judged[0]
    assert result.outcome is Outcome.PASS
    assert cake.outcome is Outcome.PASS
    assert cake.risk_if_passed < 0.05
    assert cake.value == pytest.approx(0.201, rel=0.01)


def test_a_clear_fail() -> None:
    """Far below the guarantee: failed, and one failed guarantee fails the test."""
    result = judge_acceptance(
        replace(PROTOCOL, guarantees=(Guarantee("cake_solids", 0.24), *PROTOCOL.guarantees[1:])),
        _runs(0.20, 0.201, 0.202),
    )
    assert result.judged[0].outcome is Outcome.FAIL
    assert result.outcome is Outcome.FAIL


def test_too_close_to_call() -> None:
    """A guarantee within the uncertainty is undecided, with both risks stated."""
    protocol = replace(PROTOCOL, guarantees=(Guarantee("cake_solids", 0.2005),))
    result = judge_acceptance(protocol, _runs(0.199, 0.201, 0.203))
    one = result.judged[0]
    assert one.outcome is Outcome.UNDECIDED
    assert one.risk_if_passed + one.risk_if_failed == pytest.approx(1.0)
    assert result.outcome is Outcome.UNDECIDED


def test_repeats_do_not_average_the_instruments_away() -> None:
    """Thirty identical runs are no surer than the laboratory is."""
    few = judge_acceptance(PROTOCOL, _runs(*[0.2] * 3)).judged[0]
    many = judge_acceptance(PROTOCOL, _runs(*[0.2] * 30)).judged[0]
    assert many.deviation == pytest.approx(few.deviation, rel=0.01)
    assert many.deviation > 0.003


def test_budget_adds_up() -> None:
    """Shares of the variance add to one; each line has its standard uncertainty."""
    one = judge_acceptance(PROTOCOL, _runs(0.19, 0.20, 0.21)).judged[0]
    assert sum(part.share for part in one.budget) == pytest.approx(1.0)
    total = np.sqrt(sum(part.deviation**2 for part in one.budget))
    assert total == pytest.approx(one.deviation)


@pytest.mark.parametrize(
    ("run", "words"),
    [
        (_run("x", hours=1.0), "h long; the protocol asks 4 h"),
        (_run("x", samples=3), "3 samples; 4 are asked"),
        (_run("x", feed_solids=np.linspace(0.015, 0.025, 6)), "feed solids drifts"),
        (_run("x", cake_flow=TRUE["cake_flow"] * 0.7), "solids balance open"),
    ],
)
def test_runs_that_are_not_valid(run: TestRun, words: str) -> None:
    """A short, thinly sampled, drifting or unclosed run does not count, and says why."""
    result = judge_acceptance(PROTOCOL, [run, *_runs(0.2, 0.2, 0.2)])
    assert any(words in fault for fault in result.runs[0].faults)
    assert any("1 of 4 runs are not valid" in note for note in result.notes)
    assert not result.runs[1].faults


def test_feed_window() -> None:
    """A run on a feed outside the agreed window does not count."""
    protocol = replace(PROTOCOL, window={"feed_solids": (0.025, 0.03)})
    with pytest.raises(DataError, match="outside the agreed feed window"):
        judge_acceptance(protocol, _runs(0.2, 0.2, 0.2))


@pytest.mark.parametrize("promise", [0.15, 0.28])
def test_too_few_valid_runs_decide_nothing(promise: float) -> None:
    """Two runs of three asked leave the test open, however good or bad they are."""
    protocol = replace(PROTOCOL, guarantees=(Guarantee("cake_solids", promise),))
    result = judge_acceptance(protocol, _runs(0.2, 0.2))
    assert result.outcome is Outcome.UNDECIDED
    assert result.judged[0].outcome is Outcome.UNDECIDED
    assert result.judged[0].decided_by.startswith("1 more valid run:")


def test_as_read_is_what_the_paper_says() -> None:
    """The mean of the runs decides, to either side, whatever its uncertainty."""
    protocol = replace(PROTOCOL, rule=RuleKind.AS_READ)
    for promise, outcome in ((0.2005, Outcome.FAIL), (0.1995, Outcome.PASS)):
        one = replace(protocol, guarantees=(Guarantee("cake_solids", promise),))
        assert judge_acceptance(one, _runs(0.199, 0.2, 0.201)).outcome is outcome


def test_undecided_counts_only_what_runs_average_out() -> None:
    """Near the promise no number of runs helps; a little farther some do, a few hundred never."""
    errors = {"cake_solids": AgreedError(0.003, 0.006)}
    far = {}
    for promise in (0.199, 0.194):
        protocol = replace(PROTOCOL, guarantees=(Guarantee("cake_solids", promise),), errors=errors)
        far[promise] = judge_acceptance(protocol, _runs(0.19, 0.2, 0.21)).judged[0]
    assert far[0.199].further_runs is None
    assert "no number of runs" in far[0.199].decided_by
    assert 0 < (far[0.194].further_runs or 0) < 60


def test_agreed_errors_stand_before_those_of_the_instruments() -> None:
    """The common error of the file is the budget's, not one of the program's own."""
    errors = {"cake_solids": AgreedError(0.0123, 0.005)}
    one = judge_acceptance(replace(PROTOCOL, errors=errors), _runs(0.2, 0.2, 0.2)).judged[0]
    assert one.budget[1].deviation == pytest.approx(0.0123)


def test_sequential_stops_as_soon_as_it_may() -> None:
    """One clear run decides; one between the lines asks for more; the last decides anyway."""
    errors = {"cake_solids": AgreedError(0.0, 0.01, 0.01)}
    protocol = replace(
        PROTOCOL, guarantees=(Guarantee("cake_solids", 0.18),), errors=errors,
        rule=RuleKind.SEQUENTIAL, fewest_runs=1, most_runs=4, wrong_pass=0.1, wrong_fail=0.1,
    )  # fmt: skip
    assert judge_acceptance(protocol, _runs(0.22)).outcome is Outcome.PASS
    open_ = judge_acceptance(protocol, _runs(0.186))
    assert open_.outcome is Outcome.UNDECIDED
    assert open_.judged[0].further_runs == 3
    assert judge_acceptance(protocol, _runs(0.186, 0.184, 0.186, 0.186)).outcome is Outcome.PASS


def test_correction_to_the_agreed_feed() -> None:
    """A lighter load than agreed flatters the cake: the correction takes that off, with doubt."""
    load = 10 / 3600 * 1000 * 0.02
    plain = judge_acceptance(PROTOCOL, _runs(0.2, 0.2, 0.2)).judged[0]
    moved = judge_acceptance(
        replace(PROTOCOL, agreed={"solids_load": 1.5 * load}), _runs(0.2, 0.2, 0.2)
    ).judged[0]
    assert moved.value < plain.value
    assert moved.correction == pytest.approx(moved.value - plain.value)
    assert moved.deviation > plain.deviation


def test_guarantees_that_cannot_be_judged() -> None:
    """An unknown guarantee and an empty protocol are refused."""
    for guarantees in ((), (Guarantee("happiness", 1.0),)):
        with pytest.raises(DataError, match="guarantees"):
            judge_acceptance(replace(PROTOCOL, guarantees=guarantees), _runs(0.2))
