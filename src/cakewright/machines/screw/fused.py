"""The march of the pressing zone in one piece of accelerator code.

Traced from the very functions of ``kernel``; only where the layer is kept differs. A program
takes a block of samples through the whole march, then the next block, so that the store of its
cells stays in cache. No derivatives: the root's come from ``press_march``. Figures:
``docs/theory/press.md``.
"""

from __future__ import annotations

from typing import Any

from jax import Array

from cakewright.machines.screw.kernel import (
    GRADING,
    Drained,
    Layer,
    PressEnd,
    ScrewCase,
    ScrewFrame,
    begun_march,
    drained_void,
    march_end,
)
from cakewright.physics.expression.device import jax, jnp, lax
from cakewright.physics.expression.kernel import mesh
from cakewright.physics.expression.stored import ROWS, Store, stored_state, stored_step

__all__ = ["fused_march"]

_BLOCK = 128  # samples a program takes at once, one to a thread
_PROGRAMS = 528  # four for each multiprocessor of an H100; two or six are no faster there
_WARP = 32


def fused_march(
    case: ScrewCase,
    frame: ScrewFrame,
    drained: Drained,
    start: Array,
    cells: int,
    steps: int,
    creeps: bool,
) -> PressEnd:
    """What `press_march` leaves at the plate, marched by programs of one piece."""
    from jax.experimental import pallas
    from jax.experimental.pallas import triton

    void = drained_void(drained, jnp.sqrt(start / frame.length))
    columns, kind = jax.tree.flatten((case, frame, start, void))
    count = start.shape[0]
    blocks = -(-count // _BLOCK)
    programs = min(_PROGRAMS, blocks)
    rounds = -(-blocks // programs)
    extra = (0, rounds * programs * _BLOCK - count)
    wide = [jnp.pad(jnp.broadcast_to(c, (count,)), extra, mode="edge") for c in columns]
    grid = mesh(cells, GRADING)
    links = [jnp.asarray(part) for part in (grid.width, grid.towards_face, grid.away)]

    def program(*places: Any) -> None:
        given, parts = places[: len(wide)], places[len(wide) : len(wide) + 3]
        ends, kept = places[len(wide) + 3 : -1], places[-1]
        mine = pallas.program_id(0)
        own = pallas.ds(mine * _BLOCK, _BLOCK)

        def write(row: int, cell: Array | int, value: Array) -> None:
            kept[row * cells + cell, own] = value

        store = Store(
            lambda row, cell: kept[row * cells + cell, own],
            write,
            lambda cell: tuple(part[cell] for part in parts),
            cells,
            grid.first,
        )

        def block(turn: Array, done: Array) -> Array:
            here = pallas.ds((turn * programs + mine) * _BLOCK, _BLOCK)
            one = jax.tree.unflatten(kind, [place[here] for place in given])
            end = _march(store, one, steps, creeps)
            for place, value in zip(ends, end, strict=True):
                place[here] = value
            return done

        lax.fori_loop(0, rounds, block, 0)

    shape = jax.eval_shape(lambda: wide[0])
    store = jax.eval_shape(lambda: jnp.zeros((ROWS * cells, programs * _BLOCK)))
    *ends, _ = pallas.pallas_call(
        program,
        grid=(programs,),
        out_shape=[shape] * len(PressEnd._fields) + [store],
        compiler_params=triton.CompilerParams(num_warps=_BLOCK // _WARP, num_stages=1),
        interpret=jax.default_backend() == "cpu",
    )(*wide, *links)
    return PressEnd(*(end[:count] for end in ends))


def _march(
    store: Store,
    one: tuple[ScrewCase, ScrewFrame, Array, Array],
    steps: int,
    creeps: bool,
) -> PressEnd:
    case, frame, start, void = one
    layer = Layer(
        lambda law, void, stress: stored_state(store, law, void, stress),
        lambda law, *given, **how: stored_step(store, law, *given, **how),
    )
    begun, advance = begun_march(case, frame, start, void, steps, creeps, layer)

    def step(index: Array, carry: Any) -> Any:
        return advance(carry, index.astype(start.dtype))[0]

    return march_end(case, lax.fori_loop(0, steps, step, begun))
