"""Published performance rows and pilot points against the envelopes we start from."""

from __future__ import annotations

import csv
import tomllib
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from cakewright.errors import UnknownNameError
from cakewright.machines import Duty, Kind, envelope, machine_types
from cakewright.reference import (
    PerformanceRow,
    performance_band,
    performance_rows,
    sludge_classes,
)
from cakewright.sludge import Composition, Feed, Sludge, blend

Case = dict[str, Any]
ASKED = {
    "cake_ts": ("cake_ts",),
    "capture": ("capture",),
    "polymer_active": ("polymer_active", "polymer_dose"),
}
PLATES = (Kind.CHAMBER_PRESS.value, Kind.MEMBRANE_PRESS.value)
# The envelopes a cake's row answers for, by what its source says of the conditioning.
CONDITIONED = {
    "polymer": ("polymer",),
    "lime": ("lime",),
    "iron and lime": ("iron and lime",),
    "lime or polymer": ("lime", "polymer"),
    "any": ("polymer", "lime", "iron and lime"),
    # no envelope is for aluminium salts alone: they leave few solids in the cake, as polymer does
    "aluminium": ("polymer",),
}
_DATA = Path(__file__).parent / "data"
PILOT = tuple(
    csv.DictReader(
        line
        for line in (_DATA / "pilot_decanter.csv").read_text(encoding="utf-8").splitlines()
        if not line.startswith("#")
    )
)
DISAGREE = tomllib.loads((_DATA / "machines_bands.toml").read_text(encoding="utf-8"))["disagree"]


def _feed(sludge_class: str, total_solids: float) -> Feed:
    return blend([Sludge.of("one", sludge_class, 0.05, Composition(total_solids, 0.3))])


def _rows() -> Iterator[tuple[PerformanceRow, str, str]]:
    for kind in Kind:
        for key, one in sludge_classes().items():
            for quantity, words in ASKED.items():
                for row in performance_rows(kind.value):
                    mine = row.quantity in words and row.sludge in one.words
                    if mine and row.kind.value == "published" and row.unit in ("1", "kg/kg"):
                        yield row, key, quantity


ROWS = tuple(_rows())


def _own_ends(row: PerformanceRow, key: str, quantity: str) -> tuple[float, float]:
    """Lowest and highest of the envelopes of the conditionings this row may have had.

    Where a plate press's source states none, it may have been any; the doses between leave cakes
    between. Other machines are conditioned with polymer unless their source says otherwise.
    """
    unstated = "any" if row.machine in PLATES else "polymer"
    word = unstated if row.conditioning == "not stated" else row.conditioning
    asked = CONDITIONED[word] if quantity == "cake_ts" else ("polymer",)
    found = []
    for one in asked:
        with suppress(UnknownNameError):  # not every sludge has an envelope with lime alone
            found.append(performance_band(row.machine, key, quantity, conditioning=one))
    return min(band.low for band in found), max(band.high for band in found)


@pytest.mark.parametrize(("row", "key", "quantity"), ROWS, ids=[row.row for row, *_ in ROWS])
def test_published_row_lies_in_the_envelope(
    row: PerformanceRow, key: str, quantity: str, prove: Callable[..., None]
) -> None:
    """The middle of a published row lies in the envelope of its own conditioning, or is told apart.

    A cake with iron and lime is weighed with the chemicals inside: it says nothing about polymer.
    """
    low, high = _own_ends(row, key, quantity)
    given = row.given
    middle = row.typical if row.typical is not None else (given[0] + given[-1]) / 2.0
    nearest = float(np.clip(middle, low - 1e-12, high + 1e-12))
    case = {
        "id": f"band-{row.row}",
        "source": row.source,
        "where": row.where,
        "status": "published",
        "read": row.conditions or "figure",
        "quantity": f"{row.machine} on {row.sludge}: {quantity}, nearest point of the envelope",
        "expected": middle,
        "tolerance": 1e-9,
        "reason": "inside the envelope",
        "disagrees": DISAGREE.get(row.row, ""),
    }
    prove(case, nearest, within=True)


