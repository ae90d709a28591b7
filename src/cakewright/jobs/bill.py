"""A priced bill of quantities of the whole line: lists, price book, published factors on top."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.special import ndtr

from cakewright.economics import estimate_classes
from cakewright.economics.price_book import fixed_capital, price_book, price_of_item
from cakewright.errors import QuantityError
from cakewright.line.design import LineDesign
from cakewright.line.inputs import point
from cakewright.line.items import Item, ItemKind, SignalType
from cakewright.machines import Frame, Plan
from cakewright.machines.quantiles import split_normal
from cakewright.quantities import FloatArray
from cakewright.quantities.constants import DAY
from cakewright.study import Study

__all__ = ["Bill", "BillLine", "Capital", "bill_of", "book_rate", "catalogue_rate"]


@dataclass(frozen=True, slots=True)
class BillLine:
    """One line: so many of something at a price each, in the study's currency."""

    tag: str
    label: str
    group: str
    quantity: float
    unit: str
    price: float
    source: str
    mark: str

    @property
    def amount(self) -> float:
        """Quantity times price."""
        return self.quantity * self.price


@dataclass(frozen=True, slots=True, eq=False)
class Capital:
    """What is bought over samples: delivered equipment, and the whole line as it stands."""

    purchase: FloatArray
    installed: FloatArray


@dataclass(frozen=True, slots=True)
class Bill:
    """The whole line of one kind, point case; factors are shares of what they name.

    ``indirect`` (engineering, construction) per equipment, ``on_top`` (fee, contingency) per all
    works; ``erected`` is erected over delivered price of the equipment.
    """

    machine: str
    currency: str
    lines: tuple[BillLine, ...]
    erected: float
    indirect: float
    fee: float
    contingency: float
    excluded: tuple[str, ...]

    @property
    def equipment(self) -> float:
        """Delivered equipment."""
        return sum(line.amount for line in self.lines if line.group == "equipment")

    @property
    def works(self) -> float:
        """Instruments, electrics, pipes and room."""
        return sum(line.amount for line in self.lines if line.group != "equipment")

    @property
    def on_top(self) -> float:
        """Fee and contingency."""
        return self.fee + self.contingency

    @property
    def total(self) -> float:
        """The whole line, contingency included."""
        direct = (self.erected - 1.0) * self.equipment + self.works
        return fixed_capital(self.equipment, direct, self.indirect, self.fee, self.contingency)

    @property
    def sums(self) -> tuple[tuple[str, float, str], ...]:
        """What comes on the lines, to the whole: words, amount, source."""
        equipment, indirect = self.equipment, self.indirect * self.equipment
        erection = (self.erected - 1.0) * equipment
        all_works = equipment + erection + self.works + indirect
        return (
            ("equipment, delivered", equipment, ""),
            (f"erection, {100 * (self.erected - 1.0):.0f} % of the equipment", erection, "L127"),
            (
                f"engineering and construction, {100 * self.indirect:.0f} % of the equipment",
                indirect,
                "L127",
            ),
            (
                f"contractor's fee, {100 * self.fee:.0f} % of all works",
                self.fee * all_works,
                "L127",
            ),
            (
                f"contingency, {100 * self.contingency:.0f} % of all works",
                self.contingency * all_works,
                "L127",
            ),
            ("whole line, installed", self.total, ""),
        )

    def capital(self, erected: FloatArray, factor: FloatArray) -> Capital:
        """Purchase and whole with erection and the error of the estimate over samples."""
        whole = ((erected + self.indirect) * self.equipment + self.works) * (1.0 + self.on_top)
        return Capital(np.asarray(self.equipment * factor), np.asarray(whole * factor))


def catalogue_rate(study: Study, frame: Frame) -> float:
    """What a catalogue price is multiplied by to be in the study's currency and year.

    Raises
    ------
    QuantityError
        If the catalogue is in another currency and the study gives no rate.
    """
    given, currency = study.given("prices.catalogue_rate"), study.word("currency")
    if frame.currency != currency and given is None:
        raise QuantityError(
            f"frame {frame.name} is priced in {frame.currency}, the study is in {currency}, and no "
            f"rate is given; write [prices] catalogue_rate = ... ({currency} for one "
            f"{frame.currency}), or give a catalogue in {currency}"
        )
    rate = given.value if given is not None and frame.currency != currency else 1.0
    return rate * study.value("prices.catalogue_index")


