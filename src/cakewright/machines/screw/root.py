"""Where the pressing zone of a screw press starts: the root at which the plate's stress is met.

The stress is that of two marches, one on half the cells and steps, extrapolated to no steps at all
(both schemes are of second order). Reasons: ``docs/theory/press.md``.
"""

from __future__ import annotations

from functools import partial
from typing import Any, NamedTuple

from jax import Array

from cakewright.machines.screw.fused import fused_march
from cakewright.machines.screw.kernel import (
    Drained,
    PressEnd,
    ScrewCase,
    ScrewFrame,
    drain,
    drained_residence,
    earliest_start,
    press_march,
    standing_stress,
)
from cakewright.physics.expression.device import jax, jnp, lax

__all__ = ["Resolution", "Solved", "miss_from", "solve"]

_ROUGH = 3e-2  # ln stress at the plate within which the half mesh has done its part
_DONE = 2e-12  # product of the last three misses: what their parabola leaves of the last
_NEAR = 2e-6  # and the last of them
_TIGHT = 1e-6  # bracket over length within which the start is known, whatever the miss
_LEAST_FINE = 3  # marches a parabola needs


class Resolution(NamedTuple):
    """Cells, steps, most searches on half of both, most marches on the whole; static.

    ``fused`` marches in one piece of accelerator code (``fused``), derivatives apart.
    """

    cells: int
    steps: int
    searches: int
    polishes: int
    fused: bool = False


class Solved(NamedTuple):
    """Answer of the path, whatever its status; the caller masks what has no answer."""

    end: PressEnd
    start: Array
    earliest_network: Array  # sqrt(z/L)
    earliest_conveyed: Array  # sqrt(z/L)
    reach: Array  # ln(stress reachable at the plate / stress asked)
    head_excess: Array  # ln(head / stress asked): positive means the plate is not pressing
    found: Array  # whether the start was found
    short: Array  # whether the stress is out of reach
    drained_residence: Array


class _Settled(NamedTuple):
    end: PressEnd
    start: Array
    reach: Array
    verdict: Array  # 1 found, -1 the stress is out of reach, 0 neither


class _Search(NamedTuple):
    """Bracket, last three places with their misses and ends (latest first), who is done."""

    round: Array
    fine: Array  # marches on the whole mesh so far
    place: Array
    low: Array
    high: Array
    sure: Array  # whether the low end was marched on the whole mesh
    places: tuple[Array, Array, Array]
    misses: tuple[Array, Array, Array]
    ends: tuple[PressEnd, PressEnd, PressEnd]
    reach: Array
    done: Array
    short: Array  # not even the earliest start reaches the stress
    hopeless: Array  # no start can; one march tells the rest


def extrapolated(
    case: ScrewCase,
    frame: ScrewFrame,
    drained: Drained,
    start: Array,
    half: PressEnd,
    how: Resolution,
    creeps: bool,
) -> PressEnd:
    """End of a march extrapolated from the whole and half the number of cells and steps."""
    end = _end(case, frame, drained, start, how, 1, creeps)
    return PressEnd(*((4.0 * e - h) / 3.0 for e, h in zip(end, half, strict=True)))


def _on_half(
    case: ScrewCase,
    frame: ScrewFrame,
    drained: Drained,
    start: Array,
    how: Resolution,
    creeps: bool,
) -> PressEnd:
    return _end(case, frame, drained, start, how, 2, creeps)


