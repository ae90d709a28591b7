"""A simulated week, minute by minute, over many random weeks at once.

Levels, shifts, polymer batches, rinse bursts, skip changes, breakdown and repair. Arrays run over
weeks; the loop runs over minutes. A discrete-event library would run one week at a time.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.random import Generator

from cakewright.errors import OutOfRangeError
from cakewright.line.storage import MINUTES
from cakewright.line.week_plan import Scenario, WeekPlan, scenario_plan
from cakewright.quantities import FloatArray
from cakewright.quantities.constants import MINUTE

__all__ = ["WeekOutcome", "simulate_weeks", "storage_at_risk", "worst_weeks"]

_DAY_MINUTES = 1440


@dataclass(frozen=True, slots=True, eq=False)
class WeekOutcome:
    """What many weeks came to; arrays over weeks unless said otherwise.

    Volumes [m3], masses [kg], times [s]. ``content_hourly`` and ``running_hourly`` are
    (168, weeks): content at each full hour and share of that hour run. ``closure`` is the largest
    relative gap of the volume balance over the weeks.
    """

    scenario: Scenario
    seed: int
    arrived: FloatArray
    arrived_solids: FloatArray
    pressed: FloatArray
    pressed_solids: FloatArray
    spilled: FloatArray
    run_time: FloatArray
    starts: FloatArray
    peak_content: FloatArray
    end_content: FloatArray
    start_content: FloatArray
    active_polymer: FloatArray
    solution: FloatArray
    batches: FloatArray
    wash_water: FloatArray
    cake: FloatArray
    skips_filled: FloatArray
    wait_polymer: FloatArray
    wait_skip: FloatArray
    down_time: FloatArray
    content_hourly: FloatArray
    running_hourly: FloatArray
    closure: float

    @property
    def overflow_risk(self) -> float:
        """Share of weeks in which the feed tank ran over."""
        return float((self.spilled > 1e-9).mean())

    @property
    def overflow_risk_error(self) -> float:
        """Standard error of that share (never below one part in the number of weeks)."""
        n, p = self.spilled.size, self.overflow_risk
        return max(float(np.sqrt(p * (1 - p) / n)), 1.0 / n)

    @property
    def unmet_share(self) -> FloatArray:
        """Share of the week's solids neither pressed nor explained by an emptier tank."""
        kept_back = np.maximum(self.end_content - self.start_content, 0.0) + self.spilled
        return np.asarray(kept_back / np.maximum(self.arrived, 1e-12))


class _Machines:
    """Up and down clocks of shafts, machines and the single items; columns are units."""

    __slots__ = ("clock", "down", "groups", "rng", "up")

    def __init__(self, plan: WeekPlan, scenario: Scenario, weeks: int, rng: Generator) -> None:
        times: list[tuple[float, float]] = []
        self.groups: list[tuple[slice, slice, int]] = []
        for g in plan.groups:
            first = len(times)
            times += [plan.shaft_times] * (g.machines * g.shafts)
            middle = len(times)
            times += [plan.machine_times] * g.machines
            self.groups.append((slice(first, middle), slice(middle, len(times)), g.shafts))
        times.append(plan.item_times)
        self.up, self.down = np.array(times).T
        self.rng = rng
        shape = (weeks, len(times))
        if not scenario.breakdowns:
            self.clock = np.full(shape, np.inf)
            return
        failed = rng.random(shape) < self.down / (self.up + self.down)
        # a positive clock counts down to failure, a negative one up to repair
        self.clock = np.where(
            failed, -rng.exponential(self.down, shape), rng.exponential(self.up, shape)
        )

    def step(self, running: FloatArray) -> None:
        """One minute: shafts age while they run, repairs go on by day and night."""
        up = self.clock > 0
        new = np.where(up, self.clock - running[:, None] * MINUTE, self.clock + MINUTE)
        turned = (new > 0) != up
        if turned.any():
            rows, columns = np.nonzero(turned)
            was_up = up[rows, columns]
            drawn = np.where(
                was_up,
                -self.rng.exponential(self.down[columns]),
                self.rng.exponential(self.up[columns]),
            )
            new[rows, columns] = drawn
        self.clock = new

    def stand(self, time: float) -> None:
        """A standstill: repairs go on, nothing ages."""
        down = self.clock < 0
        if time <= 0 or not down.any():
            return
        rows, columns = np.nonzero(down)
        left = self.clock[rows, columns] + time
        drawn = self.rng.exponential(self.up[columns])
        self.clock[rows, columns] = np.where(left >= 0, drawn, left)

    def shafts_up(self, group: int) -> FloatArray:
        """Shafts of one group that can run, over weeks."""
        shafts, machines, per_machine = self.groups[group]
        up = self.clock[:, shafts] > 0
        whole = np.repeat(self.clock[:, machines] > 0, per_machine, axis=1)
        return np.asarray((up & whole).sum(axis=1), dtype=float)

    @property
    def line_up(self) -> FloatArray:
        """1 where the single items are up."""
        return np.asarray(self.clock[:, -1] > 0, dtype=float)