def test_every_disagreement_is_still_a_row() -> None:
    """The list of rows told apart names rows that exist."""
    assert set(DISAGREE) <= {row.row for row, *_ in ROWS}


def test_pilot_decanter_cake_lies_in_the_decanter_band() -> None:
    """All pilot points lie where the band can reach; four in five between 10 and 90 %."""
    cake = np.array([float(p["cake_ts_pct"]) for p in PILOT if p["cake_ts_pct"]]) / 100.0
    spread = envelope(
        Kind.DECANTER, _feed("ad_mixed", 0.023), Duty(), np.array([0.001, 0.1, 0.9, 0.999])
    ).samples("cake_solids")
    assert cake.size == 35
    assert spread[0] <= cake.min()
    assert cake.max() <= spread[3]
    assert np.mean((cake >= spread[1]) & (cake <= spread[2])) >= 0.8


def test_pilot_decanter_capture_with_enough_polymer() -> None:
    """Accepted pilot points (over 95 %) lie at or above the typical capture of the band."""
    accepted = [
        float(p["separation_ratio_pct"]) / 100.0
        for p in PILOT
        if p["separation_ratio_pct"] and float(p["separation_ratio_pct"]) > 95.0
    ]
    low, top = envelope(
        Kind.DECANTER, _feed("ad_mixed", 0.023), Duty(), np.array([0.1, 0.999])
    ).samples("capture")
    assert len(accepted) >= 20
    assert low <= min(accepted)
    assert float(np.median(accepted)) <= top


@pytest.mark.parametrize(
    ("total_solids", "plant_kwh_t", "source"), [(0.034, 111.8, "P09"), (0.026, 169.2, "P10")]
)
def test_plant_decanter_energy_lies_in_the_band(
    total_solids: float, plant_kwh_t: float, source: str
) -> None:
    """Energy per tonne of two plants lies in the band made from energy per volume (W6, W7)."""
    energy = envelope(Kind.DECANTER, _feed("ad_mixed", total_solids), Duty(), np.array([0.1, 0.9]))
    low, high = energy.samples("specific_energy") / 3600.0
    assert source in (energy["specific_energy"].source or "").split()
    assert low <= plant_kwh_t <= high


def test_published_ordering_of_machines_on_one_sludge() -> None:
    """On digested biological sludge a decanter is typically drier than screw and belt presses."""
    cake = {
        kind: one.performance(_feed("ad_was", 0.03), Duty()).samples("cake_solids")[0]
        for kind, one in machine_types().items()
    }
    assert cake[Kind.BELT_PRESS] <= cake[Kind.SCREEN_DRUM_SCREW_PRESS] < cake[Kind.DECANTER]
    assert cake[Kind.MULTI_DISC_SCREW_PRESS] < cake[Kind.DECANTER] < cake[Kind.MEMBRANE_PRESS]


@pytest.mark.parametrize("total_solids", [0.01, 0.02])
def test_common_practice_ratios(total_solids: float) -> None:
    """Defaults stand near common practice: a check of consistency, for which there is no source."""
    feed = _feed("was", total_solids)
    figures = {kind: one.performance(feed, Duty()) for kind, one in machine_types().items()}
    disc, belt, spun = (
        figures[kind] for kind in (Kind.MULTI_DISC_SCREW_PRESS, Kind.BELT_PRESS, Kind.DECANTER)
    )
    energy = disc.samples("specific_energy")[0]
    assert belt.samples("specific_energy")[0] / energy == pytest.approx(2.0, rel=0.2)
    assert spun.samples("specific_energy")[0] / energy >= 7.0 * 0.95
    water = disc.samples("wash_water_specific")[0]
    assert belt.samples("wash_water_specific")[0] / water == pytest.approx(17.0, rel=0.1)
    assert spun.samples("wash_water_specific")[0] / water == pytest.approx(1.0, rel=0.25)
