"""The law of a class before any test, with what published trials of machines leave of it."""

from __future__ import annotations

import numpy as np
import pytest

from cakewright.errors import UnknownNameError
from cakewright.reference import sludge_classes
from cakewright.sludge.law_prior import prior_of_class, prior_with_cake


@pytest.mark.parametrize("name", list(sludge_classes()))
def test_evidence_only_narrows(name: str) -> None:
    """No parameter is known less than before; no centre leaves three spreads of its band."""
    wide, narrow = prior_of_class(name), prior_with_cake(name)
    spread = np.sqrt(np.diag(wide.covariance))
    assert np.allclose([p.sd for p in narrow.parameters], np.sqrt(np.diag(narrow.covariance)))
    assert np.all([p.sd for p in narrow.parameters] <= spread * 1.001)
    assert np.all(np.abs(narrow.centre - wide.centre) < 3.0 * spread)
    assert np.all(np.linalg.eigvalsh(narrow.covariance / np.outer(spread, spread)) > 0.0)


@pytest.mark.parametrize("name", ["was", "ad_mixed"])
def test_narrower_parameters_say_so(name: str) -> None:
    """The words follow the spreads, and trials of a class well tried narrow something."""
    wide, narrow = prior_of_class(name), prior_with_cake(name)
    for before, after in zip(wide.parameters, narrow.parameters, strict=True):
        assert after.note.endswith("trials known") == (after.sd < 0.99 * before.sd)
    assert any(p.note.endswith("trials known") for p in narrow.parameters)


def test_an_unknown_class_is_named() -> None:
    """As for the plain prior."""
    with pytest.raises(UnknownNameError, match="nosuch"):
        prior_with_cake("nosuch")