@dataclass(slots=True)
class _State:
    """Everything that moves, over weeks."""

    content: FloatArray
    solids: FloatArray
    running: FloatArray
    ready: FloatArray
    making: FloatArray
    skip: FloatArray
    full_skips: FloatArray
    changing: FloatArray
    washed: FloatArray
    sums: dict[str, FloatArray]


_SUMS = (
    "arrived",
    "arrived_solids",
    "pressed",
    "pressed_solids",
    "spilled",
    "run_time",
    "starts",
    "active_polymer",
    "solution",
    "batches",
    "wash_water",
    "cake",
    "skips_filled",
    "wait_polymer",
    "wait_skip",
    "down_time",
    "peak_content",
)


def _fresh_sums(weeks: int) -> dict[str, FloatArray]:
    return {name: np.zeros(weeks) for name in _SUMS}


def _start(plan: WeekPlan, weeks: int) -> _State:
    content = np.full(weeks, plan.start_content)
    return _State(
        content=content,
        solids=content * plan.total_solids * plan.density,
        running=np.zeros(weeks),
        ready=np.full(weeks, plan.batch_volume),
        making=np.zeros(weeks),
        skip=np.zeros(weeks),
        full_skips=np.zeros(weeks),
        changing=np.zeros(weeks),
        washed=np.zeros(weeks),
        sums=_fresh_sums(weeks),
    )


def _spread(rng: Generator, relative: float, shape: tuple[int, ...]) -> FloatArray:
    """Factors around 1 with a relative standard deviation, never negative (lognormal)."""
    if relative <= 0:
        return np.ones(shape)
    sigma = np.sqrt(np.log1p(relative**2))
    return np.asarray(rng.lognormal(-(sigma**2) / 2, sigma, shape))


def _arrive(state: _State, plan: WeekPlan, volume: FloatArray, concentration: FloatArray) -> None:
    """Production of the minute; what does not fit runs over, and is counted."""
    arriving = volume * concentration
    state.sums["arrived"] += volume
    state.sums["arrived_solids"] += arriving
    state.content += volume
    state.solids += arriving
    over = np.maximum(state.content - plan.tank_volume, 0.0)
    if over.any():
        state.sums["spilled"] += over
        state.solids *= 1 - over / np.maximum(state.content, 1e-12)
        state.content -= over
    np.maximum(state.sums["peak_content"], state.content, out=state.sums["peak_content"])


def _capacity(
    plan: WeekPlan, shafts_up: Sequence[FloatArray], concentration: FloatArray
) -> FloatArray:
    """Volume per second the shafts that are up can take, over weeks."""
    total = np.zeros(concentration.shape)
    for up, g in zip(shafts_up, plan.groups, strict=True):
        each = np.minimum(g.solids_capacity / np.maximum(concentration, 1e-9), g.flow_capacity)
        total += up * each
    return total


def _switch(state: _State, plan: WeekPlan, able: FloatArray, draw: FloatArray) -> None:
    """Start at the start level, stop when less than a minute's draw is left or something fails."""
    level = np.where(state.running > 0, draw, np.maximum(draw, plan.start_level))
    now = (state.content >= level) * able
    state.sums["starts"] += (now > 0) & (state.running == 0)
    state.running = np.asarray(now, dtype=float)


def _press(state: _State, draw: FloatArray, shift: float, concentration: FloatArray) -> FloatArray:
    """Volume pressed in the minute; returns the dry solids of it."""
    volume = np.minimum(draw * state.running, state.content)
    solids = volume * concentration
    state.content -= volume
    state.solids -= solids
    state.sums["pressed"] += volume
    state.sums["pressed_solids"] += solids
    state.sums["run_time"] += state.running * (shift * MINUTE)
    return np.asarray(solids)


