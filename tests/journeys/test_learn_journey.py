"""Learn -> file -> next study: trial runs of several sites change the bands of the next one."""

from __future__ import annotations

import re
import shutil
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result

from cakewright.cli.learn import command as learn
from cakewright.jobs.evaluate import evaluate
from cakewright.jobs.fitted import FittedPress
from cakewright.jobs.learn_press import class_spread
from cakewright.machines import Kind
from cakewright.machines.press_priors import parameter_priors
from cakewright.machines.screw.prediction import PressFindings
from cakewright.quantities import Mark
from cakewright.storage.evaluation import fitted_of, law_of, with_sampling
from cakewright.storage.press_parameters import press_parameters_toml
from cakewright.storage.studies import read_study

PILOT = Path(__file__).parents[2] / "examples" / "pilot"
NAMES = ("grip", "side_ratio", "conveying", "renewals", "remix", "fines_factor")


def _call(command: object, arguments: Sequence[object]) -> Result:
    return CliRunner().invoke(command, [str(a) for a in arguments], catch_exceptions=False)  # type: ignore[arg-type]


def _site(number: int, frame: str) -> FittedPress:
    """An invented site that narrowed its parameters to a third, near the middle of the class."""
    priors = parameter_priors(Kind.MULTI_DISC_SCREW_PRESS)
    mean, spread = np.array([class_spread(priors[name]) for name in NAMES]).T
    rng = np.random.default_rng(number)
    return FittedPress(
        Kind.MULTI_DISC_SCREW_PRESS, frame, NAMES,
        mean + 0.25 * spread * rng.standard_normal(spread.size), np.diag((0.33 * spread) ** 2),
        runs=6, date="2024-05-01", sludge=f"secret works {number}", mark=Mark.INVENTED,
    )  # fmt: skip


@pytest.fixture(scope="module")
def pooled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Four sites handed in and pooled through the commands."""
    folder = tmp_path_factory.mktemp("fleet")
    for number in range(4):
        path = folder / f"site-{number}.toml"
        path.write_text(press_parameters_toml(_site(number, "disc 200 x 1")), encoding="utf-8")
        _call(learn, ["contribute", "--press", path, "--out", folder])
    files = sorted(folder.glob("press-contribution-*.json"))
    assert len(files) == 4
    result = _call(learn, ["pool", *files, "--out", folder])
    assert result.exit_code == 0
    assert "4 sites of frame disc 200 x 1" in result.output
    return folder


FRAME = '[machines]\nkinds = ["multi_disc_screw_press"]\nframe = "disc 200 x 1"\n\n'


def _press(folder: Path, extra: str) -> PressFindings:
    """The pilot study's press, read and evaluated as `evaluate` does, without money."""
    path = folder / "study.toml"
    text = (PILOT / "study.toml").read_text(encoding="utf-8")
    text = re.sub(r"(?ms)^\[machines\].*?(?=^\[|\Z)", FRAME, text)
    path.write_text(text + extra, encoding="utf-8")
    shutil.copy(PILOT / "sludge-law.toml", folder)
    study = with_sampling(read_study(path), 64, None)
    law, fitted = law_of(study, folder), fitted_of(study, folder)
    press = evaluate(study, law=law, fitted=fitted, with_decision=False).press
    assert press is not None
    return press


def _cake_width(press: PressFindings) -> float:
    band = press.figures["cake_solids"].band
    return band.p90 - band.p10


def test_nothing_handed_on_names_a_site(pooled: Path) -> None:
    """Neither the contributions nor the pooled file hold sludge, date or law of a site."""
    files = [*pooled.glob("press-contribution-*.json"), pooled / "fleet-press.toml"]
    for path in files:
        text = path.read_text(encoding="utf-8")
        assert "secret" not in text
        assert "2024-05-01" not in text


def test_next_study_starts_from_the_fleet(pooled: Path, tmp_path: Path) -> None:
    """On the fleet's own frame its cake band is narrower, and it says what it rests on.

    On another frame the error of another size comes to it and takes up what the fleet taught.
    """
    before = _press(tmp_path, "")
    shutil.copy(pooled / "fleet-press.toml", tmp_path)
    after = _press(tmp_path, '\n[press]\nparameters = "fleet-press.toml"\n')
    # By 6 % here: the larger part of either band is the path's own error, which no fleet takes off.
    assert _cake_width(after) < _cake_width(before)
    words = after.parameters
    assert (
        words
        == "24 trial runs on frame disc 200 x 1, pooled from 4 sites without their names, invented"
    )


def test_two_sites_or_mixed_frames_are_not_pooled(pooled: Path, tmp_path: Path) -> None:
    """Fewer than three sites could be read off; frames do not mix; pooled files do not go back."""
    files = sorted(pooled.glob("press-contribution-*.json"))
    with pytest.raises(Exception, match="at least 3"):
        _call(learn, ["pool", *files[:2], files[0], "--out", tmp_path])
    other = tmp_path / "other.toml"
    other.write_text(press_parameters_toml(_site(9, "disc 300 x 1")), encoding="utf-8")
    _call(learn, ["contribute", "--press", other, "--out", tmp_path])
    with pytest.raises(Exception, match="one frame"):
        _call(learn, ["pool", *files, *tmp_path.glob("press-*.json"), "--out", tmp_path])
    with pytest.raises(Exception, match="already pooled"):
        _call(learn, ["contribute", "--press", pooled / "fleet-press.toml", "--out", tmp_path])
