"""The bill of quantities prices the whole line, and says what it cannot price."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from cakewright.economics.price_book import fixed_capital, price_book, price_of_item
from cakewright.errors import QuantityError, UnknownNameError
from cakewright.jobs.bill import Bill, book_rate
from cakewright.jobs.evaluate import evaluate
from cakewright.jobs.findings import Findings
from cakewright.line.items import ItemKind
from cakewright.machines import shipped_catalogue
from cakewright.storage.studies import demo_text
from cakewright.study import parse_study


@pytest.fixture(scope="module")
def found() -> Findings:
    """The soy works at the point, with money."""
    text = demo_text("soy") + "\n[sampling]\nsamples = 0\n"
    return evaluate(parse_study(text), with_press=False)


def bill_of(found: Findings) -> Bill:
    """Bill of the chosen kind."""
    assert found.decide is not None
    return next(o.bill for o in found.decide.money.options if o.chosen)


def test_published_factors_give_the_published_whole() -> None:
    """Table 17: 100 of equipment, 193 of direct works and 66 of indirect ones make 413."""
    assert fixed_capital(100.0, 193.0, 0.66, 0.05, 0.10) == pytest.approx(413.0, rel=0.002)


def test_every_kind_of_item_has_a_price() -> None:
    """No item can be drawn that the book does not price; an unknown kind is named."""
    priced = set(price_book()["item"])
    assert {k.value for k in ItemKind} - {"press"} <= priced
    with pytest.raises(UnknownNameError, match="no price for 'balloon'"):
        price_of_item("balloon", None)


def test_every_item_is_in_the_bill_and_the_sums_are_its_own(found: Findings) -> None:
    """Each tag but the press's own drives stands once; lines and factors add up to the capital."""
    bill, line = bill_of(found), found.line
    assert line is not None
    tags = [entry.tag for entry in bill.lines if entry.tag]
    assert sorted(tags) == sorted(i.tag for i in line.items if i.kind is not ItemKind.PRESS)
    assert all(entry.amount > 0 for entry in bill.lines)
    amounts = [amount for _, amount, _ in bill.sums]
    assert sum(amounts[:-1]) + bill.works == pytest.approx(bill.total)
    head = {figure.name: figure.point for figure in found.decision.headline}
    assert head["capital"] == pytest.approx(bill.total)


def test_capital_over_samples_starts_at_the_bill(found: Findings) -> None:
    """The point of the samples is the bill; twice the estimate is twice the capital."""
    bill = bill_of(found)
    capital = bill.capital(np.full(2, bill.erected), np.array([1.0, 2.0]))
    assert capital.installed == pytest.approx([bill.total, 2 * bill.total])
    assert capital.purchase[0] == pytest.approx(bill.equipment)


def test_a_book_in_another_currency_asks_for_a_rate() -> None:
    """A study in dollars with a catalogue in dollars has no rate for the book."""
    study = replace(parse_study(demo_text("soy")), words={"currency": "USD"})
    frame = replace(shipped_catalogue()[0], currency="USD")
    with pytest.raises(QuantityError, match="book_rate"):
        book_rate(study, frame)
