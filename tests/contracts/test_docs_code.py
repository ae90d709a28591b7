"""The code on the documentation pages runs as printed."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

DOCS = Path(__file__).parents[2] / "docs"
BLOCK = re.compile(r"^```python\n(.*?)^```", re.M | re.S)
PAGES = sorted(
    p for p in DOCS.rglob("*.md") if "_build" not in p.parts and BLOCK.search(p.read_text("utf-8"))
)


@pytest.mark.parametrize("page", PAGES, ids=lambda p: str(p.relative_to(DOCS)))
def test_code_blocks_of_a_page_run_in_order(
    page: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every python block of a page runs, one after the other, in one namespace."""
    monkeypatch.chdir(tmp_path)
    namespace: dict[str, object] = {"__name__": "page"}
    for block in BLOCK.findall(page.read_text(encoding="utf-8")):
        exec(compile(block, str(page), "exec"), namespace)
