"""Inputs that vary together, as a study writes them: ``"a ~ b = -0.4; c ~ d = 0.3"``."""

from __future__ import annotations

import re
from collections.abc import Mapping

from cakewright.errors import Fault, OutOfRangeError, UnknownNameError
from cakewright.quantities import Given

__all__ = ["correlation_faults", "correlation_pairs"]

_PAIR = re.compile(r"^([\w.]+)\s*~\s*([\w.]+)\s*=\s*([+-]?(?:\d+\.?\d*|\.\d+))$")
_PLACE = "correlation.pairs"


def correlation_pairs(text: str) -> dict[tuple[str, str], float]:
    """Rank correlation of each pair; parts that do not read as a pair are left out."""
    found = (_PAIR.match(part.strip()) for part in text.split(";"))
    return {(m[1], m[2]): float(m[3]) for m in found if m}


def correlation_faults(text: str, values: Mapping[str, Given]) -> list[Fault]:
    """Every part that is no pair, names nothing uncertain, or contradicts the others."""
    faults = [
        Fault(_PLACE, repr(part), "place ~ place = number", "write sludge.0.flow ~ duty.x = -0.4")
        for part in (x.strip() for x in text.split(";"))
        if part and not _PAIR.match(part)
    ]
    pairs = correlation_pairs(text)
    for place in dict.fromkeys(name for pair in pairs for name in pair):
        if place not in values or not values[place].has_spread:
            state = "has no spread" if place in values else "is no value of this study"
            faults.append(
                Fault(
                    _PLACE,
                    f"{place}, which {state}",
                    "places of values with a spread, as the report names them",
                    "give it a spread, or drop the pair",
                )
            )
    return faults or _contradictions(pairs)


def _contradictions(pairs: Mapping[tuple[str, str], float]) -> list[Fault]:
    from cakewright.statistics.sampling import correlation_matrix

    names = list(dict.fromkeys(name for pair in pairs for name in pair))
    try:
        correlation_matrix(names, pairs)
    except (OutOfRangeError, UnknownNameError) as error:
        return [
            Fault(
                _PLACE,
                str(error),
                "correlations between -1 and 1 that can all hold together",
                "weaken or drop one of them",
            )
        ]
    return []
