"""Pilot runs worth making before any was made: ranked, and what a promise gains."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import norm

from cakewright.jobs.findings import Findings
from cakewright.jobs.pilot_worth import PilotWorth
from cakewright.machines import shipped_catalogue
from cakewright.machines.frames import frame_named
from cakewright.reports.guarantee_documents import promises_text
from cakewright.reports.guarantee_json import promises_json
from cakewright.storage.deciding import decided_file, pilot_worth_file

PILOT = Path(__file__).parents[3] / "examples" / "pilot" / "study.toml"


@pytest.fixture(scope="module")
def found() -> Findings:
    """The pilot study, few samples."""
    return decided_file(PILOT, samples=256)


@pytest.fixture(scope="module")
def worth(found: Findings) -> PilotWorth:
    """Its pilot runs, from the prior of machine and law."""
    ranked = pilot_worth_file(PILOT, "", found)
    assert ranked is not None
    return ranked


def test_runs_are_ranked_and_each_narrows(worth: PilotWorth) -> None:
    """Least spread left first; a run takes some spread and never all."""
    left = [trial.spread_after for trial in worth.trials]
    assert left == sorted(left)
    assert all(0.0 < trial.narrowing < 1.0 for trial in worth.trials)


def test_no_gain_beyond_what_a_promise_without_any_spread_would_gain(
    found: Findings, worth: PilotWorth
) -> None:
    """Bound by hand: distance at the promise's whole spread less that at the test's error alone.

    The distance is that of the promise's own chance, which lies above one less the supplier's risk
    because that risk is of all promises together.
    """
    assert found.decide is not None
    guarantee = found.decide.guarantee
    cake = next(item for item in guarantee.promises if item.name == "cake_solids")
    band, error = cake.expected.band, cake.measurement.deviation
    own = (band.p90 - band.p10) / (norm.ppf(0.9) - norm.ppf(0.1))
    assert cake.recommended.passed >= 1.0 - guarantee.supplier_risk
    most = norm.ppf(cake.recommended.passed) * (np.hypot(own, error) - error)
    assert all(0.0 < gain < most for gain in worth.gains)


def test_they_are_told_and_kept_as_data(found: Findings, worth: PilotWorth) -> None:
    """Terminal and JSON show them; without them the section is gone."""
    assert "Pilot runs worth making" in promises_text(found, worth=worth)
    assert "Pilot runs" not in promises_text(found)
    assert len(json.loads(promises_json(found, worth))["pilot_runs"]) == len(worth.trials)


def test_without_a_tested_law_no_gain_is_told() -> None:
    """A promise from published bands: ranked, but no points are said to be gained."""
    found = decided_file(None, "soy", samples=256)
    worth = pilot_worth_file(None, "soy", found)
    assert worth is not None
    assert worth.trials
    assert worth.gains == ()
    frame = frame_named(found.decision.frame, shipped_catalogue())
    assert worth.target.dry_solids_flow == pytest.approx(0.7 * frame.solids_limit)
    assert worth.target.speed == pytest.approx(3.0 / 60.0)  # the middle of 1 to 5 turns a minute
    assert f"frame {frame.name} at 70 % of its rated load" in worth.target.words


def test_a_study_with_parameters_from_runs_shows_none(
    monkeypatch: pytest.MonkeyPatch, found: Findings
) -> None:
    """Its calibration ranks the next run."""
    monkeypatch.setattr("cakewright.storage.deciding.fitted_of", lambda *_: object())
    assert pilot_worth_file(PILOT, "", found) is None
