"""Trend court: what moves what, kind by kind, against what is published or what the trade says.

One row a trend: kind, figure, the lever from and to (on the class named), the sign and the band its
size must lie in, relative for throughput and dose, in points of the figure for cake and capture.
`MEM`, `PRACTICE` and `JUDGEMENT` rows hold the direction and are no proof of a size.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest

from cakewright.machines import Duty, Kind, Performance, envelope
from cakewright.machines.trends import FIGURES, LEVERS, trends, usual_at
from cakewright.quantities import Mark
from cakewright.reference import band_conditions, sludge_classes
from cakewright.sludge import Composition, Sludge, blend
from cakewright.study import fields
from cakewright.study.fields import class_default
from cakewright.study.quantity_text import parse_quantity

DAY = 86400.0
RING, DRUM, BELT = "multi_disc_screw_press", "screen_drum_screw_press", "belt_press"
BOWL, CHAMBER, MEMBRANE = "decanter", "chamber_press", "membrane_press"
EVERY = (RING, DRUM, BELT, BOWL, CHAMBER, MEMBRANE)


@dataclass(frozen=True, slots=True)
class Row:
    kinds: tuple[str, ...]
    figure: str
    sludge: str
    lever: str
    start: float
    end: float
    low: float
    high: float
    source: str


COURT = (
    # starving the polymer is never cheap: half of the need
    Row((RING, DRUM, BELT), "cake_solids", "was", "dose", 1.0, 0.5, -0.06, -0.01, "C67 judgement"),
    Row((CHAMBER, MEMBRANE), "cake_solids", "was", "dose", 1.0, 0.5, -0.06, -0.01, "C67 judgement"),
    Row((BOWL,), "cake_solids", "ad_mixed", "dose", 1.0, 0.65, -0.036, -0.015, "P08 pilot"),
    Row((BOWL,), "capture", "ad_mixed", "dose", 1.0, 0.67, -0.08, -0.02, "P08 pilot"),
    Row((BOWL,), "capture", "was", "dose", 1.0, 0.86, -0.09, -0.002, "P08 pilot"),
    Row((BOWL,), "capture", "was", "dose", 1.0, 0.0, -0.40, -0.15, "MEM older tables 60 to 80 %"),
    Row((RING, DRUM, BELT), "capture", "was", "dose", 1.0, 0.5, -0.40, -0.10, "JUDGEMENT"),
    Row((CHAMBER, MEMBRANE), "capture", "was", "dose", 1.0, 0.5, -0.10, -0.02, "JUDGEMENT"),
    Row((RING, DRUM, BELT), "throughput", "was", "dose", 1.0, 0.5, -0.60, -0.20, "PRACTICE"),
    Row((CHAMBER, MEMBRANE), "throughput", "was", "dose", 1.0, 0.5, -0.60, -0.20, "PRACTICE"),
    # near the need the cake is flat, far above it sticks
    Row(EVERY, "cake_solids", "was", "dose", 0.9, 1.2, -0.001, 0.004, "C67 C68"),
    Row((BELT, CHAMBER, MEMBRANE), "cake_solids", "was", "dose", 1.0, 2.5, -0.02, -0.002, "judged"),
    Row((BOWL,), "cake_solids", "was", "dose", 1.0, 2.0, 0.0, 0.0, "decanters bear overdose"),
    # nor is starving iron and lime; what more than enough does to a cake nobody tells
    Row((CHAMBER, MEMBRANE), "cake_solids", "was", "minerals", 1.0, 0.5, -0.09, -0.01, "PRACTICE"),
    Row((CHAMBER, MEMBRANE), "capture", "was", "minerals", 1.0, 0.5, -0.10, -0.02, "JUDGEMENT"),
    Row((CHAMBER, MEMBRANE), "throughput", "was", "minerals", 1.0, 0.5, -0.60, -0.20, "PRACTICE"),
    Row((CHAMBER, MEMBRANE), "cake_solids", "was", "minerals", 1.0, 1.0, 0.0, 0.0, "enough"),
    # ash: the one agency slope, inside its class and range only
    Row(EVERY, "cake_solids", "primary_was", "ash", 0.30, 0.50, 0.0499, 0.0501, "C02"),
    Row(EVERY, "cake_solids", "primary_was", "ash", 0.50, 0.60, 0.0, 0.0, "C02 ends at 50 %"),
    Row(EVERY, "cake_solids", "was", "ash", 0.20, 0.30, 0.002, 0.025, "C02 P17 direction"),
    Row(EVERY, "cake_solids", "alum_wtp", "ash", 0.60, 0.75, 0.0, 0.0, "not across classes"),
    Row((RING,), "throughput", "was", "ash", 0.20, 0.45, -0.25, -0.02, "PRACTICE below 40 %"),
    # oil
    Row(EVERY, "cake_solids", "was", "oil", 0.03, 0.13, -0.02, -0.004, "P09 C09"),
    Row(EVERY, "polymer_dose", "was", "oil", 0.03, 0.13, 0.10, 0.30, "P09 plans a fifth more"),
    Row((BELT, CHAMBER, MEMBRANE), "throughput", "was", "oil", 0.03, 0.13, -0.2, -0.05, "P06"),
    Row((RING,), "throughput", "was", "oil", 0.03, 0.13, -0.04, 0.0, "PRACTICE suits oil"),
    Row((BOWL,), "capture", "was", "oil", 0.03, 0.13, -0.03, -0.002, "JUDGEMENT"),
    # fibre
    Row((RING, DRUM), "cake_solids", "ad_mixed", "fibre", 0.08, 0.27, 0.03, 0.14, "T52 18 to 32 %"),
    Row((BELT, BOWL), "polymer_dose", "ad_mixed", "fibre", 0.0, 0.19, -0.50, -0.13, "C70"),
    Row((RING, DRUM), "polymer_dose", "ad_mixed", "fibre", 0.0, 0.19, -0.50, -0.13, "C70"),
    # temperature
    Row((BOWL,), "cake_solids", "was", "temperature", 291.15, 339.15, 0.0479, 0.0481, "P08"),
    Row((BOWL,), "cake_solids", "ad_mixed", "temperature", 301.15, 329.15, 0.0, 0.013, "P08"),
    Row((RING, DRUM, BELT, CHAMBER, MEMBRANE), "throughput", "was", "temperature", 293.15, 278.15,
        -0.333, -0.02, "inverse of viscosity is the upper bound"),
    # feed solids
    Row((BOWL,), "capture", "was", "total_solids", 0.008, 0.03, 0.001, 0.05, "C31 direction"),
    Row((RING, DRUM, BELT), "capture", "was", "total_solids", 0.005, 0.03, 0.005, 0.10, "PRACTICE"),
    Row((RING, DRUM), "cake_solids", "was", "total_solids", 0.008, 0.03, 0.001, 0.03, "P35"),
    Row((CHAMBER, MEMBRANE), "throughput", "ad_mixed", "total_solids", 0.02, 0.05, 0.12, 0.26,
        "K33: 2.50 to 2.09 h"),
    Row(EVERY, "polymer_dose", "alum_wtp", "total_solids", 0.01, 0.03, 0.0, 0.0, "C69"),
    # age
    Row(EVERY, "polymer_dose", "was", "stored", 0.0, 2.0 * DAY, 0.02, 0.40, "C02 direction"),
    Row(EVERY, "cake_solids", "was", "stored", 0.0, 2.0 * DAY, -0.03, -0.001, "C02 direction"),
    Row(EVERY, "throughput", "was", "stored", 0.0, 2.0 * DAY, -0.20, -0.01, "C02 direction"),
    Row(EVERY, "cake_solids", "ad_mixed", "stored", 0.0, 2.0 * DAY, 0.0, 0.0, "told of raw sludge"),
)  # fmt: skip
CASES = [(kind, row) for row in COURT for kind in row.kinds]


def _performance(kind: str, sludge: str, lever: str, value: float) -> Performance:
    """Typical figures of a sludge as its band has it, but for one lever."""
    made: dict[str, Any] = {
        name: usual_at(Kind(kind), sludge, name)
        for name in ("total_solids", "ash", "oil", "fibre", "temperature", "stored")
    }
    dose = supplied = None
    conditioning = "polymer"
    if lever == "minerals":
        supplied, conditioning = value, "iron and lime"
    elif lever == "dose":
        need = _performance(kind, sludge, "ash", made["ash"]).samples("polymer_dose")
        dose = value * need
    else:
        made[lever] = value
    feed = blend([Sludge.of("one", sludge, 0.01, Composition(**made))])
    return envelope(
        Kind(kind), feed, Duty(), 0.5, conditioning=conditioning, dose=dose, supplied=supplied
    )


def _at(kind: str, row: Row, value: float) -> float:
    found = _performance(kind, row.sludge, row.lever, value)
    if row.figure == "throughput":
        return float(np.atleast_1d(found.throughput)[0])
    return float(found.samples(row.figure)[0])


@pytest.mark.parametrize(
    ("kind", "row"), CASES, ids=[f"{k}-{r.figure}-{r.lever}-{r.sludge}-{r.end:g}" for k, r in CASES]
)
def test_court(kind: str, row: Row) -> None:
    """The lever moves the figure by what its source, or the trade, says."""
    start, end = _at(kind, row, row.start), _at(kind, row, row.end)
    change = end - start
    if row.figure in ("throughput", "polymer_dose"):
        change /= start
    assert row.low - 1e-9 <= change <= row.high + 1e-9, (start, end, row.source)


@pytest.mark.parametrize("kind", EVERY)
@pytest.mark.parametrize("sludge", sorted(sludge_classes()))
def test_a_sludge_as_its_band_has_it_moves_nothing(kind: str, sludge: str) -> None:
    """At the band's own conditions, and the dose needed, every figure is the band's."""
    found = _performance(kind, sludge, "dose", 1.0)
    assert not any(found.moves.values())
    assert not any(found.unmoved.values())


@pytest.mark.parametrize("sludge", sorted(sludge_classes()))
def test_the_usual_composition_of_a_class_is_that_of_its_band(sludge: str) -> None:
    """What a study that says nothing gets is what the bands stand for."""
    usual = band_conditions(sludge)
    for key in ("ash", "oil", "fibre"):
        text = class_default(sludge, key)
        name = fields()["sludge"][key].name
        assert name
        assert parse_quantity(text, "1").value == pytest.approx(getattr(usual, key)), key


@pytest.mark.parametrize("kind", EVERY)
def test_what_is_not_known_is_said_where_the_figure_stands(kind: str) -> None:
    """Every lever off the band's conditions either moves a figure or is named as not known."""
    for sludge in ("was", "alum_wtp"):
        for lever, value in (("ash", 0.45), ("oil", 0.2), ("fibre", 0.3), ("temperature", 303.0)):
            found = _performance(kind, sludge, lever, value)
            for figure in FIGURES:
                told = any(
                    t.lever == lever and t.figure == figure and t.holds(sludge)
                    for t in trends(Kind(kind))
                )
                assert told != (lever in found.unmoved[figure]), (sludge, lever, figure)
                if not told and figure in found.figures:
                    assert "nothing is known" in found[figure].note


