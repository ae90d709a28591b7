"""The workbench: routes, contexts, templates, static; parse, call one job, fill one context."""

from __future__ import annotations

from typing import TYPE_CHECKING

from cakewright.web.settings import Settings

if TYPE_CHECKING:
    from fastapi import FastAPI

__all__ = ["Settings", "create_app"]


def create_app(settings: Settings) -> FastAPI:
    """The workbench over one store; loaded only here, so that work done apart starts light.

    Raises
    ------
    StoreError
        If the store cannot be opened.
    """
    from cakewright.web.app import create_app as made

    return made(settings)
