"""Greenhouse gas by parts: amounts times factors, routes apart, the set of potentials stated."""

from __future__ import annotations

from functools import cache

import pytest

from cakewright.errors import StudyError
from cakewright.jobs.carbon import CarbonFindings, CarbonOption
from cakewright.jobs.evaluate import evaluate
from cakewright.jobs.findings import Findings
from cakewright.storage.studies import demo_text
from cakewright.study import parse_study


@cache
def findings(route: str = "compost", carbon: str = "", samples: int = 0) -> Findings:
    """The soy study by one route with replaced factors."""
    text = demo_text("soy").replace('route = "compost"', f'route = "{route}"')
    text += f"\n[carbon]\n{carbon}\n[sampling]\nsamples = {samples}\n"
    return evaluate(parse_study(text), with_press=False)


def carbon_of(found: Findings) -> CarbonFindings:
    """Its carbon part."""
    assert found.decide is not None
    return found.decide.carbon


def first(route: str = "compost", carbon: str = "") -> CarbonOption:
    """The chosen kind's emission."""
    return carbon_of(findings(route, carbon)).options[0]


def test_parts_are_amounts_times_factors() -> None:
    """Power, polymer and haulage per dry solids, each from the shown figures by hand."""
    found = findings()
    option = carbon_of(found).options[0]
    head = {figure.name: figure.point for figure in found.decision.headline}
    power = head["line_energy"] / 3.6e6 * 0.390
    assert option.parts["power"].point == pytest.approx(power)
    assert option.parts["polymer"].point == pytest.approx(head["polymer_dose"] * 3.0)
    cake, feed = found.balance.stream("cake"), found.balance.stream("feed measured")
    wet = float(cake.mass_flow[0] / feed.dry_solids_flow[0])
    assert option.parts["haulage"].point == pytest.approx(wet * 25.0 * 0.10749e-3)
    assert option.total.point == pytest.approx(sum(p.point for p in option.parts.values()))


def test_landfill_follows_the_set_of_potentials() -> None:
    """Methane of the landfill scales with the report's potential: 27.9 against 25."""
    new, old = (first("landfill", f'potentials = "{s}"') for s in ("AR6", "AR4"))
    ratio = new.parts["landfill, methane"].point / old.parts["landfill, methane"].point
    assert ratio == pytest.approx(27.9 / 25.0)
    assert new.parts["power"].point == old.parts["power"].point


def test_landfill_by_hand() -> None:
    """Sludge solids in the cake x volatile share x 0.5 x 0.5 x 16/12 x 0.5 of methane."""
    found = findings("landfill", 'landfill_recovered = "40 %"')
    option = carbon_of(found).options[0]
    cake, feed = found.balance.stream("cake"), found.balance.stream("feed measured")
    own = cake.suspended[0] + cake.dissolved[0]
    dry = float(own / feed.dry_solids_flow[0])
    volatile = 1.0 - found.feed.figures["ash_share"].point
    methane = dry * volatile * 0.5 * 0.5 * 0.5 * 16.0 / 12.0 * 0.6
    assert option.parts["landfill, methane"].point == pytest.approx(27.9 * methane, rel=1e-9)


@pytest.mark.parametrize(
    ("route", "part"),
    [
        ("compost", "composting, methane"),
        ("land", "soil, nitrous oxide"),
        ("landfill", "landfill, methane"),
        ("incineration", "burning, nitrous oxide"),
        ("digestion", "digestion, methane"),
        ("drying", "drying, heat"),
    ],
)
def test_every_route_has_its_own_part(route: str, part: str) -> None:
    """The outlet's gas is there, above nothing, and only its own route's."""
    option = first(route)
    assert option.parts[part].point > 0
    places = ("composting", "soil", "landfill", "burning", "digestion", "drying")
    own = part.split(",", maxsplit=1)[0]
    assert {name.split(",")[0] for name in option.parts} & set(places) == {own}


def test_biogenic_carbon_dioxide_is_not_in_the_sum() -> None:
    """Burning all organic carbon raises the figure beside the sum, never the sum."""
    little, much = (first("incineration", f'organic_carbon = "{share} %"') for share in (20, 60))
    assert much.biogenic.point == pytest.approx(3.0 * little.biogenic.point)
    assert much.total.point == little.total.point


def test_a_replaced_factor_moves_its_part_alone() -> None:
    """The study's own grid factor is used and shown with its basis."""
    found = findings(carbon='grid = { value = "0.05 kg/kWh", basis = "measured" }')
    mine, usual = carbon_of(found).options[0], first()
    assert mine.parts["power"].point == pytest.approx(usual.parts["power"].point * 0.05 / 0.390)
    assert mine.parts["haulage"].point == usual.parts["haulage"].point
    given = next(g for g in carbon_of(found).factors if g.where == "carbon.grid")
    assert given.basis.value == "measured"
    assert not given.default


def test_recalled_factors_say_so() -> None:
    """Marks of factors reach the total; a recalled set of potentials is named as such."""
    found = carbon_of(findings("land", 'potentials = "AR5"'))
    assert found.options[0].total.mark.value == "judgement"
    assert any("from memory" in note for note in found.notes)
    polymer = next(g for g in found.factors if g.where == "carbon.polymer")
    assert polymer.mark.value == "from memory"


@pytest.mark.parametrize(
    ("line", "text"),
    [
        ('potentials = "AR7"', r"carbon\.potentials: got 'AR7'"),
        ('grid = "-0.1 kg/kWh"', r"carbon\.grid: .*too low"),
        ('polymer = "3 kg"', r"carbon\.polymer"),
    ],
)
def test_bad_factors_are_named(line: str, text: str) -> None:
    """An unknown report, a negative factor, a wrong unit."""
    with pytest.raises(StudyError, match=text):
        findings(carbon=line)
