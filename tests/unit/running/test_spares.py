"""Spares: when each part falls due, when to order it, which shaft goes first."""

from __future__ import annotations

import numpy as np
import pytest

from cakewright.errors import DataError
from cakewright.quantities import Mark
from cakewright.running.service import QuietTime, ShaftState
from cakewright.running.shifts import ShiftTable
from cakewright.running.spares import Part, parse_parts, parts_due, service_stop, shipped_parts

HOUR, DAY = 3600.0, 86400.0


def _table(shifts: int = 100) -> ShiftTable:
    """Shaft 1 runs six of eight hours with a start a shift, shaft 2 half of that without."""
    run, span = np.full(shifts, 6 * HOUR), np.full(shifts, 8 * HOUR)
    start = 19_724 * 86400 + np.arange(shifts, dtype=np.int64) * 8 * 3600
    return ShiftTable(
        start, span, run, span, np.ones(shifts), {}, {},
        {1: run, 2: run / 2}, {1: np.ones(shifts), 2: np.zeros(shifts)},
    )  # fmt: skip


def _shafts(trend: tuple[float, float] | None = None) -> list[ShaftState]:
    return [ShaftState(n, 600 * HOUR / n, 100, None, None, trend) for n in (1, 2)]


def _part(**more: object) -> Part:
    plain: dict[str, object] = {
        "key": "p", "label": "part", "per": "shaft", "pieces": 1, "life": 1000 * HOUR, "starts": 0,
        "lead": 5 * DAY, "sign": "", "sign_limit": 0.0, "mark": Mark.NONE, "source": "",
    }  # fmt: skip
    return Part(**(plain | more))  # type: ignore[arg-type]


def test_due_by_hours_and_order_before() -> None:
    """600 and 300 of 1000 h used at 18 and 9 h a day: due in 22 and 78 d, order 5 d sooner."""
    one, two = parts_due(_table(), [_part()], _shafts())
    assert (one.shaft, two.shaft) == (1, 2)
    assert one.due_in == pytest.approx(400 / 18 * DAY)
    assert two.due_in == pytest.approx(700 / 9 * DAY)
    assert one.order_in == pytest.approx((400 / 18 - 5) * DAY)
    assert one.by == "hours"


def test_hours_of_before_count() -> None:
    """Run time a part already had when the log begins brings it forward; past due is now."""
    one, two = parts_due(_table(), [_part()], _shafts(), None, {"p": (500 * HOUR, 100 * HOUR)})
    assert one.due_in == 0
    assert one.order_in == 0
    assert two.due_in == pytest.approx(600 / 9 * DAY)


def test_starts_decide_where_they_come_first() -> None:
    """110 starts allowed, 100 made at three a day: three days and a bit, before the hours."""
    one = parts_due(_table(), [_part(starts=110)], _shafts())[0]
    assert one.by == "starts"
    assert one.due_in == pytest.approx(10 / 3 * DAY)


def test_wear_brings_it_forward_only_when_sure() -> None:
    """Torque up 30 % per 1000 h reaches 25 % after 833 h of running; a doubtful rise counts not."""
    part = _part(life=1e9, sign="torque", sign_limit=0.25)
    sure = parts_due(_table(), [part], _shafts((0.3, 0.05)))[0]
    assert sure.by == "wear"
    assert sure.due_in == pytest.approx((250 / 0.3 - 600) / 18 * DAY)
    assert parts_due(_table(), [part], _shafts((0.3, 0.3)))[0].by == "hours"


def test_part_of_the_machine_follows_the_machine() -> None:
    """One row for the machine, whatever the shafts; loss of solids may speak for it."""
    part = _part(per="machine", sign="loss", sign_limit=0.3, life=1e9)
    (one,) = parts_due(_table(), [part], _shafts(), (0.4, 0.1))
    assert one.shaft == 0
    assert one.due_in == pytest.approx((300 / 0.4 - 600) / 18 * DAY)


def test_stop_takes_the_shaft_due_first_at_the_quietest_time() -> None:
    """The soonest reason names the shaft; the shift is one the others carry, with least load."""
    shafts = [
        ShaftState(1, 0.0, 0, 1.0, 40 * DAY, None), ShaftState(2, 0.0, 0, 1.0, 50 * DAY, None),
    ]  # fmt: skip
    quiet = [QuietTime(8, 1, 0.02, 1.0), QuietTime(0, 1, 0.01, 0.7), QuietTime(4, 1, 0.01, 1.0)]
    plain = service_stop(shafts, (), quiet)
    assert plain is not None
    assert (plain.shaft, plain.why, plain.quiet) == (1, "its service", quiet[2])
    due = parts_due(_table(), [_part()], _shafts())
    stop = service_stop(shafts, due, ())
    assert stop is not None
    assert (stop.shaft, stop.why, stop.quiet) == (1, "part (hours)", None)
    assert service_stop(_shafts(), (), quiet) is None


def test_shipped_list_says_that_it_is_invented() -> None:
    """Every interval of the shipped list carries the mark."""
    assert shipped_parts()
    assert {part.mark for part in shipped_parts()} == {Mark.INVENTED}


def test_parts_file_faults_all_at_once() -> None:
    """Wrong place, no interval, a sign without limit, a stray key: all named in one go."""
    text = """
[parts.a]
per = "belt"
life_h = 10
[parts.b]
per = "shaft"
[parts.c]
per = "shaft"
life_h = -3
starts = 5
sign = "torque"
maker = "x"
"""
    with pytest.raises(DataError) as caught:
        parse_parts(text)
    assert {fault.where for fault in caught.value.faults} == {
        "parts.a.per", "parts.b", "parts.c.life_h", "parts.c.sign_limit", "parts.c.maker",
    }  # fmt: skip
