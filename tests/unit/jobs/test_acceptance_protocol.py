"""From a study to the test of its guarantee and the watch of its press."""

from __future__ import annotations

import pytest

from cakewright.jobs.acceptance import protocol_from
from cakewright.jobs.findings import Findings
from cakewright.jobs.watch import press_response
from cakewright.running.expectation import expected_response
from cakewright.storage.evaluation import evaluate_file
from cakewright.storage.logs.trial_files import parse_protocol, rule_file


@pytest.fixture(scope="module")
def findings() -> Findings:
    """The soy demonstration, few samples."""
    return evaluate_file(None, "soy", lambda words: None, samples=32, seed=1, with_press=True)


def test_protocol_is_the_guarantees_own(findings: Findings) -> None:
    """Values, rule, errors, feed window, runs and risks are the guarantee's, and its file's."""
    assert findings.decide is not None
    found = findings.decide.guarantee
    assert found is not None
    protocol = protocol_from(found)
    promised = {one.name: one.offered.value for one in found.promises}
    assert {g.name: g.value for g in protocol.guarantees} == promised
    assert {g.name: g.side for g in protocol.guarantees} == {
        one.name: 1 if one.sense == "at least" else -1 for one in found.promises
    }
    assert protocol.window["feed_solids"][0] < protocol.window["feed_solids"][1]
    assert protocol.agreed == {}
    assert protocol.pass_rule == found.rule
    assert (protocol.fewest_runs, protocol.shortest) == (found.plan.runs, found.plan.run_time)
    assert protocol.wrong_pass == found.buyer_risk
    again = parse_protocol(rule_file(findings))
    assert again.pass_rule == protocol.pass_rule
    for one in protocol.guarantees:
        assert next(g.value for g in again.guarantees if g.name == one.name) == pytest.approx(
            one.value, rel=1e-7
        )
        assert again.errors[one.name].common == pytest.approx(
            protocol.errors[one.name].common, rel=1e-7
        )


def test_press_model_gives_the_slopes(findings: Findings) -> None:
    """Signs of a multi-disc press's slopes come from the model, sharper than the table's."""
    assert findings.press is not None
    slopes = press_response(findings.press)
    table = expected_response()
    assert slopes.slope("cake_solids", "screw_speed").slope < 0
    assert slopes.slope("cake_solids", "plate_pressure").slope > 0
    assert slopes.slope("cake_solids", "screw_speed").source == "OWN"
    assert slopes.slope("torque", "screw_speed") == table.slope("torque", "screw_speed")
    model = slopes.slope("cake_solids", "screw_speed")
    assert model.spread < table.slope("cake_solids", "screw_speed").spread or abs(model.slope) > 0.2
