"""Whole-life cost: of what it is made, which kind is cheapest, when that turns, what it saves."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from cakewright.jobs.breakeven import BreakEven
from cakewright.jobs.money_findings import MoneyFindings, MoneyOption, Payback
from cakewright.jobs.sizes import SizeFindings
from cakewright.quantities import Figure
from cakewright.reports.book import Book
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
from cakewright.reports.figures.cost_stack import CostBar, figure_cost_stack
from cakewright.reports.figures.curves import Curve, figure_break_even
from cakewright.reports.line_tables import Entry, ListTable, Value, list_table
from cakewright.reports.numbers import number_text, shown_array, shown_unit, unit_text

__all__ = ["bill", "money"]

_GROUPS: Mapping[str, tuple[str, ...]] = {
    "line and spares": ("line, installed", "first spares"),
    "conditioning": ("polymer", "coagulant", "ferric chloride", "lime"),
    "power and water": ("power", "water"),
    "labour and maintenance": ("labour", "maintenance"),
    "haulage": ("haulage",),
    "disposal": ("disposal",),
    "filtrate treatment": ("filtrate treatment",),
}


def money(book: Book) -> Section | None:
    """Whole-life cost of every kind that carries the load."""
    decide = book.findings.decide
    if decide is None:
        return None
    found = decide.money
    blocks: list[Block] = [
        Paragraph(_terms(found)),
        _stack(book, found),
        _table(book, found),
        Heading("Parts of the cost"),
        _parts(book, found),
        Heading("Where the choice would turn"),
        *_break_evens(book, found),
        *_sizes(book, decide.sizes),
        *_payback(book, found.payback),
    ]
    if found.accepted is not None:
        blocks.append(Paragraph(_refused(book, found.accepted)))
    blocks.append(Bullets("What these figures rest on", found.notes))
    return Section("money", "Money", tuple(blocks))


def bill(book: Book) -> Section | None:
    """The priced bill of quantities of the chosen kind's whole line."""
    decide = book.findings.decide
    if decide is None:
        return None
    return Section("bill", "Bill of quantities", tuple(bill_blocks(book, decide.money)))


def bill_blocks(book: Book, found: MoneyFindings) -> list[Block]:
    """The whole line of the chosen kind, priced line by line, and what is left out."""
    bill = next(option.bill for option in found.options if option.chosen)
    first = (("item", 0.7), ("what", 2.6), ("quantity", 0.8), ("unit", 0.9))
    heads = (*first, ("price each", 0.9), ("amount", 0.9), ("source", 1.3), ("mark", 0.8))
    rows: list[tuple[Entry, ...]] = [
        (
            line.tag,
            line.label,
            f"{line.quantity:.3g}",
            line.unit,
            Value("money", line.price),
            Value("money", line.amount),
            line.source,
            line.mark,
        )
        for line in bill.lines
    ]
    rows += [
        ("", label, "", "", None, Value("money", amount), source, "")
        for label, amount, source in bill.sums
    ]
    words = (
        f"{found.currency} of {found.price_year}, without tax, point case; "
        f"{found.estimate.statement}. Prices of the book are invented; no supplier stands behind "
        "them. Left out: "
        f"{'; '.join(bill.excluded)}."
    )
    return [Paragraph(words, "note"), list_table(book, ListTable("Bill", heads, tuple(rows)))]


def _terms(found: MoneyFindings) -> str:
    real, nominal = 100 * found.real_rate.point, 100 * found.nominal_rate.point
    return (
        f"All money in {found.currency} at prices of {found.price_year}. Written off over "
        f"{found.years} years at {real:.2g} % real interest ({nominal:.2g} % nominal). Capital is "
        f"a {found.estimate.statement} estimate."
    )


def _stack(book: Book, found: MoneyFindings) -> Picture:
    bars = [
        CostBar(o.label, _grouped(book, o), _total_words(book, o.specific), o.chosen)
        for o in found.options
    ]
    unit = book.unit("cost_specific")
    spoken = "; ".join(f"{bar.label} {bar.total_words}" for bar in bars)
    alt = f"Whole-life cost in {unit} dry solids, point case: {spoken}"
    title = f"Whole-life cost per dry solids, point case, prices of {found.price_year}"
    svg = figure_cost_stack(bars, tuple(_GROUPS), title, unit, alt)
    return Picture(svg, alt, "", wide=True)


