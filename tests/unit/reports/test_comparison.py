"""Side by side: a kind without a cake shows the cause, and its band as envelope."""

from __future__ import annotations

from dataclasses import replace

from tests.unit.reports.findings_sample import sample_findings

from cakewright.jobs.findings import Answer, OptionFinding
from cakewright.reports.book import Book
from cakewright.reports.chapters.comparison import comparison
from cakewright.reports.content import Paragraph, Table
from cakewright.reports.numbers import Units

CAUSE = "By the tests of this sludge the frame has no cake at this load"


def _stopped(option: OptionFinding) -> OptionFinding:
    reason = replace(option.reasons[0], rule="pressing path", text=CAUSE)
    return replace(option, answer=Answer.DOES_NOT_SUIT, reasons=(reason, *option.reasons))


def test_no_cake_is_told_and_its_band_called_envelope() -> None:
    """The cell says that there is no cake, the note why; the other kinds stay as they were."""
    findings = sample_findings()
    at = next(i for i, o in enumerate(findings.options) if "cake_solids" in o.figures and o.reasons)
    options = list(findings.options)
    options[at] = _stopped(options[at])
    blocks = comparison(Book(replace(findings, options=tuple(options)), Units.SI)).blocks
    table = next(block for block in blocks if isinstance(block, Table))
    told = [[c.text.startswith("no cake") for c in row] for row in table.rows]
    assert all(not any(row[2 + i] for row in told) for i in range(len(options)) if i != at)
    assert sum(row[2 + at] for row in told) >= 1
    assert any(isinstance(b, Paragraph) and CAUSE in b.text for b in blocks)
