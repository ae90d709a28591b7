"""More samples of what the kinds cost than the study's bands need: for the worth of knowing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from cakewright.jobs.choice import choice_of
from cakewright.jobs.draws import StudyDraws, study_draws
from cakewright.jobs.money import CAPITAL
from cakewright.jobs.options import ENVELOPE_FIGURES, duty_of, load_of, options_of
from cakewright.jobs.streams import feed_of
from cakewright.machines import Frame
from cakewright.quantities import FloatArray
from cakewright.study import Study

__all__ = ["MANY", "ManyDraws", "many_draws"]

MANY = 4096
_FEWEST = 64  # a study that draws fewer asks for no worth of knowing


@dataclass(frozen=True, slots=True, eq=False)
class ManyDraws:
    """Draws, and the net cost of every kind on them."""

    draws: StudyDraws
    net: Mapping[str, FloatArray]


def many_draws(
    study: Study, kinds: tuple[str, ...], frames: Sequence[Frame], draws: StudyDraws
) -> ManyDraws | None:
    """The comparison by published bands on many samples; None where the study has enough or none.

    The study's own seed: two runs of one study give the same worth.
    """
    if not _FEWEST < draws.size <= MANY:
        return None
    wide = replace(study, words={**study.words, "sampling.samples": MANY})
    more = study_draws(wide, kinds, (*ENVELOPE_FIGURES, CAPITAL), ())
    feed = feed_of(wide, more)
    duty, load = duty_of(wide, more), load_of(more, feed)
    choice = choice_of(wide, more, feed, load, options_of(wide, more, feed, load, duty, frames))
    return ManyDraws(more, {key: priced.net for key, priced in choice.priced.items()})
