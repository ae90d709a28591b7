"""From a study to the test of its guarantee and the watch of its press."""

from __future__ import annotations

import pytest

from cakewright.jobs.acceptance import protocol_from
from cakewright.jobs.findings import Findings
from cakewright.jobs.watch import press_response
from cakewright.running.expectation import expected_response
from cakewright.storage.evaluation import evaluate_file


@pytest.fixture(scope="module")
def findings() -> Findings:
    """The soy demonstration, few samples."""
    return evaluate_file(None, "soy", lambda words: None, samples=32, seed=1, with_press=True)


def test_protocol_is_the_guarantees_own(findings: Findings) -> None:
    """Values, feed window, runs and risks are those of the guarantee, nothing added."""
    assert findings.decide is not None
    found = findings.decide.guarantee
    assert found is not None
    protocol = protocol_from(found)
    promised = {one.name: (one.asked or one.recommended).value for one in found.promises}
    assert {g.name: g.value for g in protocol.guarantees} == promised
    assert {g.name: g.side for g in protocol.guarantees} == {
        one.name: 1 if one.sense == "at least" else -1 for one in found.promises
    }
    assert protocol.window["feed_solids"][0] < protocol.agreed["feed_solids"]
    assert (protocol.fewest_runs, protocol.shortest) == (found.plan.runs, found.plan.run_time)
    assert protocol.wrong_pass == found.buyer_risk


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
