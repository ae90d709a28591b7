"""A study file is read whole, or every fault in it is named."""

from __future__ import annotations

import pytest

from cakewright.errors import StudyError
from cakewright.quantities import Basis, Mark
from cakewright.storage.studies import DEMOS, demo_text
from cakewright.study import fields, parse_study, render_template

GOOD = """cakewright = 1
title = "t"
[[sludge]]
name = "a"
class = "was"
flow = "48 m3/d"
total_solids = { value = "0.8 % ± 0.1 %", basis = "measured", note = "lab" }
"""


def faults(text: str) -> dict[str, str]:
    """Faults of a study by place."""
    with pytest.raises(StudyError) as caught:
        parse_study(text, "bad.toml")
    return {fault.where: str(fault) for fault in caught.value.faults}


@pytest.mark.parametrize("name", DEMOS)
def test_demonstrations_are_sound_and_say_they_are_invented(name: str) -> None:
    """Each shipped study reads without fault and is marked invented."""
    study = parse_study(demo_text(name))
    assert study.flag("invented")
    assert "invented" in study.word("site").lower()


def test_template_is_a_valid_study() -> None:
    """`new` writes a study that `check` accepts as it stands."""
    assert parse_study(render_template()).sludges == 1


def test_every_default_is_itself_allowed() -> None:
    """Writing a default out gives the value the default stands for, without a fault."""
    for section, keys in fields().items():
        for field in keys.values():
            if section in ("study", "sludge", "origin") or field.kind != "quantity":
                continue
            if field.default is None:
                continue
            text = f'{GOOD}[{section}]\n{field.key} = "{field.default}"\n'
            written = parse_study(text.replace("currency/", "EUR/")).given(field.place)
            stood_in = parse_study(GOOD).given(field.place)
            assert written is not None
            assert stood_in is not None
            assert (written.value, written.low) == (stood_in.value, stood_in.low)


def test_text_round_trips_unchanged() -> None:
    """A study keeps its text byte for byte."""
    assert parse_study(GOOD).text == GOOD


def test_given_values_carry_basis_spread_and_place() -> None:
    """A value in a table keeps what was said about it."""
    given = parse_study(GOOD).given("sludge.0.total_solids")
    assert given is not None
    assert given.basis is Basis.MEASURED
    assert (given.low, given.value, given.high) == pytest.approx((0.007, 0.008, 0.009))
    assert not given.default


def test_defaults_carry_basis_and_mark() -> None:
    """What nobody gave is there, marked as a default with its basis."""
    given = parse_study(GOOD).given("sludge.0.oil")
    assert given is not None
    assert given.default
    assert given.mark is Mark.JUDGEMENT


def test_all_faults_at_once_with_lines() -> None:
    """Seven different slips give seven faults, each with its line."""
    text = GOOD.replace("48 m3/d", "48 m3").replace("0.8 % ± 0.1 %", "120 %")
    text += 'ash = "20 %"\nvolatile = "90 %"\n[duty]\nhours_per_day = "0 h"\ndays = 5\n[prices]\n'
    text += 'power = "-1 EUR/kWh"\n[dutty]\nx = 1\n'
    found = faults(text)
    assert set(found) == {
        "sludge.0.flow",
        "sludge.0.total_solids",
        "sludge.0.ash",
        "duty.hours_per_day",
        "duty.days",
        "prices.power",
        "dutty",
    }
    assert "line 6" in found["sludge.0.flow"]
    assert "did you mean `days_per_week`" in found["duty.days"]
    assert "did you mean `duty`" in found["dutty"]


@pytest.mark.parametrize(
    ("change", "place", "words"),
    [
        (("0.8 % ± 0.1 %", "22 %"), "sludge.0.total_solids", "drier than the feed"),
        (("0.8 % ± 0.1 %", "0.8 % ± 0.9 %"), "sludge.0.total_solids", "low end"),
        (("cakewright = 1", "cakewright = 9"), "cakewright", "newer program"),
        (("cakewright = 1", ""), "cakewright", "nothing"),
        (('basis = "measured"', 'basis = "guess"'), "sludge.0.total_solids", "known: measured"),
        (("48 m3/d", "-4 m3/d"), "sludge.0.flow", "too low"),
        (('"48 m3/d"', '"48 t/d"'), "sludge.0.flow", "is a mass per time"),
        (("title", "titel"), "titel", "did you mean `title`"),
        (("flow =", "flwo ="), "sludge.0.flwo", "did you mean `flow`"),
        (("[[sludge]]", "[sludge]"), "sludge", r"\[\[sludge\]\]"),
        (('"t"', '"t'), "the file", "TOML"),
    ],
)
def test_each_slip_is_named(change: tuple[str, str], place: str, words: str) -> None:
    """Each slip is reported at its place in words a user understands."""
    import re

    found = faults(GOOD.replace(*change))
    assert re.search(words, found[place]), found


def test_contradictory_values_are_named() -> None:
    """Ash with volatile, more oil than volatile matter, and an origin beside a flow."""
    found = faults(GOOD + 'ash = "30 %"\nvolatile = "90 %"\noil = "80 %"\n')
    assert "together 100 %" in found["sludge.0.ash"]
    assert "volatile share" in found["sludge.0.oil"]
    found = faults(GOOD + '[sludge.origin]\nkind = "primary"\ntotal_solids = "3 %"\n')
    assert "one of the two" in found["sludge.0.flow"]
    assert "sludge.0.origin.tss_in" in found


def test_second_sludge_has_its_own_lines() -> None:
    """A fault in the second sludge points at the second table."""
    text = GOOD + '[[sludge]]\nname = "b"\nclass = "was"\nflow = "1 m3"\ntotal_solids = "1 %"\n'
    assert "line 11" in faults(text)["sludge.1.flow"]
