"""The sludge law at the dose used, over the study's samples."""

from __future__ import annotations

import numpy as np

from cakewright.jobs.draws import StudyDraws
from cakewright.jobs.fitted import FittedPress, joint_normals
from cakewright.machines.pressed import LAW_SCORES, Pressed, pressed_at
from cakewright.quantities import FloatArray
from cakewright.sludge import Feed
from cakewright.sludge.law import SludgeLaw

__all__ = ["pressed_of"]


def pressed_of(
    draws: StudyDraws,
    feed: Feed,
    law: SludgeLaw | None,
    dose: FloatArray | None,
    fitted: FittedPress | None = None,
) -> Pressed:
    """The law of the feed at a dose (None: its optimum), from the study's scores.

    ``fitted`` on this very law has narrowed it as well.
    """
    normals = np.stack([draws.score(f"~law.{i}") for i in range(LAW_SCORES)], axis=1)
    if law is not None and fitted is not None and fitted.knows(law):
        normals = joint_normals(fitted, draws.score)[1]
    return pressed_at(normals, feed, law, dose)
