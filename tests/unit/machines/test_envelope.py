"""Envelope figures: quantiles, blends, marks and the documented trends."""

from __future__ import annotations

import numpy as np
import pytest

from cakewright.errors import OutOfRangeError
from cakewright.machines import Duty, Kind, envelope, split_normal
from cakewright.quantities import Basis, Mark
from cakewright.sludge import Composition, Feed, Sludge, blend


def _feed(key: str = "was", total_solids: float = 0.02, temperature: float = 288.15) -> Feed:
    made = Composition(total_solids, 0.25, temperature=temperature)
    return blend([Sludge.of("one", key, 0.01, made)])


def test_split_normal_hits_its_three_points() -> None:
    """10, 50 and 90 % points come out as given; nothing beyond twice the half-widths."""
    low, middle, high = split_normal(0.13, 0.16, 0.20, np.array([0.1, 0.5, 0.9]))
    assert (low, middle, high) == pytest.approx((0.13, 0.16, 0.20))
    ends = split_normal(0.13, 0.16, 0.20, np.array([1e-9, 1 - 1e-9]))
    assert ends == pytest.approx([0.10, 0.24])


@pytest.mark.parametrize("quantile", [0.0, 1.0, -0.1, float("nan")])
def test_quantiles_at_or_past_the_ends_are_refused(quantile: float) -> None:
    """Zero, one and nonsense are no quantiles."""
    with pytest.raises(OutOfRangeError, match="between 0 and 1"):
        split_normal(1.0, 2.0, 3.0, quantile)


def test_band_out_of_order_is_refused() -> None:
    """Low above typical is refused."""
    with pytest.raises(OutOfRangeError, match="low <= typical"):
        split_normal(2.0, 1.0, 3.0, 0.5)


def test_cake_of_a_blend_keeps_each_parts_water() -> None:
    """Half and half by dry solids: water per dry mass is the mean of the two."""
    mixed = blend(
        [Sludge.of(key, key, 0.01, Composition(0.02, 0.25)) for key in ("was", "primary")]
    )
    found = envelope(Kind.BELT_PRESS, mixed, Duty(), 0.5)
    one, two = (float(part.value[0]) for part in found.parts["cake_solids"])
    both = np.array([1.0 / (0.5 / one + 0.5 / two)])
    for move in found.moves["cake_solids"]:
        both = move.trend.moved(both, move.effect)
    assert found.samples("cake_solids")[0] == pytest.approx(float(both[0]), rel=1e-12)
    assert one != two


def test_quantiles_by_name_move_one_figure_only() -> None:
    """A mapping of quantiles leaves figures it does not name at typical."""
    plain = envelope(Kind.DECANTER, _feed(), Duty(), 0.5)
    moved = envelope(Kind.DECANTER, _feed(), Duty(), {"capture": 0.9})
    assert moved.samples("capture")[0] > plain.samples("capture")[0]
    assert moved.samples("cake_solids")[0] == plain.samples("cake_solids")[0]


def test_decanter_energy_follows_the_volume() -> None:
    """Half the feed solids double the energy per tonne of a decanter, not of a screw press."""
    thick, thin = _feed(total_solids=0.02), _feed(total_solids=0.01)
    spun = [
        envelope(Kind.DECANTER, f, Duty(), 0.5).samples("specific_energy")[0] for f in (thick, thin)
    ]
    slow = [
        envelope(Kind.MULTI_DISC_SCREW_PRESS, f, Duty(), 0.5).samples("specific_energy")[0]
        for f in (thick, thin)
    ]
    assert spun[1] / spun[0] == pytest.approx(2.0, rel=0.01)
    assert slow[0] == slow[1]


def test_multi_disc_figures_say_they_are_judged() -> None:
    """No published multi-disc figure exists, and the mark says so."""
    figure = envelope(Kind.MULTI_DISC_SCREW_PRESS, _feed(), Duty(), 0.5)["cake_solids"]
    assert figure.mark is Mark.JUDGEMENT
    assert figure.basis is Basis.ASSUMED
    assert "PROXY" in figure.note


def test_longer_hours_need_more_attention() -> None:
    """Attention per day rises with the hours run."""
    short, long = (
        envelope(Kind.BELT_PRESS, _feed(), Duty(hours_per_day=h), 0.5).samples("attention_per_day")
        for h in (1 / 3, 2 / 3)
    )
    assert long[0] > short[0]
