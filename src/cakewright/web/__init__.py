"""The workbench: routes, contexts, templates, static; parse, call one job, fill one context."""

from cakewright.web.app import create_app
from cakewright.web.settings import Settings

__all__ = ["Settings", "create_app"]