def _end(
    case: ScrewCase,
    frame: ScrewFrame,
    drained: Drained,
    start: Array,
    how: Resolution,
    part: int,
    creeps: bool,
) -> PressEnd:
    """End of one march on a part of the cells and steps."""
    mesh = (how.cells // part, how.steps // part)
    if how.fused:
        return fused_march(case, frame, drained, start, *mesh, creeps)
    return press_march(case, frame, drained, start, *mesh, creeps)[0]


def _parabola(places: tuple[Array, ...], misses: tuple[Array, ...]) -> Array:
    """Root of the parabola place(miss) through three points; straight where two coincide."""
    (z0, z1, z2), (f0, f1, f2) = places, misses

    def apart(a: Array, b: Array) -> Array:
        return jnp.where(jnp.abs(a - b) > 1e-300, a - b, jnp.inf)

    first = (z0 - z1) / apart(f0, f1)
    other = (z1 - z2) / apart(f1, f2)
    bend = jnp.where(jnp.abs(f1 - f2) > 0.0, (first - other) / apart(f0, f2), 0.0)
    return z0 - f0 * (first - f1 * bend)


def _closed(misses: tuple[Array, ...]) -> Array:
    """Whether three misses are so small that their parabola leaves nothing."""
    small: Array = jnp.abs(misses[0] * misses[1] * misses[2]) < _DONE
    return small & (jnp.abs(misses[0]) < _NEAR)


def _next(search: _Search) -> Array:
    """Parabola through the last three, else halfway; the untried low end before going below it."""
    guess = _parabola(search.places, search.misses)
    slow = jnp.abs(search.misses[0]) > 0.5 * jnp.abs(search.misses[1])
    patient = jnp.where(search.fine > 0, search.fine > _LEAST_FINE, search.round > 2)
    middle = 0.5 * (search.low + search.high)
    inside = (guess > search.low) & (guess < search.high) & ~(slow & patient)
    below = (guess <= search.low) & ~search.sure & (search.fine > 0)
    return jnp.where(inside, guess, jnp.where(below, search.low, middle))


def _marched(
    search: _Search, end: PressEnd, half_miss: Array, miss: Array, widest: tuple[Array, Array]
) -> _Search:
    """The search after one march of every sample not done."""
    fine = search.fine
    first_fine = fine == 1
    offset = jnp.where(first_fine, miss - half_miss, 0.0)  # of the half mesh, told to its points
    one, two, _ = (f + offset for f in search.misses)
    held = search.done & ~first_fine
    left = miss > 0.0
    short = (fine > 0) & (((search.place <= search.low) & ~left) | search.hopeless)
    # the bracket of the half mesh need not hold on the whole one
    before = [jnp.where(first_fine, w, b) for w, b in zip(widest, search[3:5], strict=True)]
    low = jnp.where(left, search.place, before[0])
    high = jnp.where(left, before[1], search.place)
    after = search._replace(
        low=low,
        high=high,
        sure=search.sure | ((fine > 0) & left),
        places=(search.place, *search.places[:2]),
        misses=(miss, one, two),
        ends=(end, *search.ends[:2]),
        reach=jnp.where(search.round == 0, miss, search.reach + offset),
        short=search.short | short,
    )
    after = after._replace(place=_next(after))
    # where the stress jumps (a plug that hardly moves at its start) no miss is small
    tight = after.high - after.low < _TIGHT * widest[1]
    settled = (fine >= _LEAST_FINE) & (_closed(after.misses) | tight) | short
    rough = (jnp.abs(miss) < _ROUGH) | (search.round == 0) & ~left
    # no stress from the earliest start on the half mesh: the whole mesh has the word, there
    stay = (search.round == 0) & ~left
    after = after._replace(
        done=jnp.where(fine > 0, settled, rough),
        place=jnp.where(stay, search.low, after.place),
        high=jnp.where(stay, search.high, after.high),
    )
    merged: _Search = jax.tree.map(lambda new, old: jnp.where(held, old, new), after, search)
    return merged._replace(round=search.round + 1, fine=search.fine)


@partial(jax.custom_jvp, nondiff_argnums=(0, 1))
def _settled(
    how: Resolution,
    creeps: bool,
    patience: Array,
    case: ScrewCase,
    frame: ScrewFrame,
    drained: Drained,
    earliest: Array,
    hopeless: Array,
) -> _Settled:
    """Search on the half mesh, then polish on both until the parabola leaves nothing."""
    target = jnp.log(case.side_ratio * case.back_pressure)
    high = frame.length * (1.0 - 1e-6) + 0.0 * earliest
    low = jnp.minimum(earliest, 0.999 * high)
    most = patience * jnp.asarray([how.searches, how.polishes])
    miss_high = jnp.log(standing_stress(case, frame, drained)) - target

    def going(search: _Search) -> Array:
        return (search.fine == 0) | ~jnp.all(search.done) & (search.fine < most[1])

    def body(search: _Search) -> _Search:
        over = jnp.all(search.done) | (search.round >= most[0]) | (search.fine > 0)
        search = search._replace(fine=search.fine + jnp.where(over, 1, 0))
        half = _on_half(case, frame, drained, search.place, how, creeps)
        end = lax.cond(
            over,
            lambda: extrapolated(case, frame, drained, search.place, half, how, creeps),
            lambda: half,
        )
        misses = (half.log_stress - target, end.log_stress - target)
        return _marched(search, end, *misses, (low, high))

    zero, no = jnp.zeros_like(low), low < 0.0
    none = PressEnd(*(zero,) * 6)
    count = jnp.zeros((), int)
    place = jnp.where(miss_high > 0.0, high, low)
    begun = _Search(
        count, count, place, low, high, no, (high,) * 3, (miss_high,) * 3, (none,) * 3, zero,
        hopeless, no, hopeless,
    )  # fmt: skip
    last = lax.while_loop(going, body, begun)
    # a parabola through points that did not close in, or through a jump, leads anywhere
    smooth = _closed(last.misses) & ~last.short
    start = jnp.where(smooth, _parabola(last.places, last.misses), last.places[0])
    verdict = jnp.where(last.short, -1.0, jnp.where(last.done, 1.0, 0.0))
    return _Settled(_read_off(last, start), start, last.reach, verdict)


def _read_off(last: _Search, start: Array) -> PressEnd:
    """Ends at the start of pressing, by the parabola through the last three marches."""
    z0, z1, z2 = last.places

    def slope(a: Array, b: Array, over: Array) -> Array:
        return jnp.where(jnp.abs(over) > 0.0, (a - b) / jnp.where(over == 0.0, 1.0, over), 0.0)

    def at(a: Array, b: Array, c: Array) -> Array:
        first, other = slope(a, b, z0 - z1), slope(b, c, z1 - z2)
        bend = jnp.where(jnp.abs(z1 - z2) > 0.0, slope(first, other, z0 - z2), 0.0)
        moved: Array = a + (start - z0) * (first + (start - z1) * bend)
        return moved

    return PressEnd(*(at(*three) for three in zip(*last.ends, strict=True)))


@_settled.defjvp
def _settled_slope(
    how: Resolution, creeps: bool, given: tuple[Any, ...], change: tuple[Any, ...]
) -> tuple[_Settled, _Settled]:
    """Implicit function theorem at the root: one march pair pushed along the inputs and along z."""
    answer = _settled(how, creeps, *given)
    how = how._replace(fused=False)
    count = answer.start.shape

    def twice(tree: Any, share: float) -> Any:
        def both(leaf: Array) -> Array:
            wide = jnp.broadcast_to(leaf, (*jnp.shape(leaf)[:-1], *count))
            return jnp.concatenate([wide, share * wide], axis=-1)

        return jax.tree.map(both, tree)

    def ends(
        case: ScrewCase, frame: ScrewFrame, drained: Drained, start: Array
    ) -> tuple[PressEnd, Array]:
        half = _on_half(case, frame, drained, start, how, creeps)
        end = extrapolated(case, frame, drained, start, half, how, creeps)
        return end, end.log_stress - jnp.log(case.side_ratio * case.back_pressure)

    one = jnp.ones_like(answer.start)
    here = (*twice(given[1:4], 1.0), twice(answer.start, 1.0))
    along = (*twice(change[1:4], 0.0), jnp.concatenate([0.0 * one, one]))
    slopes, fall = jax.jvp(ends, here, along)[1]
    n = count[0]
    steep = fall[n:] < -1e-12
    move = jnp.where(steep, -fall[:n] / jnp.where(steep, fall[n:], 1.0), 0.0)
    end = PressEnd(*(slope[:n] + slope[n:] * move for slope in slopes))
    zero = jnp.zeros_like(move)
    return answer, _Settled(end, move, zero, zero)


def miss_from(
    case: ScrewCase,
    frame: ScrewFrame,
    drained: Drained,
    start: Array,
    how: Resolution,
    creeps: bool,
) -> Array:
    """ln of the stress at the plate over the stress asked, from a given start of pressing."""
    half = _on_half(case, frame, drained, start, how, creeps)
    end = extrapolated(case, frame, drained, start, half, how, creeps)
    return end.log_stress - jnp.log(case.side_ratio * case.back_pressure)


def solve(
    case: ScrewCase, frame: ScrewFrame, how: Resolution, creeps: bool, patience: Array
) -> Solved:
    """Whole path: drain, find where pressing starts, and what comes of it at the plate."""
    drained = drain(case, frame)
    network, conveyed = earliest_start(case, frame, drained)
    earliest = frame.length * jnp.clip(jnp.maximum(network, conveyed), 0.0, 0.999) ** 2
    target = jnp.log(case.side_ratio * case.back_pressure)
    excess = lax.stop_gradient(jnp.log(standing_stress(case, frame, drained)) - target)
    hopeless = (network >= 1.0) | (conveyed >= 1.0) | (excess > 0.0)
    found = _settled(how, creeps, patience, case, frame, drained, earliest, hopeless)
    return Solved(
        found.end,
        found.start,
        network,
        conveyed,
        found.reach,
        excess,
        found.verdict > 0.0,
        found.verdict < 0.0,
        drained_residence(case, frame, drained, found.start),
    )
