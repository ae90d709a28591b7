"""The law of a class before any test, with the cakes of the class known: one direction narrower."""

from __future__ import annotations

import importlib.util
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from cakewright.errors import UnknownNameError
from cakewright.quantities import FloatArray
from cakewright.reference import sludge_classes
from cakewright.sludge import law_prior
from cakewright.sludge.law import LAW_PARAMETERS
from cakewright.sludge.law_prior import cake_spread, prior_of_class, prior_with_cake

SCRIPT = Path(__file__).parents[3] / "docs" / "cake_slopes.py"


def _whitened(name: str) -> FloatArray:
    """Covariance with the cake known, in standard deviations of the plain prior."""
    spread = np.sqrt(np.diag(prior_of_class(name).covariance))
    return np.asarray(prior_with_cake(name).covariance / np.outer(spread, spread))


@pytest.mark.parametrize("name", list(sludge_classes()))
def test_the_cake_spreads_as_judged_and_nothing_else_moves(name: str) -> None:
    """Along the slopes the judged spread; across them, and in the middle, the plain prior."""
    slopes, found = law_prior._slopes()[name], _whitened(name)
    length = float(np.linalg.norm(slopes))
    assert slopes @ found @ slopes == pytest.approx(min(length, cake_spread(name)) ** 2)
    across = np.eye(slopes.size) - np.outer(slopes, slopes) / length**2
    assert np.allclose(across @ found @ across, across)
    assert np.array_equal(prior_with_cake(name).centre, prior_of_class(name).centre)


@pytest.mark.parametrize("name", ["was", "lime_wtp"])
def test_no_parameter_is_known_less_and_each_narrower_one_says_so(name: str) -> None:
    """Spreads stated are those of the covariance; the words follow them."""
    wide, narrow = prior_of_class(name), prior_with_cake(name)
    assert np.allclose([p.sd for p in narrow.parameters], np.sqrt(np.diag(narrow.covariance)))
    for before, after in zip(wide.parameters, narrow.parameters, strict=True):
        assert after.sd <= before.sd * (1.0 + 1e-12)
        assert after.note.endswith("cake of the class known") == (after.sd < 0.99 * before.sd)
    assert narrow.parameter("gel_point").sd < 0.8 * wide.parameter("gel_point").sd


def test_a_cake_nobody_knows_narrows_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    """A judged band wider than the prior's own cakes leaves the prior as it is."""
    monkeypatch.setattr(law_prior, "cake_spread", lambda _: 9.0)
    prior_with_cake.cache_clear()
    try:
        wide = prior_of_class("was").covariance
        assert np.allclose(prior_with_cake("was").covariance, wide)
    finally:
        prior_with_cake.cache_clear()


def test_an_unknown_class_is_named() -> None:
    """As for the plain prior."""
    with pytest.raises(UnknownNameError, match="nosuch"):
        prior_with_cake("nosuch")


def _script() -> ModuleType:
    spec = importlib.util.spec_from_file_location("cake_slopes", SCRIPT)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize("name", ["was", "lime_wtp"])
def test_slopes_on_file_are_those_of_the_press(name: str) -> None:
    """When this fails the press or its priors have changed: run docs/cake_slopes.py again."""
    now, explained = _script().slopes(name)
    kept = law_prior._slopes()[name]
    assert kept.shape == (len(LAW_PARAMETERS),)
    assert np.allclose(kept, now, atol=0.005)
    assert explained > 0.85
