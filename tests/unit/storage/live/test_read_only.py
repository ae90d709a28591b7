"""Nothing in the live readers can write: checked in the source, not only in use."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

import cakewright.storage.live as live

FORBIDDEN = (
    "write_value", "write_values", "write_attribute", "write_attribute_value", "set_value",
    "set_values", "write_coil", "write_coils", "write_register", "write_registers",
    "mask_write_register", "readwrite_registers", "write_file_record", "call_method", "call",
    "add_variable", "delete_nodes", "set_writable", "execute",
)  # fmt: skip
FILES = sorted(Path(live.__file__).parent.glob("*.py"))


def _attributes(path: Path) -> set[str]:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return {node.attr for node in ast.walk(tree) if isinstance(node, ast.Attribute)}


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_no_call_that_writes_to_a_plant(path: Path) -> None:
    """No attribute named like a write, a method call or a change of the server is used."""
    assert not _attributes(path) & set(FORBIDDEN)


def test_the_search_finds_such_calls(tmp_path: Path) -> None:
    """The search would see one: the test above can fail."""
    sample = tmp_path / "sample.py"
    sample.write_text("client.write_register(1, 2)\n", encoding="utf-8")
    assert _attributes(sample) & set(FORBIDDEN)