def test_sizes_of_trends_are_uncertain_in_the_draws() -> None:
    """The quantile of a lever moves the size of its effects between the row's two ends."""
    made = Composition(0.015, 0.20, oil=0.13, fibre=0.02, temperature=291.15)
    feed = blend([Sludge.of("one", "was", np.full(3, 0.01), made)])
    sizes = {"oil": np.array([0.5, 0.1, 0.9])}
    dose = envelope(Kind(BOWL), feed, Duty(), sizes).samples("polymer_dose")
    plain = envelope(Kind(BOWL), feed, Duty(), {"oil": 0.5}).samples("polymer_dose")[0] / 1.2
    assert dose / plain == pytest.approx([1.2, 1.06, 1.4], rel=1e-6)


@pytest.mark.parametrize("kind", EVERY)
def test_rows_are_told_with_their_basis(kind: str) -> None:
    """Every row has ascending places, a size around 1, and a mark unless it was read as it is."""
    for trend in trends(Kind(kind)):
        assert trend.lever in LEVERS
        assert list(trend.at) == sorted(set(trend.at))
        assert len(trend.at) == len(trend.effect)
        assert trend.low <= 1.0 <= trend.high
        assert trend.note
        guessed = set(trend.source.split()) <= {"JUDGEMENT", "PRACTICE", "MEM", "OWN"}
        assert not guessed or trend.mark is not Mark.NONE