def _grouped(book: Book, option: MoneyOption) -> tuple[float, ...]:
    return tuple(
        sum(float(_shown(book, option.parts[name])) for name in names if name in option.parts)
        for names in _GROUPS.values()
    )


def _shown(book: Book, figure: Figure) -> float:
    return float(shown_array(figure.name, np.array([figure.point]), book.units)[0])


def _total_words(book: Book, figure: Figure) -> str:
    return f"{book.value_cell(figure).text} ({book.band_cell(figure).text})"


def _table(book: Book, found: MoneyFindings) -> Table:
    columns = (
        Column("", share=1.9),
        Column("unit", share=0.8),
        *(Column(o.label, align="right", share=1.5) for o in found.options),
    )
    rows = [
        _row(book, "equipment of the line", [o.purchase for o in found.options]),
        _row(book, "capital, whole line installed", [o.installed for o in found.options]),
        _row(book, "running cost of a year", [o.running for o in found.options]),
        _row(book, "present worth, whole life", [o.present_worth for o in found.options]),
        _row(book, "the same as a yearly sum", [o.annual for o in found.options]),
        _row(book, "per dry solids", [o.specific for o in found.options]),
        _chances("chance of being cheapest", [o.chance_cheapest for o in found.options]),
        _chances("chance of being the best choice", [o.chance_best for o in found.options]),
    ]
    caption = (
        f"{found.currency} of {found.price_year}; point case and, in brackets, P10–P90. Cheapest: "
        "lowest whole-life cost. Best choice: missed targets and care counted too."
    )
    return Table(columns, tuple(rows), caption, kind="dense")


def _row(book: Book, words: str, figures: Sequence[Figure]) -> tuple[Cell, ...]:
    cells = [Cell(_rounded_band(book, figure)) for figure in figures]
    return (Cell(words), Cell(book.unit(figures[0].name)), *cells)


def _rounded_band(book: Book, figure: Figure) -> str:
    """Value and band to three significant figures: money to come is no better known."""
    band, point = book.shown_band(figure)
    value, low, high = (number_text(float(f"{x:.3g}"), 0) for x in (point, band.p10, band.p90))
    return value if low == high else f"{value} ({low}–{high})"


def _chances(words: str, chances: Sequence[float]) -> tuple[Cell, ...]:
    return (Cell(words), Cell("%"), *(Cell(f"{100 * chance:.0f}") for chance in chances))


def _parts(book: Book, found: MoneyFindings) -> Table:
    columns = (
        Column("", share=1.9),
        *(Column(o.label, align="right", share=1.3) for o in found.options),
    )
    names = [name for name in found.options[0].parts if any(_part(o, name) for o in found.options)]
    rows = [
        (
            Cell(name),
            *(Cell(book.value_cell(o.parts[name], decimals=0).text) for o in found.options),
        )
        for name in names
    ]
    unit = book.unit("cost_specific")
    caption = f"{unit} dry solids as a yearly sum, point case, prices of {found.price_year}."
    return Table(columns, tuple(rows), caption, kind="dense")


def _part(option: MoneyOption, name: str) -> bool:
    return name in option.parts and option.parts[name].point != 0.0


def _break_evens(book: Book, found: MoneyFindings) -> list[Block]:
    charts = [_break_even(book, item, found) for item in found.break_evens]
    words = tuple(
        f"{_moved(book, item, found)}: {_crossing_words(book, item)}" for item in found.break_evens
    )
    note = "Cost alone; the choice also counts a premium for care and missed targets."
    return [*charts, Bullets("", words), Paragraph(note, "note")] if words else []


def _moved(book: Book, item: BreakEven, found: MoneyFindings) -> str:
    if item.name != "cake_solids":
        return book.label(item.name)
    chosen = next(o.label for o in found.options if o.chosen)
    return f"cake solids of the {chosen} alone"


def _break_even(book: Book, item: BreakEven, found: MoneyFindings) -> Picture:
    chosen = next(o.label for o in found.options if o.chosen)
    setting = shown_array(item.name, item.setting, book.units)
    curves = [
        Curve(label, shown_array("cost_specific", cost, book.units), chosen=label == chosen)
        for label, cost in item.curves.items()
    ]
    now = float(shown_array(item.name, np.array([item.now]), book.units)[0])
    unit = unit_text(shown_unit(item.name, book.units), found.currency)
    what = _moved(book, item, found)
    cost_unit = book.unit("cost_specific")
    alt = f"Whole-life cost in {cost_unit} over {what} in {unit}. {_crossing_words(book, item)}"
    svg = figure_break_even(
        setting,
        curves,
        x_label=f"{what}, {unit}",
        y_label=f"cost, {cost_unit} ({found.price_year})",
        alt=alt,
        now=now,
        key=f"even-{item.name.replace('_', '-')}",
    )
    return Picture(svg, alt)


