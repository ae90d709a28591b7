"""What to ask next, in words: money first, then the figure it widens."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from tests.unit.reports.findings_sample import sample_findings

from cakewright.jobs.findings import Question
from cakewright.quantities import Basis, Figure, Mark
from cakewright.reports.book import Book
from cakewright.reports.chapters import all_sections
from cakewright.reports.content import Table
from cakewright.reports.numbers import Units
from cakewright.reports.question_words import reason

WORTH = Figure("decision_worth", np.array([15_432.0]), Basis.ASSUMED, Mark.JUDGEMENT, "OWN", "")
ASKED = Question(1, "dryness", "cake_solids", "Press it.", "it is so", "cake_solids", 0.42)


def test_worth_has_currency_and_year() -> None:
    """15 432 is told as 15 000 of its year, the share beside it."""
    words = reason(replace(ASKED, worth=WORTH), Units.SI, "EUR", 2026)
    assert " ".join(words.split()) == (
        "worth 15 000 EUR of 2026 over the life, carries 42 % of the variance of cake solids"
    )


def test_without_worth_or_share_the_reason_stands() -> None:
    """No figure is made up: the words of the question are told."""
    assert reason(replace(ASKED, share=0.001), Units.SI, "EUR", 2026) == "it is so"


def test_questions_stand_in_one_table_alone() -> None:
    """Basis no longer repeats what Ask next lists."""
    sections = all_sections(Book(sample_findings(), Units.SI))
    listed = [
        section.key
        for section in sections
        for block in section.blocks
        if isinstance(block, Table)
        and any("Sample the feed solids hourly" in c.text for row in block.rows for c in row)
    ]
    assert listed == ["asknext"]
