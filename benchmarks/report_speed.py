"""How long the documents of one evaluation take, against writing the same findings bare.

The rival of each document is what a script would do without it: the JSON through the standard
library alone, the workbook as values in rows, the page as an unformatted dump of the texts.
Run from the repository: ``python benchmarks/report_speed.py``.
"""

from __future__ import annotations

import html
import io
import json
import time
from collections.abc import Callable
from pathlib import Path

import openpyxl

from cakewright.jobs.findings import Findings
from cakewright.reports import Book, Units, findings_json, render_pdf, write_html, write_workbook
from cakewright.reports.line_drawings import drawing_files
from cakewright.storage.evaluation import evaluate_file

RESULTS = Path(__file__).parent / "results" / "report_speed.md"
ROUNDS = 5


def bare_json(findings: Findings) -> str:
    """The parsed data written again by the standard library."""
    return json.dumps(json.loads(findings_json(findings)))


def bare_workbook(findings: Findings) -> bytes:
    """The annex as plain rows by the usual library, no formulas and no looks."""
    book = openpyxl.Workbook()
    sheet = book.active
    for line in findings.lines:
        sheet.append([line.key, line.title, line.symbol, line.formula, line.result, line.source])
    for given in findings.givens:
        sheet.append([given.name, given.value, given.basis.value, given.where])
    buffer = io.BytesIO()
    book.save(buffer)
    return buffer.getvalue()


def bare_page(findings: Findings) -> str:
    """Every calculation line and input as escaped text."""
    rows = [f"<p>{html.escape(str(line))}</p>" for line in findings.lines]
    return "".join([*rows, *(f"<p>{html.escape(str(given))}</p>" for given in findings.givens)])


def best(make: Callable[[], object]) -> float:
    """Shortest of several runs in a warm process, in seconds of processor time."""
    make()
    times = []
    for _ in range(ROUNDS):
        start = time.process_time()
        make()
        times.append(time.process_time() - start)
    return min(times)


def main() -> None:
    """Time every document once and write the table."""
    findings = evaluate_file(None, "soy", lambda _: None)
    cases: list[tuple[str, Callable[[], object], Callable[[], object]]] = [
        ("report.html", lambda: write_html(findings), lambda: bare_page(findings)),
        ("report.pdf", lambda: render_pdf(findings), lambda: bare_page(findings)),
        ("workbook.xlsx", lambda: write_workbook(findings), lambda: bare_workbook(findings)),
        ("findings.json", lambda: findings_json(findings), lambda: bare_json(findings)),
        (
            "drawings (2 SVG, 2 DXF)",
            lambda: drawing_files(Book(findings, Units.SI)),
            lambda: bare_page(findings),
        ),
    ]
    lines = ["# Documents of one evaluation (soy), warm process, processor time", ""]
    lines += ["| document | s | bare rival, s | ratio |", "|---|---|---|---|"]
    total = 0.0
    documents = 0.0
    for name, make, rival in cases:
        ours, theirs = best(make), best(rival)
        total += ours
        documents += ours if "." in name else 0.0
        lines.append(f"| {name} | {ours:.3f} | {theirs:.4f} | {ours / theirs:.1f} |")
    lines += [
        "",
        f"All together {total:.2f} s; page, PDF, workbook and data {documents:.2f} s (aim 1.5 s).",
        "",
    ]
    RESULTS.parent.mkdir(exist_ok=True)
    RESULTS.write_text("\n".join(lines), encoding="utf-8")
    print("\n".join(lines))


if __name__ == "__main__":
    main()
