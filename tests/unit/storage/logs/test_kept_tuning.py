"""Tuning runs kept beside a study's logs: limits as typed, sheets, what was measured."""

from __future__ import annotations

from pathlib import Path

import pytest

from cakewright.errors import DataError, InputFileError
from cakewright.running.site import Site
from cakewright.storage.logs.kept_tuning import (
    KeptTuning,
    TriedSetting,
    TuningInput,
    least_kept,
    measured,
    sheet_rows,
    tuned_site,
)

SPEED = TriedSetting("screw_speed", True, "0.6 1/min", "3 1/min", "1.2 1/min")
SHEET = "run;screw_speed [1/min];cake_solids [%];kind\n1;1.2;;centre\n"


def test_typed_limits_become_the_sites() -> None:
    """Limits and today's setting are read with their units; a setting that is not tried has none,
    and what the site said of other settings stays."""
    other = TriedSetting("plate_pressure", False, "40 kPa", "90 kPa")
    site = tuned_site(Site("a", "A", today={"mixer_speed": 2.0}), TuningInput((SPEED, other)))
    assert set(site.limits) == {"screw_speed"}
    assert site.limits["screw_speed"] == pytest.approx((0.01, 0.05))
    assert site.today == {"mixer_speed": 2.0, "screw_speed": pytest.approx(0.02)}


@pytest.mark.parametrize(
    ("settings", "where", "got"),
    [
        ((), "settings", "none"),
        ((TriedSetting("screw_speed", True, "", "3 1/min"),), "limits.screw_speed", "''"),
        (
            (TriedSetting("screw_speed", True, "3 1/min", "1 1/min"),),
            "limits.screw_speed",
            "3 1/min to 1 1/min",
        ),
        ((TriedSetting("screw_speed", True, "1 kPa", "3 1/min"),), "limits.screw_speed", "'1 kPa'"),
        ((TriedSetting("<b>", True, "1", "2"),), "limits.<b>", "<b>"),
    ],
)
def test_faults_have_their_place(settings: tuple[TriedSetting, ...], where: str, got: str) -> None:
    """Nothing tried, an empty limit, limits that fall, a wrong unit, no such setting: each is said
    at its place with what was typed."""
    with pytest.raises(DataError) as caught:
        tuned_site(Site("a", "A"), TuningInput(settings))
    assert (where, got) in [(fault.where, fault.got) for fault in caught.value.faults]


def test_more_than_four_settings_are_too_many() -> None:
    """Five settings ticked: the plan would hold too many runs, and it is said."""
    keys = ("screw_speed", "plate_pressure", "mixer_speed", "polymer_dose", "screw_speed")
    five = tuple(TriedSetting(key, True, "1 1/min", "2 1/min") for key in keys)
    with pytest.raises(DataError, match="one to four settings"):
        tuned_site(Site("a", "A"), TuningInput(five))


def test_what_must_be_kept_has_units() -> None:
    """Least capture and load are read with their units, empty means none, and both faults are told
    at once."""
    assert least_kept(TuningInput(least_capture="92 %")) == pytest.approx((0.92, 0.0))
    assert least_kept(TuningInput(least_load="360 kg/h"))[1] == pytest.approx(0.1)
    with pytest.raises(DataError) as caught:
        least_kept(TuningInput(least_capture="most", least_load="3 kPa"))
    assert [fault.where for fault in caught.value.faults] == ["least_capture", "least_load"]


def test_sheets_are_kept_whole(tmp_path: Path) -> None:
    """A sheet pasted with tabs is kept; put away it makes room and stays; what was typed comes
    back as typed, and before that as the site says."""
    kept = KeptTuning(tmp_path / "logs")
    site = Site("a", "A", limits={"polymer_dose": (0.006, 0.014)})
    drafted = {one.key: one for one in kept.given(site).settings}
    assert drafted["polymer_dose"] == TriedSetting("polymer_dose", True, "6 kg/t", "14 kg/t")
    kept.keep_sheet(SHEET.replace(";", "\t"))
    assert sheet_rows(kept.sheet) == sheet_rows(SHEET)
    kept.keep_given(TuningInput((SPEED,), curved=False, least_capture="9 0 %"))
    assert kept.given(site) == TuningInput((SPEED,), curved=False, least_capture="9 0 %")
    kept.put_away()
    assert kept.sheet == ""
    assert sheet_rows(kept.old_path.read_text(encoding="utf-8")) == sheet_rows(SHEET)


@pytest.mark.parametrize("text", ["", "run;kind\n", "one\n1\n", "a;b\n" + "1;2\n" * 300])
def test_what_is_no_sheet_is_refused(tmp_path: Path, text: str) -> None:
    """Nothing, titles alone, one column, far too many rows: refused in words, nothing is kept."""
    kept = KeptTuning(tmp_path)
    with pytest.raises(InputFileError, match="runs"):
        kept.keep_sheet(text)
    assert kept.sheet == ""


def test_measurements_are_noticed() -> None:
    """Settings as planned are no measurement; one reading is."""
    assert not measured(SHEET, ["screw_speed"])
    assert measured(SHEET.replace("1.2;;", "1.2;18;"), ["screw_speed"])
