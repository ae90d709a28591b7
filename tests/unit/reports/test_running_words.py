"""Plain words for dates, moves, chances and causes."""

from __future__ import annotations

import math

import numpy as np
import pytest

from cakewright.quantities import FloatArray
from cakewright.reports.numbers import Units
from cakewright.reports.running_small_chart import small_chart
from cakewright.reports.running_words import (
    amount,
    day,
    day_long,
    drift_title,
    move_text,
    promise_verdict,
    share_text,
    value_text,
)
from cakewright.running.diagnosis import FEATURES, Move, diagnose, material
from cakewright.running.indicators import Against
from cakewright.running.investigate import Drift
from cakewright.running.watching import Alarm, ChartKind


def test_dates() -> None:
    """Seconds on the site's clock read as a date."""
    assert day(1_717_459_200) == "4 Jun 2024"
    assert day_long(1_717_459_200) == "Tuesday 4 June 2024"


@pytest.mark.parametrize(
    ("share", "words"), [(0.0, "under 1 %"), (0.42, "42 %"), (1.0, "over 99 %")]
)
def test_chances_are_never_certain(share: float, words: str) -> None:
    """Nothing is 0 or 100 %."""
    assert share_text(share) == words


@pytest.mark.parametrize(
    ("chance", "words"), [(0.95, "kept"), (0.5, "cannot be said yet"), (0.05, "not kept")]
)
def test_verdicts(chance: float, words: str) -> None:
    """A promise is kept, not kept, or open, at nine chances in ten."""
    assert promise_verdict(Against("cake_solids", 0.2, 0.01, 0.19, chance, 1.0, 9)) == words


def test_moves_in_plain_units() -> None:
    """A move reads as percent, kelvin or share, with its direction."""
    log_up = math.log(1.10) / material()["dose"]
    log_down = math.log(0.90) / material()["dose"]
    assert amount("dose", log_up) == "10 % higher"
    assert amount("dose", log_down) == "10 % lower"
    assert amount("feed_temperature", -0.25 / material()["feed_temperature"]) == "10 K lower"
    assert amount("g_water", -0.08 / material()["g_water"]) == "−8 % of what enters"
    assert move_text("r_loss", log_up).startswith("solids lost with the filtrate")
    assert "than this feed and these settings should give" in move_text("r_loss", 1.0)


@pytest.mark.parametrize(
    ("size", "words"), [(2.5, "Most likely: screw turning faster"), (0.1, "cause open")]
)
def test_titles_are_worded_by_belief(size: float, words: str) -> None:
    """Strong belief says 'most likely'; weak belief says that the cause is open."""
    moves = {feature: Move(0.0, 0.1) for feature in FEATURES} | {"screw_speed": Move(size, 0.1)}
    alarm = Alarm(ChartKind.EWMA, 5, 1)
    assert words in drift_title(Drift("screw_speed", alarm, None, moves, diagnose(moves), ()))


def test_no_number_is_a_dash() -> None:
    """What cannot be said is a dash, not a nan."""
    assert value_text("cake_solids", float("nan"), Units.SI) == "–"


def test_small_chart_of_little() -> None:
    """A chart of gaps and of one reading is still a drawing."""
    times = 1_717_459_200 + 28_800 * np.arange(5, dtype=np.int64)
    nothing: FloatArray = np.full(5, np.nan)
    none = np.zeros(5, dtype=bool)
    for values in (nothing, np.arange(5.0)):
        svg = small_chart(times, values, values, 1.5, none, "feed <solids>", "words")
        assert svg.startswith("<svg")
        assert "nan" not in svg
        assert "feed &lt;solids&gt;" in svg
