"""Runs a coroutine in a thread of its own: a browser test in the same process keeps a loop."""

from __future__ import annotations

import asyncio
from collections.abc import Coroutine
from concurrent.futures import ThreadPoolExecutor
from typing import Any, TypeVar

Result = TypeVar("Result")


def run_apart(work: Coroutine[Any, Any, Result]) -> Result:
    """Result of a coroutine, whatever loop this thread may be running."""
    with ThreadPoolExecutor(max_workers=1) as pool:
        return pool.submit(asyncio.run, work).result()
