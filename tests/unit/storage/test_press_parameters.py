"""The file of machine parameters: a round trip, and every fault of a bad one."""

from __future__ import annotations

import numpy as np
import pytest

from cakewright.errors import DataError
from cakewright.jobs.fitted import FittedPress
from cakewright.machines import Kind
from cakewright.quantities import Mark
from cakewright.storage.press_parameters import parse_press_parameters, press_parameters_toml

FITTED = FittedPress(
    machine=Kind.MULTI_DISC_SCREW_PRESS,
    frame="disc 200 x 1",
    names=("grip", "side_ratio"),
    mean=np.array([0.4, 1.2]),
    covariance=np.array([[0.04, 0.01], [0.01, 0.09]]),
    runs=5,
    date="2026-05-04",
    sludge="made-up sludge",
    mark=Mark.INVENTED,
    notes=("a note",),
)


def test_round_trip() -> None:
    """What is written reads back the same."""
    again = parse_press_parameters(press_parameters_toml(FITTED))
    assert again.mean == pytest.approx(FITTED.mean)
    assert again.covariance == pytest.approx(FITTED.covariance)
    for name in ("machine", "frame", "names", "runs", "date", "sludge", "mark", "notes"):
        assert getattr(again, name) == getattr(FITTED, name)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("press parameters 2", "press parameters 9", "format"),
        ("multi_disc_screw_press", "wash_mangle", "machine"),
        ("[parameters.grip]", "[parameters.gripe]", "unknown parameter"),
        ('unit = "1"', 'unit = "kPa"', "give the value in SI"),
        ("[0.04, 0.01]", "[-9.0, 0.01]", "covariance"),
        ("[0.04, 0.01]", "[0.04]", "covariance"),
        ("value = 1.49", "value = -1.49", "above 0"),
    ],
)
def test_bad_files_are_told(old: str, new: str, words: str) -> None:
    """Wrong format, kind, name, unit, covariance or value: refused with the place."""
    text = press_parameters_toml(FITTED)
    assert old in text
    with pytest.raises(DataError, match=words):
        parse_press_parameters(text.replace(old, new, 1))


def test_text_that_is_no_toml() -> None:
    """A broken file is refused as such."""
    with pytest.raises(DataError, match="TOML"):
        parse_press_parameters("a = = b")
