"""The process that writes PDF and drawings beside the main one."""

from __future__ import annotations

import os

import pytest
from tests.unit.reports.findings_sample import sample_findings

from cakewright.cli.second_process import second_process
from cakewright.reports import Units
from cakewright.reports import outputs as documents
from cakewright.reports.outputs import rendered_outputs


@pytest.fixture(autouse=True)
def two_processors(monkeypatch: pytest.MonkeyPatch) -> None:
    """A machine with two processors, whatever this one has."""
    monkeypatch.setattr(os, "sched_getaffinity", lambda _: {0, 1}, raising=False)
    monkeypatch.delenv("CAKEWRIGHT_PROCESSES", raising=False)


def test_documents_do_not_depend_on_who_wrote_them() -> None:
    """One process or two: the same files, byte for byte."""
    findings = sample_findings()
    with second_process() as beside:
        assert beside is not None
        apart = rendered_outputs(findings, Units.US, beside.write)
    assert apart == rendered_outputs(findings, Units.US)


def test_a_fault_beside_is_raised_here() -> None:
    """What the other process cannot write is told as if this one had tried."""
    with second_process() as beside:
        assert beside is not None
        with pytest.raises(AttributeError, match="no attribute"):
            beside.write("no findings", Units.SI)  # type: ignore[arg-type]


def test_leaving_ends_the_other_process() -> None:
    """A faulty study is told at once: the second process is ended while it still loads."""
    with second_process() as beside:
        assert beside is not None
        process = beside._process
        assert process.is_alive()
    assert process.exitcode


def test_one_process_on_request(monkeypatch: pytest.MonkeyPatch) -> None:
    """CAKEWRIGHT_PROCESSES=1 keeps everything in one process."""
    monkeypatch.setenv("CAKEWRIGHT_PROCESSES", "1")
    with second_process() as beside:
        assert beside is None
    assert set(documents.rendered_outputs(sample_findings())) >= {"report.pdf", "report.html"}
