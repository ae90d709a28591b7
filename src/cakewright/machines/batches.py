"""Many samples through one compiled program: fixed sizes, chunks, one thread per core."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor

import numpy as np

from cakewright.quantities import FloatArray

__all__ = ["in_chunks"]

_SIZES = (1, 32, 256)
_ACCELERATOR_SIZES = (1024, 262144)

Columns = Mapping[str, FloatArray]


def in_chunks(
    program: Callable[[dict[str, FloatArray]], Mapping[str, object]],
    columns: Columns,
    chunk: int = 0,
) -> dict[str, FloatArray]:
    """Run a compiled program over columns of equal length; memory is bounded by the chunk.

    The last chunk is padded with its last sample, so only a few sizes are ever compiled. A caller
    that knows its batches asks for one ``chunk``, so that one size alone is compiled.
    """
    from cakewright.physics.expression.device import jax

    sizes = _SIZES if jax.default_backend() == "cpu" else _ACCELERATOR_SIZES
    number = len(next(iter(columns.values())))
    size = next((s for s in sizes if s >= number), sizes[-1])
    size = chunk if chunk and sizes is _SIZES else size
    starts = range(0, number, size)
    found: dict[str, FloatArray] = {}

    def run(first: int) -> tuple[int, dict[str, FloatArray]]:
        take = np.minimum(np.arange(first, first + size), number - 1)
        answer = program({name: value[take] for name, value in columns.items()})
        return first, {name: np.asarray(value) for name, value in answer.items()}

    workers = min(len(starts), os.cpu_count() or 1) if sizes is _SIZES else 1
    with ThreadPoolExecutor(max_workers=max(workers, 1)) as pool:
        for first, answer in pool.map(run, starts):
            count = min(size, number - first)
            for name, value in answer.items():
                if name not in found:
                    found[name] = np.empty((*value.shape[:-1], number), dtype=value.dtype)
                found[name][..., first : first + count] = value[..., :count]
    return found
