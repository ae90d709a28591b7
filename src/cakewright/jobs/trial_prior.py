"""What is believed of a machine and a law before a trial: unit scores to parameters and back.

Scores are independent and standard normal before the trial. They stand for the class prior of the
machine's kind, or for what earlier runs left: then one score moves several parameters, for runs
teach combinations.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np

from cakewright.jobs.fitted import FittedPress, from_line, root_of
from cakewright.machines.interface import Kind
from cakewright.machines.press_priors import parameter_priors
from cakewright.quantities import FloatArray
from cakewright.sludge.law import SludgeLaw

__all__ = ["Believed", "believed"]


class Believed(NamedTuple):
    """Machine parameters by name (SI) and the law's unit normals, one row per draw."""

    machine: Mapping[str, FloatArray]
    law: FloatArray


def believed(
    kind: Kind,
    names: Sequence[str],
    law: SludgeLaw,
    before: FittedPress | None,
    scores: FloatArray,
    law_scores: FloatArray,
) -> Believed:
    """Parameters at unit scores, by the class prior or by earlier runs.

    On the very law of the earlier runs machine and law go on together; on any other the machine's
    part alone is taken over.

    Parameters
    ----------
    kind : Kind
        Kind of machine. [object]
    names : sequence of str
        Parameters the scores stand for, those of earlier runs among them. [object]
    law : SludgeLaw
        Law of the trial's sludge. [object]
    before : FittedPress or None
        What earlier runs left. [object]
    scores : array, shape (m, len(names))
        Unit scores of the machine. [1]
    law_scores : array, shape (m, k)
        Unit scores of the law. [1]

    Returns
    -------
    believed : Believed
        Parameters and the law's normals. [object]
    """
    priors = parameter_priors(kind)
    found = {name: prior.at(np.zeros(len(scores))) for name, prior in priors.items()}
    found |= {name: priors[name].at(scores[:, i]) for i, name in enumerate(names)}
    if before is None:
        return Believed(found, law_scores)
    rows = list(range(len(before.names)))
    unit = scores[:, [list(names).index(name) for name in before.names]]
    together = before.knows(law)
    if together:
        rows = list(range(before.mean.size))
        unit = np.concatenate([unit, law_scores], axis=1)
    root = root_of(before.covariance[np.ix_(rows, rows)])
    places = before.mean[rows] + unit @ root.T
    for column, name in enumerate(before.names):
        found[name] = from_line(places[:, column], priors[name].line)
    return Believed(found, places[:, len(before.names) :] if together else law_scores)