def _polymer_ready(state: _State, plan: WeekPlan, need: FloatArray) -> FloatArray:
    """Change to the other tank when it is aged; 1 where the need of the minute can be met."""
    if plan.batch_volume <= 0:
        return np.ones(need.shape)
    state.making = np.maximum(state.making - MINUTE, 0.0)
    change = (state.ready < need) & (state.making <= 0)
    if change.any():
        state.ready = np.where(change, state.ready + plan.batch_volume, state.ready)
        state.making = np.where(change, plan.batch_time, state.making)
        state.sums["batches"] += change
    return np.asarray(state.ready >= need, dtype=float)


def _cake(state: _State, plan: WeekPlan, solids: FloatArray) -> None:
    """Cake into the skip; a full one is changed while the line stands."""
    mass = solids * plan.cake_per_solids
    state.sums["cake"] += mass
    state.skip += mass
    state.changing = np.maximum(state.changing - MINUTE, 0.0)
    full = (state.skip >= plan.skip_load) & (state.full_skips < plan.skips - 1)
    if full.any():
        state.skip = np.where(full, state.skip - plan.skip_load, state.skip)
        state.full_skips += full
        state.changing = np.where(full, plan.skip_change_time, state.changing)
        state.sums["skips_filled"] += full


def _wash(state: _State, plan: WeekPlan, shafts_up: Sequence[FloatArray], shift: float) -> None:
    """Rinse bursts at their interval of running, one per shaft that is up."""
    before = state.washed
    state.washed = before + state.running * (MINUTE * shift)
    for up, g in zip(shafts_up, plan.groups, strict=True):
        if g.wash_per_burst <= 0:
            continue
        bursts = np.floor(state.washed / g.wash_interval) - np.floor(before / g.wash_interval)
        if bursts.any():
            state.sums["wash_water"] += bursts * up * g.wash_per_burst


def _stand(state: _State, machines: _Machines, time: float) -> None:
    """What goes on while nothing runs: repair, ageing of a batch, a skip change."""
    machines.stand(time)
    state.making = np.maximum(state.making - time, 0.0)
    state.changing = np.maximum(state.changing - time, 0.0)
    state.running = np.zeros_like(state.running)


def _haul(state: _State, plan: WeekPlan, minute: int) -> None:
    """Full skips leave at noon on trip days."""
    day, time = divmod(minute, _DAY_MINUTES)
    if time == _DAY_MINUTES // 2 and day < plan.trip_days:
        state.full_skips[:] = 0.0


def _out(plan: WeekPlan, number: int) -> tuple[int, ...]:
    """Shafts out per group: from the group with the largest shafts first."""
    left, out = number, [0] * len(plan.groups)
    order = sorted(range(len(out)), key=lambda k: -plan.groups[k].solids_capacity)
    for k in order:
        out[k] = min(left, plan.groups[k].machines * plan.groups[k].shafts)
        left -= out[k]
    return tuple(out)


def _minute(
    state: _State, plan: WeekPlan, machines: _Machines, out: Sequence[int], shift: float
) -> None:
    """One minute of a shift in all weeks; production has arrived already."""
    concentration = state.solids / np.maximum(state.content, 1e-12)
    shafts_up = [np.maximum(machines.shafts_up(k) - n, 0.0) for k, n in enumerate(out)]
    capacity = _capacity(plan, shafts_up, concentration)
    draw = np.minimum(capacity, plan.pump_flow) * (MINUTE * shift)
    need = draw * concentration * (plan.dose * plan.solution_per_active)
    ready = _polymer_ready(state, plan, need)
    up = machines.line_up * (capacity > 0)
    space = (state.changing <= 0) & (state.skip < plan.skip_load)
    work = state.content >= draw
    state.sums["down_time"] += MINUTE * shift * (up == 0)
    state.sums["wait_polymer"] += MINUTE * shift * ((ready == 0) & (up > 0) & work)
    state.sums["wait_skip"] += MINUTE * shift * (~space & (up > 0) & (ready > 0) & work)
    _switch(state, plan, up * ready * space, draw)
    solids = _press(state, draw, shift, concentration)
    active = solids * plan.dose
    used = active * plan.solution_per_active
    state.sums["active_polymer"] += active
    state.sums["solution"] += used
    if plan.batch_volume > 0:
        state.ready -= used
    _wash(state, plan, shafts_up, shift)
    _cake(state, plan, solids)
    machines.step(state.running)


