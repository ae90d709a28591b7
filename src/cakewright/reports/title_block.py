"""The title block: what the study says of its document."""

from __future__ import annotations

from cakewright.jobs.findings import Findings

__all__ = ["document_rows"]

_BLOCK = ("client", "number", "revision", "date", "author", "checker")


def document_rows(findings: Findings) -> list[tuple[str, str]]:
    """The title block: name and value of each field the study gives, in the usual order."""
    given = findings.document
    return [(name, given[name]) for name in _BLOCK if name in given]
