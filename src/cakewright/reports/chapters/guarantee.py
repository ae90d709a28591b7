"""What can be promised, at which risk to either side, and what test proves it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from cakewright.jobs.damages import Damages
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
    "joint_words",
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
    return Section("guarantee", "Guarantee", blocks)


def guarantee_blocks(
    book: Book, found: GuaranteeFindings, kind: str = "plain"
) -> tuple[Block, ...]:
    """Promises, what asked values would mean, how the promise moves with the risk, proof."""
    blocks: list[Block] = [Paragraph(joint_words(found), kind), Paragraph(_lead(found))]
    blocks.append(_promises(book, found))
    asked = [p for p in found.promises if p.asked is not None]
    if asked:
        blocks += [Heading("Values asked for"), _asked(book, asked)]
    blocks += [Heading("What giving way buys"), _easing(book, found)]
    if found.damages is not None:
        blocks += [Heading("What missing costs"), *_damages(book, found, found.damages)]
    blocks += [Heading("Promises against the risk of the whole list"), _ladder(book, found)]
    blocks += [Heading("How many runs and samples prove it"), _proof(book, found)]
    blocks += [_curve(book, found, p) for p in found.promises if p.name in _DRAWN]
    return tuple(blocks)


_NUMBERS = ("no", "one", "two", "three", "four", "five", "six")


def joint_words(found: GuaranteeFindings) -> str:
    """The chance of the whole list, first of all."""
    joint, count = found.joint, len(found.promises)
    offered = " (those asked for as asked)" if any(p.asked for p in found.promises) else ""
    failed = f", fails with {_percent(joint.failed)}" if joint.passed + joint.failed < 0.995 else ""
    return (
        f"All {_NUMBERS[count]} promises together{offered}: the "
        f"test passes with a chance of {_percent(joint.passed)} (sampling error "
        f"± {100 * joint.error:.0f}){failed}; all are truly met with {_percent(joint.met)}. Values "
        f"that would each pass alone with {_percent(1.0 - found.supplier_risk)} pass together with "
        f"{_percent(found.joint_alone)}: a test fails on one."
        + (
            f" These chances are less sure than they look: {found.untried}."
            if found.untried
            else ""
        )
    )


def joint_short(found: GuaranteeFindings) -> str:
    """The chance of the whole list in a few words."""
    joint, count = found.joint, len(found.promises)
    return (
        f"all {_NUMBERS[count]} promises together pass their test with a chance of "
        f"{_percent(joint.passed)} (± {100 * joint.error:.0f})"
    )


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %"


def _lead(found: GuaranteeFindings) -> str:
    count = "one" if found.machines == 1 else str(found.machines)
    return (
        f"{found.label[:1].upper()}{found.label[1:]}, {count} of frame {found.frame}. Supplier's "
        f"risk of the whole list {100 * found.supplier_risk:.3g} %, buyer's risk "
        f"{100 * found.buyer_risk:.3g} %; pass rule: {found.rule.kind.value}, "
        f"{_runs_of(found)}."
    )


def _runs_of(found: GuaranteeFindings) -> str:
    rule = found.rule
    runs = f"{rule.runs} run{'' if rule.runs == 1 else 's'}"
    return runs if rule.longest == rule.runs else f"{rule.runs} to {rule.longest} runs"


def _easing(book: Book, found: GuaranteeFindings) -> Table:
    columns = (
        Column("", share=1.4),
        Column("unit", share=0.7),
        Column("offered", align="right", share=1.0),
        Column("not passed for this", unit="%", align="right"),
        Column("eased to", align="right", share=1.0),
        Column("list then passes", unit="%", align="right"),
    )
    by = {item.name: item for item in found.promises}
    rows = []
    for one in found.easing:
        item = by[one.name]
        digits = _digits(book, item)
        rows.append(
            (
                Cell(_label(book, item)),
                Cell(book.unit(item.name)),
                Cell(f"{_sign(item)} {_value(book, item.name, item.offered.value, digits)}"),
                Cell(f"{100 * one.blamed:.0f}"),
                Cell(f"{_sign(item)} {_value(book, item.name, one.value, digits)}"),
                Cell(f"{100 * one.passed:.1f}"),
            )
        )
    caption = (
        "Not passed for this: of the tests that are not passed, the share in which this value is "
        "among those short. Eased: the value that passes 99 times in 100 alone, the others kept."
    )
    return Table(columns, tuple(rows), caption, kind="dense")


def _damages(book: Book, found: GuaranteeFindings, paid: Damages) -> tuple[Block, ...]:
    money = book.findings.currency

    def told(value: float) -> str:
        return f"{value:,.0f}".replace(",", "\u202f")

    cap = "no cap" if not np.isfinite(paid.cap) else f"at most {told(paid.cap)} {money}"
    words = (
        f"By the prices agreed ({cap}) the supplier pays {told(paid.expected)} {money} on average, "
        f"more than {told(paid.high)} {money} one time in ten, and something with a chance of "
        f"{_percent(paid.chance)}."
    )
    by = {item.name: item for item in found.promises}
    columns = (
        Column("", share=1.4),
        Column("one step", share=1.2),
        Column("price of a step", unit=money, align="right"),
        Column("paid on average", unit=money, align="right"),
        Column("saved by promising a step less", unit=money, align="right", share=1.3),
    )
    rows = []
    for one in paid.steps:
        at = by[one.name].offered.value
        size = abs(shown(one.name, at + one.step, book.units) - shown(one.name, at, book.units))
        step = f"{size:.3g} {book.unit(one.name)}"
        figures = (told(one.price), told(one.expected), told(one.saved))
        rows.append((Cell(_label(book, by[one.name])), Cell(step), *(Cell(x) for x in figures)))
    return Paragraph(words), Table(columns, tuple(rows), kind="dense")


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
        Column("passes alone", unit="%", align="right", share=0.7),
        Column("truly met", unit="%", align="right", share=0.7),
        Column("met, yet failed", unit="%", align="right", share=0.8),
        Column("missed, yet passed", unit="%", align="right", share=0.8),
        Column("buyer may count on", align="right", share=0.9),
    )
    rows = tuple(_promise_row(book, item) for item in found.promises)
    caption = (
        "Promise: of a list that passes as a whole with the chance the supplier asks for, on what "
        "is known today; every value of the list is as sure as the others. Buyer may count on: "
        "what the true values beat, all together but for the buyer's risk, once the test has "
        "passed."
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
    own = 1.0 - found.supplier_risk
    columns = (
        Column("the list passes with", share=1.4),
        Column("unit", share=0.8),
        *(Column(f"{100 * chance:.0f} %", align="right") for chance, _ in found.ladder),
        Column(f"alone with {100 * own:.3g} %", align="right", share=1.1),
    )
    rows = []
    for at, item in enumerate(found.promises):
        values = [values[at] for _, values in found.ladder] + [item.alone]
        digits = _digits(book, item)
        told = (f"{_sign(item)} {_value(book, item.name, v, digits)}" for v in values)
        rows.append((Cell(_label(book, item)), Cell(book.unit(item.name)), *map(Cell, told)))
    return Table(columns, tuple(rows))


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
