"""The march in one piece of accelerator code is the march of the processor."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from tests.unit.machines.press_case import draws_of

from cakewright.machines.pressing_path import checked_inputs
from cakewright.machines.screw import fused as screw_fused
from cakewright.machines.screw import program as screw_program
from cakewright.machines.screw.kernel import drain, earliest_start, press_march
from cakewright.machines.screw.root import Resolution
from cakewright.physics.expression.device import jax, jnp

COUNT = 200
MESH = (4, 6, True)  # cells, steps, creep


@pytest.fixture(scope="module")
def case() -> Any:
    """Draws of the prior, their drainage zone and their earliest start of pressing."""
    sludge, load, operation, parameters, geometry = draws_of(COUNT)
    x = {k: jnp.asarray(v) for k, v in checked_inputs(sludge, load, operation, parameters).items()}
    numbers = {k: jnp.asarray(v) for k, v in geometry.numbers().items()}
    case, frame = screw_program._case(x, numbers), screw_program._frame(numbers)
    drained = drain(case, frame)
    reach = jnp.maximum(*earliest_start(case, frame, drained))
    return case, frame, drained, frame.length * jnp.clip(reach, 0.0, 0.999) ** 2


def test_same_end_as_the_plain_march(case: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """Every figure of every sample to 1e-9 of its largest: the same equations in another order of
    sums; a block that is not full and a program that takes two blocks are among them."""
    monkeypatch.setattr(screw_fused, "_PROGRAMS", 1)
    plain, _ = jax.jit(press_march, static_argnums=(4, 5, 6))(*case, *MESH)
    fused = jax.jit(screw_fused.fused_march, static_argnums=(4, 5, 6))(*case, *MESH)
    for name, one, other in zip(plain._fields, plain, fused, strict=True):
        assert np.all(np.isfinite(one)), name
        assert one.shape == other.shape == (COUNT,)
        np.testing.assert_allclose(other, one, rtol=1e-9, atol=1e-9 * np.abs(one).max())


def test_an_accelerator_would_take_it(case: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """It can be written in the accelerator's own code; no card is needed to see that."""
    monkeypatch.setattr(jax, "default_backend", lambda: "gpu")
    cells, steps, creeps = MESH

    def march(case: Any, frame: Any, drained: Any, start: Any) -> Any:
        return screw_fused.fused_march(case, frame, drained, start, cells, steps, creeps)

    text = jax.jit(march).trace(*case).lower(lowering_platforms=("cuda",)).as_text()
    assert text.count("xla.gpu.triton") == 1


def test_a_processor_marches_plainly() -> None:
    """Here no resolution is fused unless asked."""
    assert screw_program.FINE.fused is (jax.default_backend() == "gpu")
    assert not Resolution(8, 12, 1, 1).fused
