"""Draws, cautions, calculation lines and weeks of the main job."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from cakewright.jobs.cautions import DEFERENCE, cautions_of
from cakewright.jobs.draws import COMMON_SHARE, study_draws
from cakewright.jobs.findings import Findings
from cakewright.quantities import house_name
from cakewright.sources import source
from cakewright.storage.studies import demo_text
from cakewright.study import parse_study

Demo = Callable[[str], Findings]


def test_point_case_is_the_typical_value_of_everything() -> None:
    """Sample 0 of each input is what the study wrote."""
    study = parse_study(demo_text("soy") + "\n[sampling]\nsamples = 64\n")
    draws = study_draws(study, ("belt_press",), ("cake_solids",))
    for place, given in study.values.items():
        assert draws[place][0] == given.value
    assert draws.machine_score("cake_solids", "belt_press")[0] == 0.0


def test_machines_share_the_stated_part_of_their_deviation() -> None:
    """Scores of two machines correlate by the common share and have unit variance."""
    study = parse_study(demo_text("valley") + "\n[sampling]\nsamples = 4096\n")
    draws = study_draws(study, ("a", "b"), ("cake_solids",))
    one, other = (draws.machine_score("cake_solids", m)[1:] for m in ("a", "b"))
    assert np.std(one) == pytest.approx(1.0, abs=0.03)
    assert np.corrcoef(one, other)[0, 1] == pytest.approx(COMMON_SHARE, abs=0.04)


def test_samples_stay_inside_what_the_key_allows() -> None:
    """No draw of a share leaves 0 to 1, however wide it was given."""
    text = demo_text("soy").replace("± 6 %", "± 21 points") + "\n[sampling]\nsamples = 512\n"
    draws = study_draws(parse_study(text), (), ())
    oil = draws["sludge.0.oil"]
    assert (oil >= 0.0).all()
    assert (oil <= 0.9).all()


def test_cautions_follow_the_line() -> None:
    """Deference first; unattended hours and the plates' shifting only where they belong."""
    study = parse_study(demo_text("valley"))
    places = [c.place for c in cautions_of(study, "multi_disc_screw_press")]
    assert cautions_of(study, "belt_press")[0].text == DEFERENCE
    assert "running with nobody there" in places
    assert "closing and shifting" not in places
    assert "closing and shifting" in [c.place for c in cautions_of(study, "chamber_press")]
    for caution in cautions_of(study, "decanter"):
        for key in caution.source.split():
            assert source(key)


@pytest.mark.parametrize("name", ["soy", "valley", "reservoir"])
def test_calculation_lines_are_whole(demo: Demo, name: str) -> None:
    """Unique keys, known names and sources, finite numbers, a chapter that exists."""
    findings = demo(name)
    keys = [line.key for line in findings.lines]
    assert len(keys) == len(set(keys))
    for line in findings.lines:
        assert house_name(line.name)
        assert np.isfinite(line.result), line.key
        assert line.chapter in findings.chapters
        # a result read off a model names it, where no formula over the terms gives it again
        assert line.formula or line.model, line.key
        for key in line.source.split():
            assert source(key)
        for term in line.terms:
            assert house_name(term.name)
            assert np.isfinite(term.value), (line.key, term.symbol)


def test_run_load_line_is_its_own_arithmetic(demo: Demo) -> None:
    """The numbers put in give the result shown: m_s / (t_d n_d / 7)."""
    line = next(li for li in demo("soy").lines if li.key == "load.run")
    mean, hours, days = (term.value for term in line.terms)
    assert line.result == pytest.approx(mean / (hours * days / 7))


@pytest.mark.parametrize("name", ["soy", "valley", "reservoir"])
def test_run_hours_line_is_its_own_arithmetic(demo: Demo, name: str) -> None:
    """Hours allowed times load with spare over what the running machines take."""
    line = next(li for li in demo(name).lines if li.key == "load.run_hours_per_day")
    hours, mean, spare, count, capacity = (term.value for term in line.terms)
    assert line.result == pytest.approx(hours * mean * (1 + spare) / (count * capacity))
