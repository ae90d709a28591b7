"""The performance rows are all there and keep their numbers, units and marks."""

from __future__ import annotations

from collections import Counter

import pytest

from cakewright.quantities import Mark
from cakewright.reference import RowKind, envelope_rows, performance_rows


def test_counts_are_those_of_the_survey() -> None:
    """309 rows read, 95 recalled and 28 judged; none lost on the way."""
    count = Counter(row.row[:2] for row in performance_rows())
    assert count == {"1a": 309, "1c": 95, "1d": 28}
    kinds = Counter(row.kind for row in performance_rows())
    assert kinds[RowKind.PUBLISHED] == 309
    assert kinds[RowKind.FROM_MEMORY] == 95
    assert kinds[RowKind.PROXY] + kinds[RowKind.JUDGEMENT] == 28


def test_the_multi_disc_press_has_no_published_figure() -> None:
    """Nothing published was found for it, and no row pretends otherwise."""
    rows = performance_rows("multi_disc_screw_press")
    assert len(rows) == 8
    assert all(row.kind is RowKind.PROXY for row in rows)
    assert all("PROXY" in row.conditions for row in rows)


def test_marks_follow_the_kind() -> None:
    """Recalled rows say so, judged rows say so, read rows carry no mark."""
    for row in (*performance_rows(), *envelope_rows()):
        expected = {
            RowKind.PUBLISHED: Mark.NONE,
            RowKind.PRACTICE: Mark.NONE,
            RowKind.FROM_MEMORY: Mark.FROM_MEMORY,
            RowKind.JUDGEMENT: Mark.JUDGEMENT,
            RowKind.PROXY: Mark.JUDGEMENT,
        }[row.kind]
        assert row.mark is expected


def test_row_numbers_are_unique() -> None:
    """Every row can be pointed at."""
    names = [row.row for row in (*performance_rows(), *envelope_rows())]
    assert len(names) == len(set(names))


@pytest.mark.parametrize(
    ("machine", "sludge", "quantity", "source", "low", "typical", "high"),
    [
        ("decanter", "ad_mesophilic", "cake_ts", "P08", 0.219, 0.235, 0.239),
        ("decanter", "ad_mixed", "specific_energy_vol", "P10", None, 4.4 * 3.6e6, None),
        ("screen_drum_screw_press", "was", "polymer_dose", "P17", 0.0085, None, 0.011),
        ("screen_drum_screw_press", "ad", "solids_rate_per_machine", "P41", 1 / 60, None, 7 / 72),
        ("membrane_press", "ferric_wtp", "cycle_time", "P05", 3600.0, None, 7200.0),
        ("chamber_press", "any", "core_blow_pressure", "P05", 690e3, None, 1380e3),
        ("belt_press", "ad", "washwater", "P47", None, 121.133e-3 / 60, None),
    ],
)
def test_rows_keep_the_numbers_of_their_source(
    machine: str,
    sludge: str,
    quantity: str,
    source: str,
    low: float | None,
    typical: float | None,
    high: float | None,
) -> None:
    """Spot rows, converted by hand, come out in SI."""
    (row,) = (r for r in performance_rows(machine, sludge, quantity) if r.source == source)
    for got, expected in ((row.low, low), (row.typical, typical), (row.high, high)):
        assert got == (None if expected is None else pytest.approx(expected, rel=1e-4))


def test_no_row_uses_an_old_machine_key() -> None:
    """Machine keys are the house's own."""
    old = ("cyl_", "belt_filter", "decanter_centrifuge", "chamber_filter", "membrane_filter")
    assert not [row.machine for row in performance_rows() if row.machine.startswith(old)]


def test_envelopes_name_what_they_were_drawn_from() -> None:
    """Every envelope of our own names the rows or the practice behind it."""
    for row in envelope_rows():
        assert row.based_on, row
        assert row.kind is not RowKind.PUBLISHED
        assert row.low is not None
        assert row.high is not None
        assert row.low < (row.typical or 0.0) < row.high
