"""Sludges of a study become streams by the rule the study names."""

from __future__ import annotations

import pytest

from cakewright.jobs.draws import study_draws
from cakewright.jobs.streams import feed_of, sludges_of
from cakewright.sludge import Sludge
from cakewright.study import parse_study

HEAD = 'cakewright = 1\ntitle = "t"\n'
POINT = "[sampling]\nsamples = 0\n"


def only(body: str, more: str = "") -> Sludge:
    """The one sludge of a study, point case."""
    study = parse_study(f'{HEAD}[[sludge]]\nname = "a"\n{body}\n{more}{POINT}')
    return sludges_of(study, study_draws(study, (), ()))[0]


def daily(sludge: Sludge) -> float:
    """Dry solids, mean over the week. [kg/d]"""
    return float(sludge.dry_solids_flow[0]) * 86400.0


def test_direct_sludge_is_flow_times_solids() -> None:
    """50 m3/d at 1 % with density near water carries about 500 kg/d."""
    got = daily(only('class = "was"\nflow = "50 m3/d"\ntotal_solids = "1 %"'))
    assert got == pytest.approx(500.0, rel=0.005)


def test_five_producing_days_make_five_sevenths() -> None:
    """A flow per producing day is spread over the week."""
    body = 'class = "was"\nflow = "70 m3/d"\ntotal_solids = "1 %"'
    whole, five = only(body), only(body, "[production]\ndays_per_week = 5\n")
    assert daily(five) == pytest.approx(daily(whole) * 5 / 7)


def origin(kind: str, **values: str) -> str:
    """A sludge with an origin."""
    rows = "".join(f'{key} = "{value}"\n' for key, value in values.items())
    return f'class = "was"\n[sludge.origin]\nkind = "{kind}"\ntotal_solids = "1 %"\n{rows}'


def test_net_yield_by_hand() -> None:
    """Y/(1 + k t) * Q * removed / VS with the textbook's round numbers (from memory): 2057 kg/d."""
    got = daily(
        only(
            origin(
                "biological, net yield",
                wastewater_flow="21600 m3/d",
                bod_in="250 mg/L",
                bod_out="6.2 mg/L",
                sludge_age="10 d",
                yield_coefficient="0.5 kg/kg",
                decay_rate="0.06 1/d",
                volatile_of_solids="80 %",
            )
        )
    )
    assert got == pytest.approx(2057.0, rel=0.005)


def test_primary_and_flotation_and_water_works_by_hand() -> None:
    """Sums a person can do: flow times what is taken out, plus what is dosed."""
    primary = origin(
        "primary", wastewater_flow="1000 m3/d", tss_in="300 mg/L", tss_removed="180 mg/L"
    )
    froth = origin(
        "flotation", wastewater_flow="600 m3/d", tss_removed="450 mg/L", oil_removed="150 mg/L"
    )
    works = origin(
        "water works", wastewater_flow="30000 m3/d", tss_removed="9 mg/L", iron_dose="6 mg/L"
    )
    assert daily(only(primary)) == pytest.approx(180.0)
    assert daily(only(froth)) == pytest.approx(360.0)
    assert daily(only(works)) == pytest.approx(30.0 * (9 + 1.9 * 6))


def test_chemical_sludge_uses_stoichiometry() -> None:
    """10 mg/L Fe without phosphorus gives its hydroxide: 1.914 kg per kg (molar masses)."""
    got = daily(only(origin("chemical", wastewater_flow="1000 m3/d", iron_dose="10 mg/L")))
    assert got == pytest.approx(10 * 106.867 / 55.845, rel=1e-3)


def test_aluminium_as_metal_or_as_alum_is_the_same() -> None:
    """Alum of 14 waters holds 9.08 % aluminium (molar masses)."""
    alum = origin(
        "water works", wastewater_flow="1000 m3/d", tss_removed="5 mg/L", alum_dose="50 mg/L"
    )
    metal = origin(
        "water works",
        wastewater_flow="1000 m3/d",
        tss_removed="5 mg/L",
        aluminium_dose=f"{50 * 2 * 26.982 / 594.4} mg/L",
    )
    assert daily(only(alum)) == pytest.approx(daily(only(metal)), rel=1e-3)


def test_volatile_share_stands_for_ash() -> None:
    """Giving volatile matter sets the ash."""
    sludge = only('class = "was"\nflow = "5 m3/d"\ntotal_solids = "1 %"\nvolatile = "70 %"')
    assert sludge.ash[0] == pytest.approx(0.30)


def test_samples_never_break_the_whole() -> None:
    """Ash, oil and fibre drawn apart still add up to no more than everything."""
    body = (
        'class = "flotation_froth"\nflow = "5 m3/d"\ntotal_solids = "3 %"\n'
        'ash = "40 % ± 25 %"\noil = "40 % ± 25 %"\n'
    )
    study = parse_study(f'{HEAD}[[sludge]]\nname = "a"\n{body}[sampling]\nsamples = 512\n')
    feed = feed_of(study, study_draws(study, (), ()))
    assert (feed.mix.ash + feed.mix.oil + feed.mix.fibre <= 1 + 1e-9).all()
    assert feed.mix.size == 513
