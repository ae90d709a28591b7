"""What a notebook user meets: studies, results, tables."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pandas as pd
import pyarrow as pa
import pytest

import cakewright as cw
from cakewright.errors import StudyError, UnknownNameError


@pytest.fixture(scope="module")
def result() -> cw.Result:
    """The soy demonstration on few samples."""
    return cw.demo_study("soy").evaluate(samples=32)


def test_import_loads_nothing_heavy() -> None:
    """`import cakewright` loads neither arrays nor the rooms below."""
    code = "import sys, cakewright; print(sorted({'numpy', 'jax', 'scipy'} & set(sys.modules)))"
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert found.stdout.strip() == "[]"


def test_every_public_name_is_there() -> None:
    """Each name of the public surface can be had and says what it is."""
    for name in cw.__all__:
        thing = getattr(cw, name)
        assert name == "__version__" or thing.__doc__


def test_unknown_name_is_refused() -> None:
    """A name that is not public is an AttributeError, as of any module."""
    with pytest.raises(AttributeError, match="no attribute 'evalute'"):
        cw.evalute  # noqa: B018


def test_result_prints_short(result: cw.Result) -> None:
    """A result in a cell is a page, not a million characters."""
    assert result.sentence in " ".join(repr(result).split())
    assert len(repr(result)) < 6000
    assert len(result._repr_html_()) < 6000


def test_band_is_in_its_unit(result: cw.Result) -> None:
    """A figure comes in the unit people read, with its band round its value."""
    cake = result["cake_solids"]
    assert cake.unit == "%"
    assert 5 < cake.low < cake.value < cake.high < 50
    assert cake.samples.shape == (33,)
    assert cake.samples[0] == pytest.approx(cake.value)


def test_input_changed_and_evaluated_again(result: cw.Result) -> None:
    """Twice the hours ask for about half the load: the run hours follow."""
    longer = cw.demo_study("soy").with_inputs({"duty.hours_per_day": "16 h/d"})
    assert "16" in longer.text
    other = longer.evaluate(samples=32)
    assert other["run_hours_per_day"].value != pytest.approx(result["run_hours_per_day"].value)


def test_wrong_input_is_told() -> None:
    """A place that does not exist names itself; a value out of range is a study's fault."""
    soy = cw.demo_study("soy")
    with pytest.raises(UnknownNameError, match="hours_per_dy"):
        soy.with_inputs({"duty.hours_per_dy": "8 h/d"})
    with pytest.raises(StudyError):
        soy.with_inputs({"duty.hours_per_day": "80 h/d"})


def test_tables_become_data_frames(result: cw.Result) -> None:
    """The interchange standard carries a table into other libraries."""
    frame = pa.table(result.headline).to_pandas()
    assert isinstance(frame, pd.DataFrame)
    assert list(frame.columns) == list(result.headline.columns)
    assert frame["value"][0] == pytest.approx(result["cake_solids"].value)


def test_options_name_all_kinds(result: cw.Result) -> None:
    """All kinds of machine are compared, each with its answer."""
    assert len(result.options) == 6
    assert set(result.options["answer"]) <= {"suits", "with care", "does not suit"}


def test_plot_has_an_axis_a_figure(result: cw.Result) -> None:
    """The headline plots itself."""
    assert len(result.plot().axes) == len(result.headline)


def test_other_units(result: cw.Result) -> None:
    """The same result in US units: doses in lb/ton are twice those in kg/t."""
    us = result.in_units("us")["polymer_dose"]
    assert us.unit == "lb/ton"
    assert us.value == pytest.approx(2.0 * result["polymer_dose"].value, rel=1e-3)


def test_documents_are_written(result: cw.Result, tmp_path: Path) -> None:
    """One call writes every document of the evaluation."""
    place = result.write(tmp_path / "out")
    assert {"report.html", "report.pdf", "workbook.xlsx"} <= {p.name for p in place.iterdir()}


def test_guarantee_outcome() -> None:
    """A job's outcome prints what its command prints."""
    found = cw.guarantee(samples=32)
    assert "passes" in found.text
    assert repr(found) == found.text
