"""The standing proof: how long each siege may last, and the figures it came to.

``pytest -m siege`` takes ten minutes; CAKEWRIGHT_SIEGE_MINUTES asks for more or less. The figures
are printed and, where CAKEWRIGHT_SIEGE_FIGURES names a file, written there as JSON.
"""

from __future__ import annotations

import json
import os
import sys
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest

_SIEGES = 14


def _largest() -> float:
    try:
        import resource
    except ImportError:  # Windows
        return 0.0
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


@dataclass
class Tally:
    """What was tried and what fell, by siege."""

    seconds: float
    counts: dict[str, Counter[str]] = field(default_factory=dict)
    slowest: dict[str, float] = field(default_factory=dict)
    began: float = field(default_factory=lambda: _largest())

    def until(self) -> Iterator[int]:
        """Numbers from 0 on, until the time of one siege is up."""
        end, number = time.monotonic() + self.seconds, 0
        while number == 0 or time.monotonic() < end:
            yield number
            number += 1

    def add(self, siege: str, what: str, count: int = 1) -> None:
        """Count something."""
        self.counts.setdefault(siege, Counter())[what] += count

    def grown(self) -> float:
        """Megabytes this process takes more at its most than when the siege began."""
        return _largest() - self.began

    def took(self, siege: str, seconds: float) -> None:
        """Note how long one input took."""
        self.slowest[siege] = max(self.slowest.get(siege, 0.0), seconds)


@pytest.fixture(scope="session")
def tally() -> Iterator[Tally]:
    """The figures of this run."""
    minutes = float(os.environ.get("CAKEWRIGHT_SIEGE_MINUTES", "10"))
    made = Tally(60.0 * minutes / _SIEGES)
    if hasattr(os, "nice"):
        os.nice(max(0, 19 - os.nice(0)))
    yield made
    told = {
        name: dict(sorted(counts.items())) | {"slowest s": round(made.slowest.get(name, 0.0), 2)}
        for name, counts in sorted(made.counts.items())
    }
    text = json.dumps(told, indent=1)
    sys.stdout.write(text + "\n")
    if target := os.environ.get("CAKEWRIGHT_SIEGE_FIGURES"):
        Path(target).write_text(text + "\n", encoding="utf-8")
