"""Whether inputs are likely for their class: asked about, refused, or left alone."""

from __future__ import annotations

import pytest

from cakewright.errors import StudyError
from cakewright.storage.studies import DEMOS, demo_text
from cakewright.study import parse_study, questions

SITE = """\
cakewright = 1
title = "t"
[[sludge]]
name = "a"
class = "{kind}"
flow = "{flow}"
total_solids = "{solids}"
{more}
"""


def asked(
    flow: str = "120 m3/d", solids: str = "0.8 %", more: str = "", kind: str = "was"
) -> dict[str, str]:
    """Questions of a study by place."""
    text = SITE.format(kind=kind, flow=flow, solids=solids, more=more)
    return {question.where: question.words for question in questions(parse_study(text))}


@pytest.mark.parametrize("name", DEMOS)
def test_the_demonstrations_raise_no_question(name: str) -> None:
    """A question is worth reading only where something is unusual."""
    assert questions(parse_study(demo_text(name))) == ()


def test_a_slip_of_ten_is_asked_about_with_the_likely_value() -> None:
    """11 % solids of excess sludge is most likely 1.1 %."""
    words = asked(solids="11 %")["sludge.0.total_solids"]
    assert "12 times the usual 0.9 % for excess biological sludge" in words
    assert "1.1 %?" in words


def test_a_slip_of_a_thousand_in_the_flow_is_asked_about() -> None:
    """1.2 m3/d at 0.8 % is no site; 1200 m3/d is."""
    assert "1200 m3/d" in asked(flow="1.2 m3/d")["sludge.0.flow"]


def test_what_is_possible_depends_on_the_class() -> None:
    """25 % solids are refused for excess sludge, with the likely value, and allowed for lime."""
    more = '[target]\ncake_solids = "40 %"'
    with pytest.raises(StudyError, match=r"2\.5 %\?"):
        asked(solids="25 %", more=more)
    assert "sludge.0.total_solids" in asked(solids="25 %", more=more, kind="lime_wtp")


@pytest.mark.parametrize(
    ("more", "place", "words"),
    [
        ('ash = "80 %"', "sludge.0.ash", "exchanged"),
        ('[polymer]\ndose = "0.8 kg/t"', "polymer.dose", "8 kg/t"),
        ('[prices]\npower = "2.1 EUR/kWh"', "prices.power", "0.21 EUR/kWh"),
        ('[duty]\nhours_per_day = "24 h/d"', "duty.hours_per_day", "three shifts"),
    ],
)
def test_other_slips_are_asked_about(more: str, place: str, words: str) -> None:
    """Ash for volatile, a dose or price ten times off, hours without a word on who is there."""
    assert words in asked(more=more)[place]


@pytest.mark.parametrize(
    ("said", "key"),
    [
        ("WAS", "was"), ("waste_activated", "was"), ("Überschussschlamm", "was"),
        ("boues activées", "was"), ("lodos activados", "was"), ("余剰汚泥", "was"),
        ("DAF froth", "flotation_froth"), ("Flotatschlamm", "flotation_froth"),
    ],
)  # fmt: skip
def test_classes_are_known_by_what_people_call_them(said: str, key: str) -> None:
    """Abbreviations and names in five languages give the class."""
    study = parse_study(SITE.format(kind=said, flow="120", solids="1.1", more=""))
    assert study.word("sludge.0.class") == key
    assert study.value("sludge.0.flow") == pytest.approx(120 / 86400)
    assert study.value("sludge.0.total_solids") == pytest.approx(0.011)


def test_a_name_of_two_classes_is_asked_about() -> None:
    """Water-works sludge in Japanese can be of alum or iron."""
    with pytest.raises(StudyError, match="alum_wtp or ferric_wtp"):
        asked(kind="浄水汚泥")


def test_bare_numbers_take_the_unit_of_their_field() -> None:
    """8 hours, 17 %, 1.1 %: what everybody types first."""
    more = "[duty]\nhours_per_day = 8\n[target]\ncake_solids = 17\n"
    study = parse_study(SITE.format(kind="was", flow="120", solids="1.1", more=more))
    assert study.value("duty.hours_per_day") == pytest.approx(8 / 24)
    assert study.value("target.cake_solids") == pytest.approx(0.17)


def test_an_ambiguous_flow_is_asked_about_until_the_study_says_its_style() -> None:
    """1.200 m3/d can be two flows; `decimals` settles it; 1,250 % of solids can be one thing."""
    with pytest.raises(StudyError, match=r"1\.2 m3/d or 1200 m3/d"):
        asked(flow="1.200 m3/d")
    text = SITE.format(kind="was", flow="1.200 m3/d", solids="1,250 %", more="")
    study = parse_study(text.replace("[[sludge]]", 'decimals = "comma"\n[[sludge]]'))
    assert study.value("sludge.0.flow") == pytest.approx(1200 / 86400)
    assert parse_study(text.replace("1.200", "120")).value(
        "sludge.0.total_solids"
    ) == pytest.approx(0.0125)
