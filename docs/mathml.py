"""Formulas as MathML, which browsers draw by themselves: no script is fetched."""

from __future__ import annotations

from typing import Any

from docutils import nodes
from latex2mathml.converter import convert
from sphinx.application import Sphinx


def _inline(writer: Any, node: nodes.math) -> None:
    writer.body.append(convert(node.astext()))
    raise nodes.SkipNode


def _block(writer: Any, node: nodes.math_block) -> None:
    writer.body.append(f'<div class="formula">{convert(node.astext(), display="block")}</div>')
    raise nodes.SkipNode


def setup(app: Sphinx) -> dict[str, bool]:
    """Register the renderer."""
    app.add_html_math_renderer("mathml", (_inline, None), (_block, None))  # type: ignore[arg-type]
    return {"parallel_read_safe": True, "parallel_write_safe": True}
