"""Local clocks and UTC."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from cakewright.errors import UnknownNameError
from cakewright.running.clock import local_from_utc, utc_from_local, zone_steps


def _seconds(text: str) -> int:
    return int((datetime.fromisoformat(text) - datetime(1970, 1, 1)).total_seconds())


@pytest.mark.parametrize("zone", ["UTC", "Europe/Vienna", "America/New_York", "Australia/Sydney"])
def test_agrees_with_the_standard_library(zone: str) -> None:
    """Offsets through three years are those of the standard library."""
    utc = np.arange(1_640_000_000, 1_740_000_000, 1_234_567, dtype=np.int64)
    expected = [
        int(datetime.fromtimestamp(int(t), ZoneInfo(zone)).replace(tzinfo=None).timestamp())
        - int(datetime.fromtimestamp(int(t), ZoneInfo("UTC")).replace(tzinfo=None).timestamp())
        for t in utc
    ]
    assert (local_from_utc(utc, zone) - utc).tolist() == expected


def test_spring_hour_that_never_was() -> None:
    """Only clock readings inside the skipped hour are marked."""
    local = np.array([_seconds(f"2024-03-31T{h}:30") for h in ("01", "02", "03")])
    assert utc_from_local(local, "Europe/Vienna").never.tolist() == [False, True, False]


def test_autumn_hour_with_and_without_the_second_pass() -> None:
    """A jump back tells the passes apart; without one the reading is marked as ambiguous."""
    twice = [_seconds(f"2024-10-27T{h}") for h in ("02:00", "02:30", "02:00", "02:30")]
    both = utc_from_local(np.array(twice), "Europe/Vienna")
    assert np.diff(both.utc).tolist() == [1800, 1800, 1800]
    assert not both.twice.any()
    once = utc_from_local(np.array(twice[:2]), "Europe/Vienna")
    assert once.twice.all()
    assert once.utc.tolist() == both.utc[:2].tolist()


def test_unknown_zone() -> None:
    """A zone that does not exist is named."""
    with pytest.raises(UnknownNameError, match="Europe/Nowhere"):
        zone_steps("Europe/Nowhere")
