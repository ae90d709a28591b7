"""Nothing that is read can run: no unpickling, no evaluation of text, no shell."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

import cakewright

_ROOT = Path(cakewright.__file__).parent
_MODULES = ("pickle", "cPickle", "dill", "cloudpickle", "marshal", "shelve", "yaml")
_CALLS = ("eval", "exec", "compile", "__import__")


def _offences(tree: ast.AST) -> Iterator[str]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            names = [node.module or ""]
        else:
            names = []
        yield from (f"imports {n}" for n in names if n.split(".")[0] in _MODULES)
        if isinstance(node, ast.Call):
            if isinstance(node.func, ast.Name) and node.func.id in _CALLS:
                yield f"calls {node.func.id}"
            for word in node.keywords:
                value = word.value
                on = isinstance(value, ast.Constant) and value.value is True
                if word.arg in ("shell", "allow_pickle") and on:
                    yield f"{word.arg}=True"


@pytest.mark.parametrize(
    "path", sorted(_ROOT.rglob("*.py")), ids=lambda p: p.relative_to(_ROOT).as_posix()
)
def test_no_module_runs_what_it_reads(path: Path) -> None:
    """No module can turn a file, a request or a name into running code."""
    assert list(_offences(ast.parse(path.read_text("utf-8")))) == []


@pytest.mark.parametrize(
    "text",
    ["import pickle", "from yaml import load", "eval('1')", "run('ls', shell=True)",
     "load(f, allow_pickle=True)"],
)  # fmt: skip
def test_the_walk_sees_what_it_looks_for(text: str) -> None:
    """Each kind of offence is found where it stands."""
    assert list(_offences(ast.parse(text)))
