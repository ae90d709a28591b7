"""Every machine answers on every sludge, in the documented order, with an honest mark."""

from __future__ import annotations

import itertools

import pytest

from cakewright.errors import OutOfRangeError, UnknownNameError
from cakewright.quantities import Basis, Mark, house_name
from cakewright.reference import (
    BandQuantity,
    PerformanceBand,
    RowKind,
    machines_known,
    neighbours,
    performance_band,
    performance_rows,
    sludge_classes,
)

CLASSES = tuple(sludge_classes())
NEAR = tuple((key, near) for key in CLASSES for near in neighbours(key).classes)


def _typical(machine: str, sludge: str, quantity: str) -> float:
    return performance_band(machine, sludge, quantity).typical


@pytest.mark.parametrize("quantity", list(BandQuantity))
@pytest.mark.parametrize("machine", machines_known())
def test_every_machine_answers_on_every_sludge(machine: str, quantity: str) -> None:
    """All 16 classes resolve to a band in order; unmarked ones rest on read or practice rows."""
    assert len(CLASSES) == 16
    for sludge in CLASSES:
        band = performance_band(machine, sludge, quantity)
        assert 0.0 < band.low < band.typical < band.high
        if band.unit == "1":
            assert band.high < 1.0
        if band.mark is Mark.NONE:
            assert {row.kind for row in band.rows} <= {RowKind.PUBLISHED, RowKind.PRACTICE}
            assert not band.borrowed_from


@pytest.mark.parametrize("quantity", list(BandQuantity))
def test_bands_are_in_the_unit_of_their_house_name(quantity: BandQuantity) -> None:
    """What a band shows is named in the house list, in the same unit."""
    band = performance_band("decanter", "was", quantity)
    assert house_name(quantity.house_name).unit == band.unit


def test_the_multi_disc_press_is_always_marked() -> None:
    """With nothing published, no envelope of the multi-disc press may look published."""
    for sludge, quantity in itertools.product(CLASSES, BandQuantity):
        band = performance_band("multi_disc_screw_press", sludge, quantity)
        assert band.mark is Mark.JUDGEMENT
        assert band.basis is Basis.ASSUMED


def test_judged_rows_come_before_published_extremes() -> None:
    """Digested mixed sludge on a decanter: the judged 20-26-32, not the read 20 to 40."""
    band = performance_band("decanter", "ad_mixed", "cake_ts")
    assert (band.low, band.typical, band.high) == pytest.approx((0.20, 0.26, 0.32))
    assert (band.source, band.mark) == ("JUDGEMENT", Mark.JUDGEMENT)


def test_published_rows_answer_where_nothing_is_judged() -> None:
    """Industrial biological sludge on a belt press: the one plant row, unmarked."""
    band = performance_band("belt_press", "industrial_biological", "cake_ts")
    assert (band.low, band.high) == pytest.approx((0.15, 0.20))
    assert (band.source, band.mark, band.basis) == ("P45", Mark.NONE, Basis.PUBLISHED)


def test_several_published_rows_are_taken_together() -> None:
    """Two read bands on digested biological sludge give lowest, median of middles, highest."""
    band = performance_band("belt_press", "ad_was", "polymer_active")
    assert (band.low, band.typical, band.high) == pytest.approx((0.005, 0.010, 0.016))
    assert len(band.rows) == 2


def test_recalled_rows_keep_their_mark() -> None:
    """Digested primary sludge on a belt press is known from memory only, and says so."""
    band = performance_band("belt_press", "ad_primary", "cake_ts")
    assert (band.low, band.typical, band.high) == pytest.approx((0.24, 0.28, 0.30))
    assert (band.source, band.mark, band.basis) == ("MEM", Mark.FROM_MEMORY, Basis.ASSUMED)


def test_a_borrowed_band_is_wider_and_says_from_whom() -> None:
    """Extended aeration borrows from aerobic digestion, a tenth wider at each end."""
    own = performance_band("decanter", "aerobic_digested", "cake_ts")
    band = performance_band("decanter", "extended_aeration", "cake_ts")
    assert band.borrowed_from == "aerobic_digested"
    assert "borrowed from aerobically digested sludge" in band.note
    assert band.low == pytest.approx(0.9 * own.low)
    assert band.high == pytest.approx(1.1 * own.high)
    assert band.typical == own.typical
    assert band.mark is Mark.JUDGEMENT


def test_a_borrowed_recalled_band_stays_from_memory() -> None:
    """Borrowing never washes a mark off."""
    band = performance_band("belt_press", "industrial_biological", "polymer_active")
    assert band.borrowed_from == "was"
    assert band.mark is Mark.FROM_MEMORY


def test_a_dose_of_unknown_counting_says_so() -> None:
    """A published dose that may be product rather than active polymer carries the doubt."""
    band = performance_band("screen_drum_screw_press", "ad_primary", "polymer_active")
    assert "does not say whether" in band.note


@pytest.mark.parametrize("pair", NEAR)
def test_neighbours_exist_and_are_not_the_class_itself(pair: tuple[str, str]) -> None:
    """The neighbour table names house classes only."""
    key, near = pair
    assert near in CLASSES
    assert near != key


