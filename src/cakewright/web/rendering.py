"""Templates filled in; everything that comes from a study is escaped."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from datetime import datetime
from functools import cache
from importlib.resources import files

import jinja2
from markupsafe import Markup

from cakewright.errors import Fault
from cakewright.quantities.formula import runs_of
from cakewright.reports.html import grouped
from cakewright.web.contexts import sludge_words
from cakewright.web.drawing import inline_drawing
from cakewright.web.running_view import usual_unit

__all__ = ["fault_words", "render", "static_file", "static_version"]

_KINDS = {
    "css": "text/css; charset=utf-8",
    "js": "text/javascript; charset=utf-8",
    "svg": "image/svg+xml",
}


def render(template: str, **context: object) -> str:
    """Page or part of a page."""
    return _environment().get_template(template).render(**context)


@cache
def static_file(name: str) -> tuple[bytes, str] | None:
    """A file of our own style or script with its kind; None when there is none of that name."""
    known = {entry.name: entry for entry in files("cakewright.web").joinpath("static").iterdir()}
    kind = _KINDS.get(name.rpartition(".")[2])
    return (known[name].read_bytes(), kind) if name in known and kind else None


@cache
def static_version(name: str) -> str:
    """Short mark of a file's content, so that a browser never keeps an old one."""
    found = static_file(name)
    return hashlib.sha256(found[0]).hexdigest()[:10] if found else ""


def fault_words(fault: Fault) -> str:
    """A fault as a sentence beside its field."""
    return f"Got {fault.got}. Allowed: {fault.allowed}. Try: {fault.try_this}."


def _ago(moment: datetime) -> str:
    return moment.strftime("%Y-%m-%d %H:%M UTC")


def _static(name: str) -> str:
    return f"/static/{name}?v={static_version(name)}"


def _source_buttons(ids: str) -> Iterator[str]:
    yield from ids.split()


@cache
def _environment() -> jinja2.Environment:
    environment = jinja2.Environment(
        loader=jinja2.PackageLoader("cakewright.web", "templates"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters.update(
        runs=runs_of,
        drawing=_drawing,
        grouped=grouped,
        ago=_ago,
        places=sludge_words,
        fault=fault_words,
        sources=_source_buttons,
        usual_unit=usual_unit,
        kind=lambda block: type(block).__name__,
    )
    environment.globals["static"] = _static
    return environment


def _drawing(svg: str) -> Markup:
    return inline_drawing(svg)
