"""The small tables: spot values as printed, marks, and a helpful failure for a wrong key."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from cakewright import reference as r
from cakewright.errors import UnknownNameError
from cakewright.quantities import Mark


@pytest.mark.parametrize(
    ("row", "low", "typical", "high", "mark"),
    [
        (r.sludge_yield("primary_per_sewage"), 0.110, None, 0.170, Mark.NONE),
        (r.sludge_yield("bod_per_dry_solids_no_primary"), 1.0, 1.16, 1.5, Mark.NONE),
        (r.peaking("peak_day"), 1.8, None, 2.5, Mark.FROM_MEMORY),
        (r.storage_rule("wet_storage"), 345_600.0, None, None, Mark.NONE),
        (r.storage_rule("shift_hours"), None, 1 / 3, None, Mark.NONE),
        (r.make_down("ageing_dry"), 1800.0, None, 7200.0, Mark.NONE),
        (r.return_liquor("cod_per_tss"), None, 1.15, None, Mark.NONE),
        (r.return_liquor("digested_ammonia"), 0.5, None, 1.5, Mark.FROM_MEMORY),
        (r.cake_handling("press_cake_lime_iron"), None, 1280.0, None, Mark.NONE),
        (r.outlet("vane_shear"), 25e3, None, None, Mark.NONE),
        (r.cost_share("maintenance"), 0.02, None, 0.04, Mark.FROM_MEMORY),
        (r.carbon_factor("grid_us_2022"), None, 0.390 / 3.6e6, None, Mark.NONE),
        (r.carbon_factor("lorry_uk_average"), None, 1.0749e-7, None, Mark.NONE),
        (r.carbon_factor("polymer"), 2.0, None, 4.0, Mark.FROM_MEMORY),
        (r.specific_resistance("was"), 1e13, None, 1e14, Mark.FROM_MEMORY),
    ],
    ids=lambda value: value.key if isinstance(value, r.Row) else "",
)
def test_plain_rows_keep_number_unit_and_mark(
    row: r.Row, low: float | None, typical: float | None, high: float | None, mark: Mark
) -> None:
    """Printed figures, converted by hand, come out in SI with their mark."""
    for got, expected in ((row.low, low), (row.typical, typical), (row.high, high)):
        assert got == (None if expected is None else pytest.approx(expected, rel=1e-12))
    assert row.mark is mark


def test_middle_of_a_row() -> None:
    """Typical where given, else the middle, else the one end."""
    assert r.carbon_factor("polymer").middle == 3.0
    assert r.sludge_yield("bod_per_dry_solids_no_primary").middle == 1.16
    assert r.storage_rule("wet_storage").middle == 345_600.0


@pytest.mark.parametrize(
    "look_up",
    [
        r.sludge_yield,
        r.peaking,
        r.storage_rule,
        r.make_down,
        r.return_liquor,
        r.cake_handling,
        r.outlet,
        r.cost_share,
        r.carbon_factor,
        r.specific_resistance,
        r.mixing_band,
        r.unit_cost,
        r.exposure_limit,
        r.warming_potentials,
        r.instrument_letters,
        r.neighbours,
    ],
)
def test_a_wrong_key_fails_and_helps(look_up: Callable[[str], object]) -> None:
    """Every look-up names what it does know."""
    with pytest.raises(UnknownNameError, match="is not a"):
        look_up("no such row at all")


def test_mixing_bands() -> None:
    """Water flocculation 20-80 1/s for 20-40 min; the sludge band is from memory."""
    water = r.mixing_band("water_flocculation")
    assert (water.gradient, water.time, water.camp) == ((20, 80), (1200, 2400), (1e4, 1e5))
    assert r.mixing_band("sludge_polymer").mark is Mark.FROM_MEMORY
    assert len(r.mixing_bands()) == 8


def test_prices_keep_currency_year_and_place() -> None:
    """1.07 a pound is 2.36 a kilogram; 0.20 a kilowatt-hour over 3.6 MJ."""
    polymer = r.unit_cost("polymer_liquid_2021")
    assert polymer.typical == pytest.approx(2.36, rel=2e-3)
    assert (polymer.currency, polymer.year, polymer.place) == ("USD", 2021, "Georgia")
    power = r.unit_cost("electricity_eu")
    assert power.typical == pytest.approx(0.20 / 3.6e6)
    assert len(r.unit_costs()) == 9


def test_estimate_classes_narrow() -> None:
    """The better defined a scheme, the narrower its band; inner edges are from memory."""
    found = [r.estimate_class(number) for number in (5, 4, 3, 2, 1)]
    assert [c.low_outer for c in found] == [-0.5, -0.3, -0.2, -0.15, -0.1]
    assert [c.high_outer for c in found] == [1.0, 0.5, 0.3, 0.2, 0.15]
    assert all(c.low_outer < c.low_inner < 0 < c.high_inner < c.high_outer for c in found)
    assert all(c.inner_kind.mark is Mark.FROM_MEMORY for c in found)
    with pytest.raises(UnknownNameError, match="class of cost estimate"):
        r.estimate_class(6)


def test_warming_potentials() -> None:
    """Four reports; the default is the latest; one set is from memory."""
    assert (r.warming_potentials().methane, r.warming_potentials().nitrous_oxide) == (27.9, 273)
    assert r.warming_potentials("SAR").methane == 21
    assert r.warming_potentials("AR5").mark is Mark.FROM_MEMORY


def test_exposure_limits_name_their_body() -> None:
    """Eight-hour noise limits differ between bodies, and recalled limits say so."""
    assert r.exposure_limit("noise_eu_limit").value == 87
    assert r.exposure_limit("noise_osha_limit").value == 90
    assert r.exposure_limit("h2s_acgih_twa").value == 1
    assert r.exposure_limit("h2s_eu_8h").mark is Mark.FROM_MEMORY
    assert {limit.hazard for limit in r.exposure_limits("noise")} == {"noise"}
    assert len(r.exposure_limits("noise")) == 5


def test_conditioning_doses() -> None:
    """Biological sludge takes 10 % ferric chloride and 30 % lime; two rows are oily."""
    (was,) = r.conditioning("was")
    assert (was.ferric_chloride_pct, was.lime_pct) == (10, 30)
    assert len(r.conditioning("oily_industrial")) == 2
    assert {row.house_class for row in r.conditioning()} <= set(r.sludge_classes())


def test_screw_points() -> None:
    """A slow screw press on digested sludge reached 28-37 %; missing figures stay missing."""
    points = {point.point: point for point in r.screw_points()}
    assert points["P2"].cake_ts_pct == (28, 37)
    assert points["P2"].speed_rpm == (0.4, 1.4)
    assert points["P2"].capture_pct == (None, None)
    assert points["H2"].capture_pct == (None, 90)


def test_consolidation_is_in_si() -> None:
    """Stress in Pa, shares of one; what was not measured is None."""
    found = {row.key: row for row in r.consolidation()}
    assert found["biosolids_a"].stress == (27e3, 1200e3)
    assert found["biosolids_a"].consolidation_coefficient == (0.95e-9, 2.2e-9)
    assert found["lagoon"].permeability == (None, None)
    assert len(found) == 7


def test_water_gets_thinner_and_lighter_when_warm() -> None:
    """Check values run one way; 20 degC is 1.0016 mPa s."""
    points = r.water_points()
    assert [p.viscosity for p in points] == sorted((p.viscosity for p in points), reverse=True)
    assert [p.density for p in points] == sorted((p.density for p in points), reverse=True)
    (twenty,) = (p for p in points if p.temperature == pytest.approx(293.15))
    assert twenty.viscosity == pytest.approx(1.0016e-3)


def test_tag_letters() -> None:
    """F measures flow; T transmits when it follows and is temperature when it leads."""
    assert r.instrument_letters("first")["F"].meaning == "flow"
    assert r.instrument_letters("first")["T"].meaning == "temperature"
    assert r.instrument_letters("succeeding")["T"].meaning == "transmit"
    assert len(r.instrument_letters("first")) == 26
