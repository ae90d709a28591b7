"""Iron, lime and alum in a sludge: what is kept, dissolved and ash, over samples."""

from __future__ import annotations

import numpy as np
import pytest

from cakewright.sludge import Composition, Feed, Sludge, alum, blend, iron_and_lime


def _feed(key: str, total_solids: float = 0.03) -> Feed:
    return blend([Sludge.of("one", key, 0.1, Composition(np.full(3, total_solids), 0.3))])


def test_iron_is_kept_as_hydroxide_and_its_chloride_dissolves() -> None:
    """Two thirds of pure ferric chloride by mass, and as much chloride beside it."""
    (iron,) = iron_and_lime(_feed("was"), 0.06, 0.0, 0.25, 0.95)
    assert iron.kept == pytest.approx(0.6589 * 0.06, rel=1e-3)
    assert iron.dissolved == pytest.approx(0.6557 * 0.06, rel=1e-3)
    assert iron.ash == pytest.approx(0.4923 * 0.06, rel=1e-3)
    assert iron.formed.shape == (3,)


def test_thin_sludge_loses_more_of_its_lime() -> None:
    """Lime saturates the filtrate: at 1 % solids far less stays than at 5 %."""
    thin, thick = (
        next(c for c in iron_and_lime(_feed("was", ts), 0.05, 0.2, 0.35, 0.95) if c.name == "lime")
        for ts in (0.01, 0.05)
    )
    assert (thin.kept < 0.7 * thick.kept).all()
    assert (thin.retained < thick.retained).all()
    assert (thick.retained <= 1.0).all()


def test_digested_liquor_turns_lime_to_carbonate() -> None:
    """Alkalinity of digested sludge keeps more of the lime, and heavier."""
    raw, digested = (
        sum(c.kept[0] for c in iron_and_lime(_feed(key), 0.05, 0.2, 0.35, 0.95))
        for key in ("was", "ad_mixed")
    )
    assert digested > 1.1 * raw


def test_alum_leaves_a_quarter_of_its_mass() -> None:
    """Hydroxide of the 14-hydrate; the sulphate leaves with the filtrate."""
    one = alum(_feed("alum_wtp"), 0.1)
    assert one.kept == pytest.approx(0.0262, rel=0.01)
    assert one.formed == pytest.approx(0.1)
