"""The audit of dependencies never passes for what it could not look up."""

from __future__ import annotations

import importlib.util
from pathlib import Path
from typing import Any

import pytest

_SCRIPT = Path(__file__).parents[2] / "requirements" / "audit.py"


@pytest.fixture
def audit() -> Any:
    """The script as a module."""
    spec = importlib.util.spec_from_file_location("audit", _SCRIPT)
    if spec is None or spec.loader is None:
        pytest.fail("requirements/audit.py cannot be loaded")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


_CLEAN = {"name": "numpy", "version": "2.0", "vulns": []}
_SKIPPED = {"name": "typst", "skip_reason": "not found"}
_FLAWED = {
    "name": "jinja2",
    "version": "1.0",
    "vulns": [{"id": "ADVISORY-1", "fix_versions": ["3.1"], "aliases": [], "description": ""}],
}


@pytest.mark.parametrize(
    ("packages", "code", "words"),
    [
        ([_CLEAN], 0, "1 locked packages"),
        ([_CLEAN, _SKIPPED], 3, "NOT AUDITED: no advisories could be reached for 1 of 2"),
        ([_SKIPPED, _FLAWED], 1, "jinja2 1.0: ADVISORY-1; mended in 3.1"),
        ([], 3, "NOT AUDITED"),
        (None, 3, "NOT AUDITED"),
    ],
)
def test_only_what_was_looked_up_passes(audit: Any, packages: Any, code: int, words: str) -> None:
    """All known and clean passes; a flaw fails; anything not looked up is said and no pass."""
    found, said = audit.verdict(packages)
    assert found == code
    assert words in said


def test_unreachable_services_are_not_a_pass(audit: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """When no service answers, the script ends with 3."""
    monkeypatch.setattr(audit, "audited", lambda service: None)
    assert audit.main() == 3
