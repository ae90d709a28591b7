"""Evaluated demonstrations, once for all tests of the jobs."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import pytest

from cakewright.jobs.evaluate import evaluate
from cakewright.jobs.findings import Findings
from cakewright.storage.studies import demo_text
from cakewright.study import parse_study


@cache
def _demo(name: str) -> Findings:
    text = demo_text(name) + "\n[sampling]\nsamples = 128\n"
    return evaluate(parse_study(text))


@pytest.fixture
def demo() -> Callable[[str], Findings]:
    """Findings of one demonstration."""
    return _demo