def test_envelopes_keep_the_published_order_on_that_sludge() -> None:
    """Digested biological sludge: belt <= screw presses < decanter < plate presses."""
    order = ("belt_press", "screen_drum_screw_press", "decanter", "chamber_press", "membrane_press")
    cake = [_typical(machine, "ad_was", "cake_ts") for machine in order]
    assert cake == sorted(cake)
    assert _typical("multi_disc_screw_press", "ad_was", "cake_ts") < cake[2]


@pytest.mark.parametrize("sludge", CLASSES)
def test_pressing_harder_gives_drier_cake(sludge: str) -> None:
    """On every class: multi-disc <= screen-drum; multi-disc <= decanter < chamber <= membrane."""
    disc, drum, _, decanter, chamber, membrane = (
        _typical(machine, sludge, "cake_ts") for machine in machines_known()
    )
    assert disc <= drum
    assert disc <= decanter < chamber <= membrane


@pytest.mark.parametrize("sludge", [key for key in CLASSES if key != "was"])
def test_belt_press_stays_at_or_below_the_decanter(sludge: str) -> None:
    """Except raw biological sludge, where the judged survey rows say 18 against 17 %."""
    assert _typical("belt_press", sludge, "cake_ts") <= _typical("decanter", sludge, "cake_ts")


def test_power_is_as_common_practice_says() -> None:
    """Multi-disc: about half of a belt press, one seventh of a decanter, at 2 % feed."""
    disc, belt, decanter = (
        _typical(machine, "was", "specific_energy")
        for machine in ("multi_disc_screw_press", "belt_press", "decanter")
    )
    assert disc / belt == pytest.approx(1 / 2, rel=0.1)
    assert disc / decanter == pytest.approx(1 / 7, rel=0.1)


def test_wash_water_is_as_common_practice_says() -> None:
    """Multi-disc: about that of a decanter, about one seventeenth of a belt press."""
    disc, belt, decanter = (
        _typical(machine, "was", "washwater")
        for machine in ("multi_disc_screw_press", "belt_press", "decanter")
    )
    assert disc / belt == pytest.approx(1 / 17, rel=0.1)
    assert disc / decanter == pytest.approx(1.0, rel=0.1)


@pytest.mark.parametrize(("source", "feed"), [("P09", 34.0), ("P10", 26.0)])
def test_decanter_energy_per_dry_solids_follows_from_the_feed(source: str, feed: float) -> None:
    """Two works report both figures; dividing by the feed solids gives one from the other."""
    (volume,) = (
        row.typical
        for row in performance_rows("decanter", "ad_mixed", "specific_energy_vol")
        if row.source == source
    )
    (dry,) = (
        row.typical
        for row in performance_rows("decanter", "ad_mixed", "specific_energy_ds")
        if row.source == source
    )
    assert volume is not None
    assert volume / feed == pytest.approx(dry, rel=1e-3)


def test_energy_is_exchanged_at_the_feed_given() -> None:
    """Decanters take 1.5-3.8-4.5 kWh/m3; at 40 kg/m3 that is 37.5-95-112.5 kWh/t."""
    band = performance_band("decanter", "was", "specific_energy", feed_solids=40.0)
    kwh_t = tuple(x / 3600.0 for x in (band.low, band.typical, band.high))
    assert kwh_t == pytest.approx((37.5, 95.0, 112.5))
    assert "40 kg/m3" in band.note
    thick = performance_band("belt_press", "was", "specific_energy_vol", feed_solids=40.0)
    thin = performance_band("belt_press", "was", "specific_energy_vol", feed_solids=20.0)
    assert thick.typical == pytest.approx(2.0 * thin.typical)


def test_pilot_points_lie_in_the_decanter_bands() -> None:
    """The well-run pilot points of digested sludge lie in the digested decanter band."""
    band: PerformanceBand = performance_band("decanter", "ad_mixed", "cake_ts")
    rows = performance_rows("decanter", "ad_mesophilic", "cake_ts")
    (row,) = rows
    assert band.low < (row.low or 0.0) < (row.high or 1.0) < band.high


@pytest.mark.parametrize(
    ("machine", "sludge", "quantity", "text"),
    [
        ("belt_pres", "was", "cake_ts", "did you mean 'belt_press'"),
        ("decanter", "wass", "cake_ts", "did you mean 'was'"),
        ("decanter", "was", "cake", "did you mean 'cake_ts'"),
        ("decanter", "xyzzy", "cake_ts", "known: ad_mixed"),
    ],
)
def test_unknown_names_name_the_nearest(
    machine: str, sludge: str, quantity: str, text: str
) -> None:
    """A misspelt machine, class or quantity fails and helps."""
    with pytest.raises(UnknownNameError, match=text):
        performance_band(machine, sludge, quantity)


@pytest.mark.parametrize("feed", [0.0, -1.0, float("nan")])
def test_feed_solids_must_be_positive(feed: float) -> None:
    """No division by nothing, and no NaN."""
    with pytest.raises(OutOfRangeError, match="above zero"):
        performance_band("decanter", "was", "specific_energy", feed_solids=feed)
