"""Where the frame the catalogue's rate picks has no cake by the tests, the next ones are tried."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from cakewright.jobs import prediction
from cakewright.jobs.evaluate import evaluate
from cakewright.jobs.findings import Findings, OptionFinding
from cakewright.machines import Plan
from cakewright.machines.prediction import KindFindings
from cakewright.machines.screw.prediction import PressFindings
from cakewright.quantities import Basis
from cakewright.sludge.law import SludgeLaw
from cakewright.sludge.law_prior import prior_of_class
from cakewright.study import parse_study

EXAMPLE = Path(__file__).parents[3] / "examples" / "reservoir.toml"
FIRST = "membranes 800 x 40"
KINDS = '\n[sampling]\nsamples = 64\n[machines]\nkinds = ["membrane_press", "chamber_press"]\n'


def law() -> SludgeLaw:
    """A sludge that drains badly for its class, as good tests would tell. Invented.

    So badly that two frames have no cake, and not so badly that the largest alone has one: then
    no other size would be left to offer.
    """
    prior = prior_of_class("ferric_wtp")
    harder = {"local_resistance": 2.0}
    parameters = tuple(
        replace(
            p, value=p.quantile(harder.get(p.name, 0.0)), sd=0.25 * p.sd, basis=Basis.BENCH,
            learnt=0.94,
        )
        for p in prior.parameters
    )  # fmt: skip
    return replace(
        prior,
        parameters=parameters,
        covariance=prior.covariance / 16.0,
        dose_low=0.001,
        dose_high=0.03,
    )


@cache
def found() -> Findings:
    """The water works on this sludge, plate presses alone."""
    text = EXAMPLE.read_text(encoding="utf-8") + KINDS
    return evaluate(parse_study(text), law=law(), with_decision=False)


def membranes(findings: Findings) -> OptionFinding:
    """The membrane press of a study."""
    return next(o for o in findings.options if o.machine == "membrane_press")


def test_the_next_frame_with_a_cake_is_chosen_and_the_first_says_why_not() -> None:
    """Cake and size belong to the new frame; what ruled the first out stands beside it."""
    option = membranes(found())
    best, *rest = option.frames
    assert best.chosen
    assert f"with a cake by the tests; not {FIRST}" in best.why
    out = next(frame for frame in rest if frame.frame == FIRST)
    assert not out.feasible
    assert not out.figures
    assert out.binding == "tests"
    assert "by the tests no cake at this load: cycle" in out.why
    assert sum(frame.chosen for frame in option.frames) == 1
    assert {f.frame for f in option.frames} == _all_frames()
    kind = next(k for k in found().kinds if k.machine == "membrane_press")
    assert kind.frame == best.frame
    assert kind.figures["cake_solids"].point == option.figures["cake_solids"].point
    assert np.array_equal(option.figures["footprint"].samples, best.figures["footprint"].samples)


def test_a_frame_ruled_out_is_not_offered_as_another_size() -> None:
    """How large: sizes of the kind without what the tests rule out, and nothing below it."""
    text = EXAMPLE.read_text(encoding="utf-8") + KINDS.replace(', "chamber_press"', "")
    decided = evaluate(parse_study(text), law=law()).decide
    assert decided is not None
    sizes = {(size.frame, size.machines) for size in decided.sizes.sizes}
    assert ("membranes 1200 x 70", 2) in sizes
    assert FIRST not in {frame for frame, _ in sizes}
    assert ("membranes 630 x 30", 2) not in sizes


def _all_frames() -> set[str]:
    text = EXAMPLE.read_text(encoding="utf-8") + KINDS
    bare = evaluate(parse_study(text), with_press=False, with_decision=False)
    return {frame.frame for frame in membranes(bare).frames}


def test_a_named_frame_is_not_changed() -> None:
    """Whoever names the frame gets that one, with the reason why it does not do."""
    text = EXAMPLE.read_text(encoding="utf-8") + KINDS + f'frame = "{FIRST}"\n'
    option = membranes(evaluate(parse_study(text), law=law(), with_decision=False))
    chosen = [frame.frame for frame in option.frames if frame.chosen]
    assert chosen == [FIRST]
    assert option.answer.value == "does not suit"
    assert any("has no cake at this load" in reason.text for reason in option.reasons)


def test_where_no_frame_has_a_cake_the_first_choice_stands(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Its cause is the one that is told, and no more frames are tried than said."""
    real, tried = prediction.answer_of, list[str]()

    def never(site: prediction.Site, plan: Plan) -> PressFindings | KindFindings:
        answer = real(site, plan)
        assert isinstance(answer, KindFindings)
        tried.append(plan.frame.name)
        return replace(answer, figures={}, words=f"{plan.frame.name} cannot; more area")

    monkeypatch.setattr(prediction, "answer_of", never)
    text = EXAMPLE.read_text(encoding="utf-8") + KINDS
    nearest = evaluate(parse_study(text), law=law(), with_decision=False)
    assert not nearest.decision.meets
    told = " ".join(r.text for r in membranes(nearest).reasons)
    assert "Membranes 800 x 40 cannot; more area" in told
    names = [name for name in dict.fromkeys(tried) if name.startswith("membranes")]
    assert 1 < len(names) <= 1 + prediction._MORE_FRAMES
