"""Findings as JSON."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace

import numpy as np
import pytest
from tests.unit.reports.findings_sample import sample_findings

from cakewright.errors import OutputError
from cakewright.quantities import Basis, Figure, house_name, to_si
from cakewright.reports.findings_json import SCHEMA_VERSION, findings_json, unit_slug


def test_round_trip_gives_the_same_numbers() -> None:
    """Read back and turned into SI again, every headline figure and input is what it was."""
    found = sample_findings()
    data = json.loads(findings_json(found))
    for figure, read in zip(found.decision.headline, data["decision"]["headline"], strict=True):
        entry = house_name(figure.name)
        key = f"point_{unit_slug(entry.shown)}".rstrip("_")
        assert to_si(read[key], entry.shown, entry.unit) == pytest.approx(figure.point, rel=1e-12)
        key = f"p90_{unit_slug(entry.shown)}".rstrip("_")
        assert to_si(read[key], entry.shown, entry.unit) == pytest.approx(
            figure.band.p90, rel=1e-12
        )
    for given, read in zip(found.givens, data["givens"], strict=True):
        entry = house_name(given.name)
        value = read[f"value_{unit_slug(entry.shown)}"]
        assert to_si(value, entry.shown, entry.unit) == pytest.approx(given.value, rel=1e-12)


def test_units_are_in_the_keys() -> None:
    """A script can see the unit of a number from its key."""
    data = json.loads(findings_json(sample_findings()))
    assert data["decision"]["headline"][0]["point_percent"] == pytest.approx(18.2)
    assert data["decision"]["headline"][2]["point_kg_t"] == pytest.approx(8.5)
    assert data["options"][0]["reasons"][0]["value_percent"] == pytest.approx(1.25)
    assert data["lines"][0]["result_kg_h"] == pytest.approx(25.0)
    assert data["schema_version"] == SCHEMA_VERSION


def test_text_is_stable() -> None:
    """The same findings give the same text, and reading and writing it changes nothing."""
    text = findings_json(sample_findings())
    assert text == findings_json(sample_findings())
    assert json.dumps(json.loads(text), ensure_ascii=False, indent=1) + "\n" == text


def test_nan_is_refused_with_its_place() -> None:
    """A number that is none is an error that names where it sits, never a null."""
    found = sample_findings()
    bad = Figure("cake_solids", np.array([np.nan]), Basis.ASSUMED)
    headline = (bad, *found.decision.headline[1:])
    with pytest.raises(OutputError, match=r"headline\[0\]\.point: got nan; only finite"):
        findings_json(replace(found, decision=replace(found.decision, headline=headline)))


def test_a_figure_without_answer_has_no_numbers() -> None:
    """An empty figure keeps its note and carries no point."""
    found = sample_findings()
    empty = Figure("cake_solids", np.array([]), Basis.ASSUMED, note="no band here")
    headline = (empty, *found.decision.headline[1:])
    text = findings_json(replace(found, decision=replace(found.decision, headline=headline)))
    first = json.loads(text)["decision"]["headline"][0]
    assert first["note"] == "no band here"
    assert not any(key.startswith("point") for key in first)


def test_marks_survive() -> None:
    """Basis and mark of every input are in the data."""
    data = json.loads(findings_json(sample_findings()))
    assert {given["mark"] for given in data["givens"]} >= {"judgement", "from memory"}


@dataclass(frozen=True)
class _Course:
    """A part a later room might add: samples, a course in time, a map with gaps, words."""

    samples: np.ndarray
    course: np.ndarray
    chart: np.ndarray
    words: np.ndarray


def test_open_ended_parts_stay_small_and_plain() -> None:
    """Samples become a band, a long course is thinned, a gap in a map is null, words stay."""
    course = _Course(
        np.arange(201.0), np.arange(1000.0), np.array([[1.0, np.nan]]), np.array(["a", "b"])
    )
    found = replace(sample_findings(), extras={"course": course})  # type: ignore[dict-item]
    data = json.loads(findings_json(found))["extras"]["course"]
    assert data["samples"]["point"] == 0.0
    assert data["samples"]["p50"] == pytest.approx(100.5)
    assert data["course"]["every"] == 3
    assert data["course"]["values"][:2] == [0.0, 3.0]
    assert data["chart"] == [[1.0, None]]
    assert data["words"] == ["a", "b"]


def test_a_set_is_written_in_one_order() -> None:
    """Whatever order a process has for a set of texts, the file has one."""
    names = frozenset(f"part {at}" for at in range(40))
    found = replace(sample_findings(), extras={"present": names})  # type: ignore[dict-item]
    assert json.loads(findings_json(found))["extras"]["present"] == sorted(names)
