"""Edits of a study's text in place."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cakewright.errors import InputFileError, UnknownNameError
from cakewright.storage.store import Edit, apply_edits, changed_places, overlapping
from cakewright.storage.store.editing import Part, merged_text
from cakewright.storage.studies import DEMOS, demo_text
from cakewright.study import parse_study

SOY = demo_text("soy")


@pytest.mark.parametrize("name", DEMOS)
def test_nothing_typed_nothing_moved(name: str) -> None:
    """An edit that sets what already stands there leaves every byte alone."""
    text = demo_text(name)
    title = parse_study(text).word("title")
    assert apply_edits(text, [Edit("title", title)]) == text


def test_an_edit_moves_its_own_line_only() -> None:
    """One value changes one line; its basis and note, all comments and the order stay."""
    after = apply_edits(SOY, [Edit("sludge.0.flow", "15 m3/d")])
    moved = [(a, b) for a, b in zip(SOY.splitlines(), after.splitlines(), strict=True) if a != b]
    assert len(moved) == 1
    assert moved[0][1] == moved[0][0].replace("14 m3/d ± 3 m3/d", "15 m3/d")


def test_a_comment_behind_a_value_stays() -> None:
    """A remark on the same line survives the new value."""
    text = SOY.replace("ph = 5.8", "ph = 5.8  # strip, not probe")
    assert "ph = 6.1  # strip, not probe" in apply_edits(text, [Edit("sludge.0.ph", "6.1")])


def test_line_endings_and_byte_order_mark_stay() -> None:
    """A file from another system keeps its endings and its mark, new lines included."""
    text = "\ufeff" + SOY.replace("\n", "\r\n")
    after = apply_edits(text, [Edit("duty.noise_limit", "80"), Edit("duty.one_out", "full")])
    assert after.startswith("\ufeff")
    assert after.count("\n") == after.count("\r\n") == text.count("\n") + 1


def test_empty_takes_a_key_out_and_the_default_returns() -> None:
    """Clearing a field removes the key, so that the default shows again with its basis."""
    after = apply_edits(SOY, [Edit("outlet.distance", "")])
    assert parse_study(after).values["outlet.distance"].default
    assert not parse_study(SOY).values["outlet.distance"].default


def test_basis_note_and_source_stand_beside_the_value() -> None:
    """A bare value becomes a table when a basis is given; emptied parts go again."""
    once = apply_edits(SOY, [Edit("outlet.distance", "measured", Part.BASIS)])
    assert parse_study(once).values["outlet.distance"].basis == "measured"
    assert parse_study(once).values["outlet.distance"].as_written == "25 km"
    gone = apply_edits(once, [Edit("outlet.distance", "", Part.BASIS)])
    assert parse_study(gone).values["outlet.distance"].basis == "assumed"


def test_what_is_no_number_is_kept_as_typed() -> None:
    """Nonsense stays in the text, so that its fault shows what was typed."""
    after = apply_edits(SOY, [Edit("production.peak_factor", "lots")])
    assert 'value = "lots"' in after


def test_sludges_come_and_go() -> None:
    """A sludge is added with a name of its own, and taken out without touching the others."""
    more = apply_edits(SOY, [Edit("sludge", action="add")])
    assert parse_study(more).sludges == 3
    less = apply_edits(more, [Edit("sludge.0", action="remove")])
    assert parse_study(less).word("sludge.0.name") == "excess biological sludge"
    alone = apply_edits(apply_edits(less, [Edit("sludge.1", action="remove")]), [])
    with pytest.raises(InputFileError, match="at least one sludge"):
        apply_edits(alone, [Edit("sludge.0", action="remove")])


def test_flow_from_the_wastewater_and_back() -> None:
    """Solids typed once move along when the way of giving the flow changes."""
    there = apply_edits(SOY, [Edit("sludge.0", action="origin")])
    assert "sludge.0.origin.total_solids" in changed_places(SOY, there)
    back = apply_edits(there, [Edit("sludge.0.origin", action="remove")])
    assert changed_places(SOY, back) == {"sludge.0.flow": None}


@pytest.mark.parametrize(
    "place", ["duty.nothing", "__proto__", "sludge.9.flow", "sludge.x.flow", "cakewright", ""]
)
def test_places_that_do_not_exist(place: str) -> None:
    """Only places of the study format can be written."""
    with pytest.raises(UnknownNameError):
        apply_edits(SOY, [Edit(place, "1")])


@pytest.mark.parametrize("typed", ["a\0b", "\x1b[2J", "\ud800", "x" * 5000])
def test_what_is_no_text_is_refused_in_words(typed: str) -> None:
    """Control characters, half characters and floods are refused, saying where."""
    with pytest.raises(InputFileError, match=r"duty\.spare_capacity"):
        apply_edits(SOY, [Edit("duty.spare_capacity", typed)])


@given(typed=st.text(st.characters(exclude_categories=["Cc", "Cs"]), max_size=60))
@settings(max_examples=60, deadline=None)
def test_whatever_is_typed_comes_back(typed: str) -> None:
    """Any text in a note is stored and read back as it was typed."""
    after = apply_edits(SOY, [Edit("note", typed)])
    assert parse_study(after).word("note") == typed


def test_different_places_merge() -> None:
    """Two people, two places: both changes stand in the merged text."""
    mine = apply_edits(SOY, [Edit("duty.spare_capacity", "20 %")])
    theirs = apply_edits(SOY, [Edit("prices.power", "0.3 EUR/kWh"), Edit("outlet.storage", "")])
    text, both = merged_text(SOY, mine, theirs)
    assert both == ()
    assert text is not None
    assert set(changed_places(SOY, text)) == {"duty.spare_capacity", "prices.power"}


def test_same_place_and_moved_comments_are_not_merged() -> None:
    """The same place, or a text whose comments moved too, is never mixed."""
    mine = apply_edits(SOY, [Edit("duty.spare_capacity", "20 %")])
    theirs = apply_edits(SOY, [Edit("duty.spare_capacity", "25 %")])
    assert merged_text(SOY, mine, theirs) == (None, ("duty.spare_capacity",))
    text, both = merged_text(SOY, "# mine\n" + mine, SOY)
    assert text is None
    assert both


def test_a_place_inside_another_overlaps() -> None:
    """A sludge taken out touches everything in the sludges."""
    assert overlapping(["sludge"], ["sludge.1.ash"]) == ("sludge",)
    assert overlapping(["sludge.1.ash"], ["sludge.10"]) == ()
