"""The API reference: one page per module of the engineering rooms, from the docstrings.

Pages are written into `docs/api` when the docs are built and are not kept in the repository.
A source id in a docstring's References is set as author, year and title with its place.
"""

from __future__ import annotations

import pkgutil
import re
from importlib import import_module
from pathlib import Path
from types import ModuleType
from typing import Any

from sphinx.application import Sphinx

from cakewright.sources import sources

ROOMS = ("physics", "economics", "statistics", "sludge", "bench", "machines", "line", "running")
API = Path(__file__).parent / "api"
_REFERENCE = re.compile(r"^\s*\.\. \[\d+\] (?P<id>[A-Z]+\d*)(?P<place>.*)$")


def setup(app: Sphinx) -> dict[str, bool]:
    """Register the pages and the wording of references."""
    app.connect("builder-inited", _write_pages)
    app.connect("autodoc-process-docstring", _word_references, priority=100)
    return {"parallel_read_safe": True, "parallel_write_safe": True}


def _write_pages(_: Sphinx) -> None:
    API.mkdir(exist_ok=True)
    wanted = {"index.md": _index()}
    for room in ROOMS:
        wanted[f"{room}.md"] = _room_page(room)
    for page in API.glob("*.md"):
        if page.name not in wanted:
            page.unlink()
    for name, text in wanted.items():
        page = API / name
        if not page.exists() or page.read_text(encoding="utf-8") != text:
            page.write_text(text, encoding="utf-8")


def _index() -> str:
    rooms = "\n".join(ROOMS)
    return (
        "# Reference of the library\n\n"
        "Every public function with its arguments, units, range, errors and source, from the "
        "docstrings. Arrays in, arrays out; SI without a suffix.\n\n"
        f"```{{toctree}}\n:maxdepth: 1\n\n{rooms}\n```\n"
    )


def _room_page(room: str) -> str:
    package = import_module(f"cakewright.{room}")
    lines = [f"# {room}", "", (package.__doc__ or "").strip(), ""]
    for name in _modules(package):
        module = import_module(name)
        own = [n for n in getattr(module, "__all__", ()) if _is_own(module, n)]
        if own:
            lines += [f"## {name.removeprefix('cakewright.')}", "", *_module(name, own), ""]
    return "\n".join(lines)


def _modules(package: ModuleType) -> list[str]:
    walk = pkgutil.walk_packages(package.__path__, f"{package.__name__}.")
    return sorted(m.name for m in walk if not m.name.rpartition(".")[2].startswith("_"))


def _is_own(module: ModuleType, name: str) -> bool:
    thing = getattr(module, name)
    return callable(thing) and getattr(thing, "__module__", "") == module.__name__


def _module(name: str, members: list[str]) -> list[str]:
    block = ["```{eval-rst}", f".. automodule:: {name}", ""]
    for member in members:
        kind = "autoclass" if isinstance(getattr(import_module(name), member), type) else None
        block += [f".. {kind or 'autofunction'}:: {name}.{member}", ""]
    return [*block, "```"]


def _word_references(
    _app: Sphinx, _what: str, _name: str, _thing: Any, _options: Any, lines: list[str]
) -> None:
    known = sources()
    for i, line in enumerate(lines):
        found = _REFERENCE.match(line)
        if not found or found["id"] not in known:
            continue
        source = known[found["id"]]
        words = [source.author, str(source.year or ""), source.title]
        named = ", ".join(w for w in words if w)
        place = found["place"].lstrip(" ,.").rstrip()
        lines[i] = f"- {named} (source {found['id']}{': ' + place if place else ''})"
