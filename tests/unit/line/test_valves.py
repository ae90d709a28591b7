"""The valve list of a line: what stands where, for every kind of machine."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import pytest
from tests.unit.line.lines_for_tests import FERRIC, LIME, kind_line

from cakewright.line.design import LineDesign, design
from cakewright.line.items import ItemKind
from cakewright.machines import Kind


def _at(line: LineDesign, source: str, target: str) -> list[str]:
    return [v.kind for v in line.valves if (v.source, v.target) == (source, target)]


@pytest.mark.parametrize("kind", list(Kind))
def test_pumps_can_be_taken_out_and_burst_nothing(kind: Kind) -> None:
    """Every pump of the line: isolating valves on both sides, no way back, relief where it builds
    pressure against a closed valve."""
    line = design(kind_line(kind))
    kinds = {node.tag: node.kind for node in line.graph.nodes}
    pumps = [tag for tag in kinds if tag.startswith("P-")]
    assert pumps
    for pump in pumps:
        suction = [v.kind for v in line.valves if v.target == pump]
        delivery = [v.kind for v in line.valves if v.source == pump]
        assert "isolating valve" in suction, pump
        assert {"isolating valve", "non-return valve"} <= set(delivery), pump
        centrifugal = kinds[pump] == ItemKind.PUMP_CENTRIFUGAL
        assert ("relief valve" in delivery) is not centrifugal, pump


@pytest.mark.parametrize("kind", list(Kind))
def test_tags_are_one_scheme(kind: Kind) -> None:
    """No tag twice, none that an item or an instrument has; cake has no valve."""
    line = design(kind_line(kind))
    tags = Counter(v.tag for v in line.valves)
    assert max(tags.values()) == 1
    taken = {i.tag for i in line.items} | {s.tag for s in line.signals}
    assert not taken & set(tags)
    assert "cake" not in {v.medium for v in line.valves}


def test_order_along_the_feed_line() -> None:
    """Relief before anything that shuts, then no way back, sample and flush, then the valve."""
    line = design(kind_line(Kind.MULTI_DISC_SCREW_PRESS))
    assert _at(line, "P-101", "T-102") == [
        "relief valve",
        "non-return valve",
        "sampling valve",
        "flushing valve",
        "isolating valve",
    ]


def test_sizes_are_those_of_the_pipes() -> None:
    """A valve on a sized pipe has its size, on the suction side too; others say none."""
    line = design(kind_line(Kind.MULTI_DISC_SCREW_PRESS))
    sizes = {p.tag: p.nominal for p in line.pipes}
    on = {(v.source, v.target): v.nominal for v in line.valves}
    assert on["T-101", "P-101"] == on["P-101", "T-102"] == sizes["L-101"]
    assert on["IN", "T-101"] == 0


def test_acid_is_called_acid() -> None:
    """What goes round a press conditioned with lime is told by its own name, not as water."""
    products = (replace(FERRIC, dose=0.05), replace(LIME, dose=0.15))
    line = design(kind_line(Kind.CHAMBER_PRESS, products=products))
    media = {v.medium for v in line.valves if "P-403" in (v.source, v.target)}
    assert media == {"acid"}
    squeeze = design(kind_line(Kind.MEMBRANE_PRESS))
    assert {v.medium for v in squeeze.valves if "P-303" in (v.source, v.target)} == {"water"}
