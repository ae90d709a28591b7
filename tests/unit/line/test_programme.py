"""Programme: as early as what a step waits for allows; the longest way decides the end."""

from __future__ import annotations

from dataclasses import replace

import pytest

from cakewright.errors import DataError
from cakewright.line.programme import ProgrammeStage, programme_stages, scheduled


def _stage(key: str, long: float, *after: str) -> ProgrammeStage:
    return ProgrammeStage(key, key, long / 2, long, 2 * long, after, "")


def test_longest_way_by_hand() -> None:
    """a (2) then b (5) beside c (3), then d (1): ends at 8; c may slip by 2 and does not decide."""
    steps = scheduled((_stage("a", 2), _stage("b", 5, "a"), _stage("c", 3, "a"),
                       _stage("d", 1, "b", "c")))  # fmt: skip
    assert [(s.start, s.end) for s in steps] == [(0, 2), (2, 7), (2, 5), (7, 8)]
    assert [s.decides for s in steps] == [True, True, False, True]


def test_usual_programme_is_whole() -> None:
    """Only the first step waits for nothing; only the test is waited for by none; low < high."""
    stages = programme_stages()
    assert [s.key for s in stages if not s.after] == ["design"]
    waited = {key for s in stages for key in s.after}
    assert [s.key for s in stages if s.key not in waited] == ["test"]
    ends = [max(s.end for s in scheduled(stages, way)) for way in ("low", "typical", "high")]
    assert ends == sorted(ends)
    assert all(s.low <= s.typical <= s.high for s in stages)


def test_a_step_that_waits_for_what_comes_later_is_refused() -> None:
    """The step and what it waits for are named."""
    stages = programme_stages()
    early = replace(stages[0], after=("test",))
    with pytest.raises(DataError, match="step design"):
        scheduled((early, *stages[1:]))
