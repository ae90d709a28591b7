"""The report on a trial: readings with sense-making digits, data that parse, marks kept."""

from __future__ import annotations

import json
from functools import cache

import pytest
from tests.unit.jobs.press_cases import made_up, trial_of

from cakewright.jobs.calibrate import CalibrationFindings, calibrate
from cakewright.jobs.next_trial import Target
from cakewright.quantities import Mark
from cakewright.reports.calibration_report import (
    _plain,
    calibration_headline,
    calibration_outputs,
)


@cache
def found() -> CalibrationFindings:
    """Two made-up runs."""
    duty = Target(3 / 60, 4e4, 8 / 3600, 0.012, 0.011, 293.15, "the duty")
    runs = list(made_up({"grip": 0.4}, 6).runs[:2])
    return calibrate(
        trial_of(runs), "2026-05-04", target=duty, mark=Mark.INVENTED, with_check=False
    )


def test_outputs_hold_every_run_and_the_mark() -> None:
    """Page, PDF and data: each run is there, and that all is invented."""
    outputs = calibration_outputs(found())
    page = str(outputs["calibration.html"])
    for run in found().trial.runs:
        assert f"{run.name} measured" in page
    assert "invented" in page
    assert bytes(outputs["calibration.pdf"])[:5] == b"%PDF-"  # type: ignore[arg-type]
    data = json.loads(str(outputs["calibration.json"]))
    assert data["invented"] is True
    assert len(data["readings"]) == 4


def test_headline_names_the_next_run() -> None:
    """The terminal is told the narrowing, the next run and the mark."""
    text = calibration_headline(found())
    assert "narrows from" in text
    assert "Run next" in text
    assert text.endswith("The runs are invented.")


@pytest.mark.parametrize(
    ("value", "text"), [(1.234, "1.23"), (8.74e6, "8.74·10⁶"), (1.5e-11, "1.5·10⁻¹¹")]
)
def test_plain_numbers(value: float, text: str) -> None:
    """Large and small numbers read as powers of ten."""
    assert _plain(value) == text