def _one_week(
    state: _State, plan: WeekPlan, machines: _Machines, out: Sequence[int], rng: Generator
) -> tuple[FloatArray, FloatArray]:
    """Seven days; returns content and run share per hour."""
    weeks = state.content.size
    flows = _spread(rng, plan.flow_spread, (7, weeks)) * plan.volume_per_week
    thick = _spread(rng, plan.solids_spread, (7, weeks)) * plan.total_solids * plan.density
    content, ran = np.empty((168, weeks)), np.empty((168, weeks))
    before = state.sums["run_time"].copy()
    stood = 0.0
    for minute in range(MINUTES):
        day, shift = minute // _DAY_MINUTES, float(plan.running[minute])
        _arrive(state, plan, flows[day] * plan.inflow[minute], thick[day])
        _haul(state, plan, minute)
        if shift <= 0:
            stood += MINUTE
        else:
            if stood:
                _stand(state, machines, stood)
                stood = 0.0
            _minute(state, plan, machines, out, shift)
        if minute % 60 == 59:
            content[minute // 60] = state.content
            ran[minute // 60] = (state.sums["run_time"] - before) / 3600.0
            before = state.sums["run_time"].copy()
    _stand(state, machines, stood)
    return content, ran


def simulate_weeks(
    plan: WeekPlan,
    scenario: Scenario | None = None,
    *,
    weeks: int = 1000,
    seed: int = 1,
    warm_up: int = 1,
) -> WeekOutcome:
    """Play ``weeks`` random weeks, each after ``warm_up`` weeks of its own that are not counted.

    Raises
    ------
    OutOfRangeError
        If no week is asked for, or more shafts are out than there are.
    """
    if weeks < 1 or warm_up < 0:
        raise OutOfRangeError(
            f"simulated week: got {weeks} weeks after {warm_up}; allowed: at least 1 after 0 or "
            "more; 1000 gives an overflow risk to about one percent"
        )
    scenario = scenario or Scenario()
    played = scenario_plan(plan, scenario)
    rng = np.random.default_rng(seed)
    machines, out = _Machines(played, scenario, weeks, rng), _out(played, scenario.shafts_out)
    state = _start(played, weeks)
    for _ in range(warm_up):
        _one_week(state, played, machines, out, rng)
    state.sums = _fresh_sums(weeks)
    begun = state.content.copy()
    content, ran = _one_week(state, played, machines, out, rng)
    sums = state.sums
    moved = begun + sums["arrived"] - sums["pressed"] - sums["spilled"] - state.content
    gap = np.abs(moved) / np.maximum(sums["arrived"] + begun, 1e-12)
    return WeekOutcome(
        scenario=scenario,
        seed=seed,
        end_content=state.content,
        start_content=begun,
        content_hourly=content,
        running_hourly=ran,
        closure=float(gap.max()),
        **sums,
    )


def storage_at_risk(
    plan: WeekPlan,
    scenario: Scenario | None = None,
    *,
    risk: float = 0.01,
    weeks: int = 1000,
    seed: int = 1,
    warm_up: int = 1,
) -> float:
    """Usable feed-tank volume that runs over in at most ``risk`` of the weeks. [m3]

    Raises
    ------
    OutOfRangeError
        If the risk is not between 0 and 1, or too small for the number of weeks.
    """
    if not 1.0 / weeks <= risk < 1:
        raise OutOfRangeError(
            f"risk: got {risk:g} with {weeks} weeks; allowed: {1.0 / weeks:g} to below 1; "
            "play more weeks for a smaller risk"
        )
    endless = replace(plan, tank_volume=np.inf)
    outcome = simulate_weeks(endless, scenario, weeks=weeks, seed=seed, warm_up=warm_up)
    return float(np.quantile(outcome.peak_content, 1 - risk, method="higher"))


def worst_weeks(
    plan: WeekPlan,
    *,
    weeks: int = 1000,
    seed: int = 1,
    progress: Callable[[str, float | None], None] = lambda words, share: None,
) -> tuple[WeekOutcome, ...]:
    """The usual questions: as designed, one shaft out, thinner, thicker, the year's worst week.

    Thinner and thicker are half and one and a half times the solids; the worst week is that of
    the line's cases. ``progress`` is told the question
    being played and the share that is done.
    """
    questions = (
        Scenario(),
        Scenario("one shaft out", shafts_out=1),
        Scenario("feed half as thick", solids_factor=0.5),
        Scenario("feed half as thick again", solids_factor=1.5),
        Scenario("worst week of the year", load_factor=plan.worst_load),
    )
    played = []
    for number, question in enumerate(questions):
        progress(question.name, number / len(questions))
        played.append(simulate_weeks(plan, question, weeks=weeks, seed=seed))
    return tuple(played)