def book_rate(study: Study, frame: Frame) -> float:
    """What a price of the book is multiplied by to be in the study's currency.

    Raises
    ------
    QuantityError
        If the book is in another currency and the study gives no rate for it.
    """
    mine, book = study.word("currency"), price_book()["book"]["currency"]
    given = study.given("prices.book_rate")
    if mine == book:
        return 1.0
    if given is not None:
        return given.value
    if frame.currency == book:
        return catalogue_rate(study, frame) / study.value("prices.catalogue_index")
    raise QuantityError(
        f"the price book is in {book}, the study is in {mine}, and no rate is given; write "
        f"[prices] book_rate = ... ({mine} for one {book})"
    )


def estimate_factor(study: Study, score: FloatArray) -> FloatArray:
    """Error of the capital estimate by its class; its edges are the 10 % and 90 % points."""
    row = estimate_classes()[study.count("prices.estimate_class")]
    share = np.clip(ndtr(score), 1e-9, 1 - 1e-9)
    return np.asarray(split_normal(1.0 + row.low, 1.0, 1.0 + row.high, share))


def bill_of(study: Study, line: LineDesign, plan: Plan) -> Bill:
    """Every item, loop, motor and pipe of a designed line at the prices of catalogue and book.

    Raises
    ------
    QuantityError
        If a price is in a currency the study gives no rate for.
    UnknownNameError
        If the book has no price for a kind of item.
    """
    book = price_book()
    rate, mark = book_rate(study, plan.frame), book["book"]["mark"]
    lines = [
        BillLine(
            "",
            f"{plan.frame.machine.value.replace('_', ' ')}, size {plan.frame.name}",
            "equipment",
            float(plan.machines),
            "machines",
            plan.frame.budget_price * catalogue_rate(study, plan.frame),
            "catalogue",
            plan.frame.mark.value,
        )
    ]
    lines += [
        BillLine(tag, label, group, quantity, unit, price * rate, "price book, L72 L73", mark)
        for tag, label, group, quantity, unit, price in (*_items(line.items), *_works(line, book))
        if quantity > 0
    ]
    factors = {name: float(row["value"]) for name, row in book["factor"].items()}
    return Bill(
        machine=plan.frame.machine.value,
        currency=study.word("currency"),
        lines=tuple(lines),
        erected=study.value("prices.installation"),
        indirect=factors["engineering"] + factors["construction"],
        fee=factors["fee"],
        contingency=factors["contingency"],
        excluded=tuple(book["excluded"]["text"]),
    )


_Row = tuple[str, str, str, float, str, float]


def _items(items: Sequence[Item]) -> Iterator[_Row]:
    for item in items:
        if item.kind is ItemKind.PRESS:
            continue
        of = price_book()["item"].get(item.kind.value, {}).get("of")
        sizes = [datum.value for datum in item.data if datum.name == of]
        price = price_of_item(item.kind.value, max(sizes, default=None))
        number = float(item.duty + item.standby)
        yield item.tag, item.label, "equipment", number, "pieces", price


# Stores that stand in the equipment list of some kinds, by the form of what they hold.
_STORES = {"coagulant": "T-201", "lime": "T-202"}


def _works(line: LineDesign, book: Any) -> Iterator[_Row]:
    days, store = book["stored"]["days"], book["work"]["chemicals' storage"]
    listed = {item.tag for item in line.items}
    for product in line.products:
        if _STORES.get(product.form.name) in listed:
            continue
        scale = point(line.cases.mean_year.dry_solids_flow / line.cases.design.dry_solids_flow)
        held = point(product.as_supplied) * scale * DAY * days
        price = store["price"] * (held / store["size"]) ** store["exponent"]
        label = f"storage of {product.product.name}, {days} days"
        yield "", label, "equipment", 1.0, "stores", price
    measured = sum(s.signal in (SignalType.AI, SignalType.COUNTER) for s in line.signals)
    switches = sum(s.signal is SignalType.DI for s in line.signals)
    counts = {
        "instruments, measuring": float(measured),
        "instruments, switches": float(switches),
        "drives, starters and cables": float(sum(m.number for m in line.motors)),
        "control panel": 1.0,
        "pipes with fittings, DN 50": sum(p.length * p.bore / 0.05 for p in line.pipes),
        "room with services": line.ventilation.room_volume,
    }
    for label, count in counts.items():
        row = book["work"][label]
        yield "", label, row["group"], count, row["unit"], float(row["price"])