def _crossing_words(book: Book, item: BreakEven) -> str:
    if not item.crossings:
        return "no crossing in this range; the order of the first stays as it is."
    words = [f"{label} at {book.quantity(item.name, x)}" for label, x in item.crossings.items()]
    return f"costs as much as {', '.join(words)}."


def _sizes(book: Book, found: SizeFindings) -> list[Block]:
    if len(found.sizes) < 2:
        return []
    columns = (
        Column("frame", share=1.5),
        Column("machines", align="right", share=0.8),
        Column("shafts", align="right", share=0.7),
        Column("design week uses", unit="%", align="right", share=1.0),
        Column("chance it is short", unit="%", align="right", share=1.0),
        Column("sludge left over", unit=book.unit("volume_flow_year"), align="right", share=1.0),
        Column("owning and left over", unit=book.unit("present_worth"), align="right", share=1.2),
        Column("chance of being best", unit="%", align="right", share=1.0),
    )
    rows = tuple(
        (
            Cell(size.frame, strong=size.chosen),
            Cell(str(size.machines)),
            Cell(str(size.shafts)),
            Cell(f"{100 * size.use[0]:.0f}"),
            Cell(f"{100 * size.short:.0f}"),
            Cell(_year_volume(book, float(np.mean(size.overload)))),
            Cell(number_text(float(f"{np.mean(size.net_cost):.3g}"), 0)),
            Cell(f"{100 * size.chance_best:.0f}"),
        )
        for size in found.sizes
    )
    caption = (
        "Frames of the chosen kind near the load. Owning: purchase, installation, spares and "
        "upkeep as present worth; left over: mean sludge of a year beyond the capacity of its "
        f"week, at the study's price; money of {book.findings.price_year}. The recommended size "
        "keeps the spare capacity asked for."
    )
    return [Heading("How large"), Table(columns, rows, caption), Paragraph(_size_words(found))]


def _year_volume(book: Book, volume: float) -> str:
    return number_text(float(shown_array("volume_flow_year", np.array([volume]), book.units)[0]), 0)


def _size_words(found: SizeFindings) -> str:
    chosen = next(size for size in found.sizes if size.chosen)
    name = chosen.frame if chosen.machines == 1 else f"{chosen.machines} × {chosen.frame}"
    if found.cheapest == name:
        return f"{name} also has the lowest expected cost of owning and of sludge left over."
    return (
        f"On expected cost alone {found.cheapest} would do; {name} buys the spare capacity the "
        "study asks for."
    )


def _payback(book: Book, found: Payback | None) -> list[Block]:
    if found is None:
        words = (
            "Payback is not worked out: the study gives no cost of today's practice ([today] "
            "liquid_price or yearly_cost)."
        )
        return [Heading("Against today's practice"), Paragraph(words, "note")]
    rows = tuple(
        book.figure_row(figure, label=words)
        for words, figure in (
            ("today's practice", found.today),
            ("running the new line", found.running),
            ("saving", found.saving),
        )
    )
    return [
        Heading("Against today's practice"),
        Table(book.figure_columns("a year"), rows, found.note),
        Paragraph(_payback_words(found)),
    ]


def _payback_words(found: Payback) -> str:
    chance = f"Chance of paying back within the life: {100 * found.chance_in_life:.0f} %."
    if found.years is None:
        return f"In the point case the line never pays back: it saves nothing a year. {chance}"
    simple = f"In the point case the line pays back in {found.years:.1f} years"
    if found.years_discounted is None:
        return f"{simple}, never with interest. {chance}"
    return f"{simple} ({found.years_discounted:.1f} with interest). {chance}"


def _refused(book: Book, accepted: Figure) -> str:
    share = 100 * (1.0 - accepted.point)
    return (
        f"The outlet refuses the cake on about {share:.0f} % of days in the point case; that cake "
        "is priced at the study's second outlet. The permit decides, and may ask for more than "
        "dryness."
    )
