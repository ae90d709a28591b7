"""Settings of every test: property tests try the same cases on every machine.

`HYPOTHESIS_WIDE=1 python -m pytest tests/properties` looks for new ones.
"""

from __future__ import annotations

import os

from hypothesis import settings

settings.register_profile("steady", derandomize=True, deadline=None)
settings.register_profile("wide", deadline=None)
settings.load_profile("wide" if os.environ.get("HYPOTHESIS_WIDE") else "steady")
