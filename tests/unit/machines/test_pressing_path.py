"""What a path answers: figures where there is a cake, a cause where there is none."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.unit.machines.press_case import FRAME, LOAD, SCREW, SETTING, SLUDGE

from cakewright.errors import InfeasibleError
from cakewright.machines.pressing_path import PathStatus, path_result, require_answer
from cakewright.machines.screw.path import screw_path


def test_every_cause_has_a_name_and_words() -> None:
    """No status is left without what to change."""
    for status in PathStatus:
        assert status.words.startswith((status.label, "within"))


def test_a_cake_without_water_is_no_answer() -> None:
    """Finite, but drier than any press leaves: the cause stands there instead of the number."""
    cake = np.array([0.2, 0.951, 1.2, np.nan])
    figures = dict.fromkeys(("cake_solids", "capture", "residence", "power", "torque"), cake)
    found = path_result(np.zeros(4, dtype=int), figures, {})
    dry, lost = PathStatus.DRY, PathStatus.UNRESOLVED
    assert found.status.tolist() == [PathStatus.ANSWER, dry, dry, lost]
    for values in (found.cake_solids, found.power, found.details["torque"]):
        assert np.isfinite(values).tolist() == [True, False, False, False]


def test_a_law_that_presses_to_solid_matter_is_told_so() -> None:
    """A yield stress that hardly rises with solids: the press has a cause, the user a way out."""
    open_law = {"yield_exponent": 1.6, "yield_scale": 60.0, "local_resistance": 1e7}
    soft = replace(SLUDGE, **open_law, creep_share=0.0)
    found = screw_path(soft, LOAD, SETTING, SCREW, FRAME)
    assert found.status[0] == PathStatus.DRY
    with pytest.raises(InfeasibleError, match="check yield exponent and yield scale"):
        require_answer(found)
