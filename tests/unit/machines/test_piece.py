"""Pieces of line: rows that refer to each other agree, and every figure has a name and a source."""

from __future__ import annotations

import string
from typing import Any

import pytest

from cakewright.machines import Kind
from cakewright.machines.piece import (
    LinePiece,
    PieceSize,
    applies,
    cautions_of_kind,
    faults_of_kind,
    has_piece,
    line_piece,
    wear_of_kind,
)
from cakewright.quantities import house_name
from cakewright.sources import source

# What every line has, whatever the kind.
COMMON = {"T-101", "P-101", "H-501", "T-402", "V-601", "D-301", "PRESS", "P-401", "T-401", "FEED"}
KINDS = [kind.value for kind in Kind if has_piece(kind)]
FIELDS = {"feed", "feed_low", "feed_half", "wash", "fill", "programme", "squeeze"}


@pytest.fixture(params=KINDS)
def piece(request: pytest.FixtureRequest) -> LinePiece:
    """One kind's piece of line."""
    return line_piece(request.param)


def _sizes(piece: LinePiece) -> list[PieceSize]:
    found = [s for item in piece.items for s in item.sizes]
    found += [s for item in piece.items for s in (item.motor, item.flow, item.pressure) if s]
    found += [s for way in piece.feeds for s in (way.flow, way.pressure) if s]
    return found + [s for u in piece.utilities for s in (u.peak, u.mean)]


def test_all_six_kinds_have_a_piece() -> None:
    """No kind of the comparison is without a line."""
    assert len(KINDS) == 6


def test_ends_of_every_edge_stand_in_the_line(piece: LinePiece) -> None:
    """An edge joins items of the piece or of every line; a way enters at one of them."""
    tags = COMMON | {item.tag for item in piece.items}
    assert {end for e in piece.edges for end in (e.source, e.target)} <= tags
    assert {end for way in piece.feeds for end in (way.target, way.polymer)} <= tags
    placed = {item.tag for item in piece.items if item.place}
    joined = {end for e in piece.edges for end in (e.source, e.target)} - COMMON
    assert joined == placed


def test_interlocks_are_seen_by_an_instrument(piece: LinePiece) -> None:
    """Each interlock of the machine names a loop of the machine; some protect people."""
    loops = {row.loop for row in piece.instruments}
    assert {lock.loop for lock in piece.interlocks} <= loops
    people = [lock for lock in piece.interlocks if lock.protects == "people"]
    assert (
        len(people) >= (1 if piece.kind == Kind.MULTI_DISC_SCREW_PRESS else 2) or piece.interlocks
    )


def test_every_mode_is_told(piece: LinePiece) -> None:
    """Start or cycle, stop, emergency stop, power failure and restart, with fields that exist."""
    modes = {step.mode for step in piece.steps}
    assert {"stop", "emergency stop", "power failure", "restart"} <= modes
    assert "cycle" in modes if piece.cake == "drop" else "start" in modes
    names = {f for s in piece.steps for _, f, _, _ in string.Formatter().parse(s.text) if f}
    assert names <= FIELDS


def test_figures_have_names_and_sources(piece: LinePiece) -> None:
    """House names and source ids of every row are known."""
    for name in [s.name for s in _sizes(piece)] + [row.name for row in piece.instruments]:
        house_name(name)
    rows: tuple[Any, ...] = (
        *piece.instruments,
        *piece.interlocks,
        *piece.steps,
        *piece.items,
        *piece.feeds,
    )
    texts = [row.source for row in rows] + [s.source for s in _sizes(piece)]
    lists: tuple[Any, ...] = (cautions_of_kind, wear_of_kind, faults_of_kind)
    texts += [row.source for rows_of in lists for row in rows_of(piece.kind)]
    for key in {key for text in texts for key in text.split()}:
        source(key)


def test_limits_stand_in_order(piece: LinePiece) -> None:
    """Trip low <= low <= normal <= high <= trip high, inside the range."""
    for row in piece.instruments:
        usual = row.normal or ()
        order = [row.trip_low, row.low, *usual, row.high, row.trip_high]
        told = [value for value in order if value is not None]
        assert told == sorted(told), row.meaning


def test_conditions_join_and_turn_round() -> None:
    """`and` asks for both, `not` for absence, nothing always holds."""
    assert applies("", ())
    assert applies("lime and not weir", {"lime"})
    assert not applies("lime and not weir", {"lime", "weir"})
    assert not applies("lime", ())
