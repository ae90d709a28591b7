"""JAX set up once: double precision, and compiled code kept between runs.

Take ``jax``, ``jnp`` and ``lax`` from here, so that no array is made before the set-up.
The folder of compiled code is ``$CAKEWRIGHT_COMPILE_CACHE`` (``off`` for none), else
``cakewright/compiled`` in the user's cache folder; it may be deleted at any time.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

import jax
import jax.numpy as jnp
from jax import lax

__all__ = ["jax", "jnp", "lax"]


def _folder() -> Path | None:
    asked = os.environ.get("CAKEWRIGHT_COMPILE_CACHE", "")
    if asked.lower() == "off":
        return None
    if asked:
        return Path(asked)
    if sys.platform == "win32":
        base = os.environ.get("LOCALAPPDATA")
    elif sys.platform == "darwin":
        base = str(Path.home() / "Library" / "Caches")
    else:
        base = os.environ.get("XDG_CACHE_HOME") or str(Path.home() / ".cache")
    return Path(base) / "cakewright" / "compiled" if base else None


jax.config.update("jax_enable_x64", True)  # type: ignore[no-untyped-call]
if (_place := _folder()) is not None:
    jax.config.update("jax_compilation_cache_dir", str(_place))  # type: ignore[no-untyped-call]
    jax.config.update("jax_persistent_cache_min_compile_time_secs", 0.2)  # type: ignore[no-untyped-call]
