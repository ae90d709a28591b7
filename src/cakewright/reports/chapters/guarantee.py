"""What can be promised, at which risk to either side, and what test proves it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from cakewright.jobs.guarantee import GuaranteeFindings, Promised
from cakewright.reports.book import NOTHING, Book
from cakewright.reports.content import (
    Block,
    Bullets,
    Cell,
    Column,
    Heading,
    Paragraph,
    Picture,
    Section,
    Table,
)
from cakewright.reports.figures.characteristic import figure_characteristic
from cakewright.reports.numbers import band_text, decimals_for, number_text, shown, shown_array

__all__ = [
    "budget_blocks",
    "guarantee",
    "guarantee_blocks",
    "promise_words",
    "quantity_words",
    "runs_words",
    "terms_blocks",
]

_DRAWN = ("cake_solids", "capture")


def guarantee(book: Book) -> Section | None:
    """Promises of the chosen machine."""
    if book.findings.decide is None:
        return None
    found = book.findings.decide.guarantee
    blocks = (*guarantee_blocks(book, found), *terms_blocks(book, found))
    return Section("guarantee", "Guarantee", blocks, new_page=True)


def guarantee_blocks(
    book: Book, found: GuaranteeFindings, kind: str = "plain"
) -> tuple[Block, ...]:
    """Promises, what asked values would mean, how the promise moves with the risk, proof."""
    count = "one" if found.machines == 1 else str(found.machines)
    lead = (
        f"{found.label[:1].upper()}{found.label[1:]}, {count} of frame {found.frame}. Supplier's "
        f"risk {100 * found.supplier_risk:.3g} %, buyer's risk {100 * found.buyer_risk:.3g} %; "
        f"pass rule: {found.rule}."
    )
    blocks: list[Block] = [Paragraph(lead, kind), _promises(book, found)]
    asked = [p for p in found.promises if p.asked is not None]
    if asked:
        blocks += [Heading("Values asked for"), _asked(book, asked)]
    blocks += [Heading("Promise against risk"), _ladder(book, found)]
    blocks += [Heading("How many runs and samples prove it"), _proof(book, found)]
    blocks += [_curve(book, found, p) for p in found.promises if p.name in _DRAWN]
    return tuple(blocks)


def _digits(book: Book, item: Promised) -> int:
    band = book.band(item.expected)
    values = (item.expected.point, band.p10, band.p90, item.recommended.value, item.relied_on)
    return decimals_for(item.name, values, book.units) + (1 if item.name == "cake_solids" else 0)


def _value(book: Book, name: str, value: float, digits: int) -> str:
    return number_text(shown(name, value, book.units), min(digits, 5))


def _promises(book: Book, found: GuaranteeFindings) -> Table:
    columns = (
        Column("", share=1.4),
        Column("unit", share=0.7),
        Column("expected", align="right", share=0.8),
        Column("P10–P90", align="middle", share=1.2),
        Column("promise", align="right", share=1.3),
        Column("test passes", unit="%", align="right", share=0.7),
        Column("truly met", unit="%", align="right", share=0.7),
        Column("met, yet failed", unit="%", align="right", share=0.8),
        Column("missed, yet passed", unit="%", align="right", share=0.8),
        Column("buyer may count on", align="right", share=0.9),
    )
    rows = tuple(_promise_row(book, item) for item in found.promises)
    caption = (
        "Promise: the value that the test passes with the chance the supplier asks for, on what is "
        "known today. Buyer may count on: what the true value beats, but for the buyer's risk, "
        "once the test has passed."
    )
    return Table(columns, rows, caption, kind="dense")


def _promise_row(book: Book, item: Promised) -> tuple[Cell, ...]:
    digits = _digits(book, item)
    best = item.recommended
    return (
        Cell(_label(book, item)),
        Cell(book.unit(item.name)),
        Cell(_value(book, item.name, item.expected.point, digits)),
        Cell(band_text(item.name, book.band(item.expected), book.units, digits) or NOTHING),
        Cell(f"{_sign(item)} {_value(book, item.name, best.value, digits)}", strong=True),
        *(Cell(f"{100 * x:.0f}") for x in (best.passed, best.met)),
        *(Cell(f"{100 * x:.1f}") for x in (best.wrong_fail, best.wrong_pass)),
        Cell(f"{_sign(item)} {_value(book, item.name, item.relied_on, digits)}"),
    )


def quantity_words(book: Book, item: Promised) -> str:
    """Name of a promised quantity."""
    return _label(book, item)


def promise_words(book: Book, item: Promised, value: float | None = None) -> str:
    """A promise with its sense and unit; the recommended one where no value is given."""
    number = item.recommended.value if value is None else value
    unit = book.unit(item.name)
    return f"{_sign(item)} {_value(book, item.name, number, _digits(book, item))} {unit}".strip()


def _sign(item: Promised) -> str:
    return "≥" if item.sense == "at least" else "≤"


def _label(book: Book, item: Promised) -> str:
    return "throughput, dry" if item.name == "dry_solids_flow" else book.label(item.name)


def _asked(book: Book, asked: Sequence[Promised]) -> Table:
    columns = (
        Column("", share=1.4),
        Column("unit", share=0.8),
        Column("asked for", align="right", share=1.0),
        Column("chance truly met", unit="%", align="right"),
        Column("chance the test passes", unit="%", align="right"),
        Column("met, yet failed", unit="%", align="right"),
        Column("missed, yet passed", unit="%", align="right"),
    )
    rows = []
    for item in asked:
        if item.asked is None:
            continue
        chances = (item.asked.met, item.asked.passed, item.asked.wrong_fail, item.asked.wrong_pass)
        value = _value(book, item.name, item.asked.value, _digits(book, item))
        rows.append(
            (
                Cell(_label(book, item)),
                Cell(book.unit(item.name)),
                Cell(f"{_sign(item)} {value}"),
                *(Cell(f"{100 * chance:.0f}") for chance in chances),
            )
        )
    return Table(columns, tuple(rows))


def _ladder(book: Book, found: GuaranteeFindings) -> Table:
    chances = [chance for chance, _ in found.promises[0].ladder]
    columns = (
        Column("passes with a chance of", share=1.4),
        Column("unit", share=0.8),
        *(Column(f"{100 * chance:.0f} %", align="right") for chance in chances),
    )
    rows = tuple(
        (
            Cell(_label(book, item)),
            Cell(book.unit(item.name)),
            *(
                Cell(f"{_sign(item)} {_value(book, item.name, value, _digits(book, item))}")
                for _, value in item.ladder
            ),
        )
        for item in found.promises
    )
    return Table(columns, rows)


def _proof(book: Book, found: GuaranteeFindings) -> Table:
    shares = [share for share, _ in found.promises[0].proof[:-1]]
    columns = (
        Column("", share=1.3),
        Column("unit", share=0.7),
        Column("error of this test, 95 %", align="right", share=1.0),
        Column("of it common to all runs", align="right", share=1.0),
        *(Column(f"better by {100 * share:.0f} %", align="right", share=0.8) for share in shares),
        Column("as expected", align="right", share=0.8),
    )
    rows = tuple(
        (
            Cell(_label(book, item)),
            Cell(book.unit(item.name)),
            Cell(_error(book, item, item.measurement.expanded)),
            Cell(_error(book, item, 2.0 * item.measurement.systematic)),
            *(Cell(runs_words(number, found.plan.samples)) for _, number in item.proof),
        )
        for item in found.promises
    )
    plan = found.plan
    caption = (
        "Runs × samples that tell a machine better than promised from one that only just keeps the "
        "promise, at both risks. None: errors common to all runs are too large for it. The plan "
        f"has {plan.runs} × {plan.samples}."
    )
    return Table(columns, rows, caption, kind="dense")


def runs_words(runs: int | None, samples: int) -> str:
    """Runs and samples in each, or that none will do."""
    return "none" if runs is None else f"{runs} × {samples}"


def _error(book: Book, item: Promised, width: float) -> str:
    """Half a width in shown units; a difference carries no offset of a scale."""
    at = item.recommended.value
    size = abs(shown(item.name, at + width, book.units) - shown(item.name, at, book.units))
    return f"± {size:.2g}"


def _curve(book: Book, found: GuaranteeFindings, item: Promised) -> Picture:
    true, chance = item.curve
    name = _label(book, item)
    promise = shown(item.name, item.recommended.value, book.units)
    alt = (
        f"Chance that the test passes against true {name}: 50 % near "
        f"{book.quantity(item.name, float(true[int(np.argmin(np.abs(chance - 0.5)))]))}"
    )
    svg = figure_characteristic(
        shown_array(item.name, true, book.units),
        chance,
        promise,
        x_label=f"true {name}, {book.unit(item.name)}",
        alt=alt,
        supplier=found.supplier_risk,
        buyer=found.buyer_risk,
        key=f"oc-{item.name.replace('_', '-')}",
    )
    return Picture(svg, alt)


def terms_blocks(book: Book, found: GuaranteeFindings) -> tuple[Block, ...]:
    """What the promises hold for: feed window, conditioning, test."""
    columns = (
        Column("feed", share=1.5),
        Column("unit", share=0.8),
        Column("from", align="right"),
        Column("typical", align="right"),
        Column("to", align="right"),
    )
    rows = []
    for edge in found.window:
        values = (edge.low, edge.typical, edge.high)
        digits = decimals_for(edge.name, values, book.units)
        cells = [Cell(_value(book, edge.name, value, digits)) for value in values]
        rows.append((Cell(book.label(edge.name)), Cell(book.unit(edge.name)), *cells))
    caption = (
        f"Feed window: 10 to 90 % of what is expected. Chances are taken over the {found.inside} "
        "samples inside it by solids and ash."
    )
    return (
        Heading("What the promises hold for"),
        Table(columns, tuple(rows), caption),
        Bullets("Conditioning", found.conditioning),
        Bullets("Bear in mind", found.notes),
    )


def budget_blocks(book: Book, found: GuaranteeFindings) -> tuple[Block, ...]:
    """Budget of the error of each measured quantity."""
    blocks: list[Block] = []
    for item in found.promises:
        measurement = item.measurement
        name = _label(book, item)
        blocks.append(Heading(f"{name[:1].upper()}{name[1:]}"))
        columns = (
            Column("symbol", share=0.6, formula=True),
            Column("input", share=3.0),
            Column("error", share=1.0),
            Column("relative", unit="%", align="right", share=0.9),
            Column("share of variance", unit="%", align="right", share=0.9),
        )
        whole = (
            Cell("=", formula=True),
            Cell(measurement.formula, formula=True),
            Cell(),
            Cell(),
            Cell("100"),
        )
        rows = tuple(
            (
                Cell(line.symbol, formula=True),
                Cell(line.what),
                Cell("random" if line.kind == "random" else "common"),
                Cell(f"{100 * line.relative:.2f}"),
                Cell(f"{100 * line.share:.1f}"),
            )
            for line in measurement.lines
        )
        rows = (whole, *rows)
        caption = (
            f"Standard uncertainty {_error(book, item, measurement.deviation)[2:]}, expanded "
            f"(95 %) {_error(book, item, measurement.expanded)[2:]} {book.unit(item.name)}, "
            f"{measurement.freedom:.0f} degrees of freedom. Random: of the mean of all samples."
        )
        blocks.append(Table(columns, rows, caption, kind="dense"))
    return tuple(blocks)
