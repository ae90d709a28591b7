"""Whole-life cost: every part worked out a second way, and every bad input named."""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
import numpy_financial as npf
import pytest
from scipy.stats import norm

from cakewright.errors import QuantityError, StudyError
from cakewright.jobs.decision import DecisionFindings
from cakewright.jobs.evaluate import evaluate
from cakewright.storage.studies import demo_text
from cakewright.study import parse_study

TONNE = 1000.0


@cache
def decided(extra: str = "", samples: int = 0, more: str = "") -> DecisionFindings:
    """What was decided on the soy study with price keys and whole tables added."""
    text = demo_text("soy").replace("[prices]\n", f"[prices]\n{extra}\n")
    text += f"\n[sampling]\nsamples = {samples}\n{more}"
    found = evaluate(parse_study(text), with_press=False).decide
    assert found is not None
    return found


def chosen(found: DecisionFindings) -> Any:
    """Money of the chosen kind."""
    return next(option for option in found.money.options if option.chosen)


def test_present_worth_against_a_financial_library() -> None:
    """Point case: capital today plus an annuity of the running cost, by numpy-financial."""
    option = chosen(decided())
    running = option.running.point * 365.25 * 86400.0
    spares = 0.05 * option.purchase.point
    expected = option.installed.point + spares - npf.pv(0.05, 15, running)
    assert option.present_worth.point == pytest.approx(expected, rel=1e-12)
    yearly = -npf.pmt(0.05, 15, expected)
    assert option.annual.point * 365.25 * 86400.0 == pytest.approx(yearly, rel=1e-12)
    parts = sum(part.point for part in option.parts.values())
    assert parts == pytest.approx(option.specific.point, rel=1e-12)


def test_nominal_interest_is_the_same_as_real_interest_with_inflation() -> None:
    """1.05 x 1.02 - 1 = 7.1 % nominal gives the cost of 5 % real, to the last digit."""
    real = decided('interest = "5 %"\ninflation = "2 %"')
    nominal = decided('interest = "7.1 %"\ninflation = "2 %"\ninterest_is = "nominal"')
    assert chosen(nominal).present_worth.point == pytest.approx(chosen(real).present_worth.point)
    assert nominal.money.real_rate.point == pytest.approx(0.05)


def test_a_price_that_rises_is_summed_year_by_year() -> None:
    """Energy rising 3 % above inflation: the sum over 15 years by hand."""
    flat, rising = (chosen(decided(text)) for text in ("", 'power_rise = "3 %"'))
    years = np.arange(1, 16)
    ratio = np.sum((1.03 / 1.05) ** years) / np.sum(1.05 ** -years.astype(float))
    got = rising.parts["power"].point / flat.parts["power"].point
    assert got == pytest.approx(ratio, rel=1e-12)
    assert rising.parts["disposal"].point == pytest.approx(flat.parts["disposal"].point)


def test_dear_hours_and_demand_are_charged() -> None:
    """A third of the energy at three times the price costs 5/3; demand is charged by the kW."""
    flat = chosen(decided())
    tariff = chosen(decided('peak_power = "0.57 EUR/kWh"\npeak_share = "33.3333333 %"'))
    ratio = tariff.parts["power"].point / flat.parts["power"].point
    assert ratio == pytest.approx(5.0 / 3.0, rel=1e-6)
    text = demo_text("soy").replace("[prices]\n", '[prices]\ndemand = "100 EUR/kW"\n')
    found = evaluate(parse_study(text + "\n[sampling]\nsamples = 0\n"), with_press=False)
    assert found.decide is not None
    assert found.line is not None
    kilowatts = found.line.demand.together / 1000.0
    dry = flat.annual.point / flat.specific.point * 365.25 * 86400.0
    extra = chosen(found.decide).parts["power"].point - flat.parts["power"].point
    assert extra == pytest.approx(100.0 * kilowatts / dry, rel=1e-9)


def test_trips_are_charged_by_the_load() -> None:
    """60 a load adds 60 times wet cake over payload, and nothing else."""
    flat, trips = (chosen(decided(text)) for text in ("", 'trip = "60 EUR"'))
    found = decided()
    cake_per_dry = flat.parts["haulage"].point / (0.22 / TONNE / 1000.0 * 25e3)
    extra = trips.parts["haulage"].point - flat.parts["haulage"].point
    assert extra == pytest.approx(60.0 * cake_per_dry / 9000.0, rel=1e-9)
    assert found.money.currency == "EUR"


def test_cake_the_outlet_refuses_goes_to_the_second_outlet() -> None:
    """Share of days below the limit by the normal curve, at the second outlet's price."""
    one = '\n[machines]\nkinds = ["multi_disc_screw_press"]\n'
    more = f'[decision]\nday_spread = "1 %"\n{one}'
    text = demo_text("soy").replace(
        "[outlet]\n", '[outlet]\nleast_solids = "16.5 %"\nfallback_price = "158 EUR/t"\n'
    )
    study = parse_study(text + "\n[sampling]\nsamples = 0\n" + more)
    found = evaluate(study, with_press=False)
    assert found.decide is not None
    plain = evaluate(parse_study(demo_text("soy") + "\n[sampling]\nsamples = 0\n" + one),
                     with_press=False)  # fmt: skip
    assert plain.decide is not None
    cake = plain.decision.headline[0].point
    refused = norm.cdf((0.165 - cake) / 0.01)
    before, after = (chosen(d).parts["disposal"].point for d in (plain.decide, found.decide))
    assert after / before == pytest.approx(1.0 + refused * (158.0 - 58.0) / 58.0, rel=1e-9)
    assert found.decide.money.accepted is not None
    assert found.decide.money.accepted.point == pytest.approx(1.0 - refused)


def test_estimate_class_sets_the_band_of_the_purchase() -> None:
    """The edges of the class are met at P10 and P90 within sampling error; class 1 is narrower."""
    rough, firm = (chosen(decided(f"estimate_class = {n}", 512)) for n in (5, 1))
    for option, low, high in ((rough, 0.5, 2.0), (firm, 0.9, 1.15)):
        point = option.purchase.point
        # Common and own scores are independent: their sum is again a unit normal.
        assert option.purchase.band.p10 / point == pytest.approx(low, rel=0.06)
        assert option.purchase.band.p90 / point == pytest.approx(high, rel=0.06)


def test_payback_by_hand() -> None:
    """Capital over the saving of the point case; with interest it takes longer."""
    found = decided(more='[today]\nliquid_price = "30 EUR/m3"\n')
    payback, option = found.money.payback, chosen(found)
    assert payback is not None
    capital = option.installed.point + 0.05 * option.purchase.point
    saving = (payback.today.point - payback.running.point) * 365.25 * 86400.0
    assert payback.years == pytest.approx(capital / saving)
    assert payback.years_discounted == pytest.approx(float(npf.nper(0.05, saving, -capital)))


def test_a_line_that_saves_nothing_never_pays_back() -> None:
    """No number stands where there is none; the chance says so too."""
    payback = decided(more='[today]\nliquid_price = "1 EUR/m3"\n').money.payback
    assert payback is not None
    assert payback.years is None
    assert payback.chance_in_life == 0.0
    assert decided().money.payback is None


def test_chances_of_being_cheapest_are_chances() -> None:
    """Over the kinds that may be chosen they add to one."""
    found = decided(samples=256)
    assert sum(option.chance_cheapest for option in found.money.options) == pytest.approx(1.0)
    assert found.value is not None
    assert sum(found.value.chance) == pytest.approx(1.0)


def test_crossing_of_two_kinds_is_where_their_costs_meet() -> None:
    """At the disposal price named, both cost the same when evaluated anew."""
    quick = "\n[sampling]\nsamples = 0\n"
    # Kinds of two cakes at nearly one cost without disposal: the price decides between them.
    text = demo_text("soy") + '\n[machines]\nkinds = ["decanter", "belt_press"]\n' + quick
    found = evaluate(parse_study(text), with_press=False).decide
    assert found is not None
    even = next(b for b in found.money.break_evens if b.name == "disposal_price")
    names = list(even.curves)
    lines = [np.polyfit(even.setting, even.curves[name], 1) for name in names]
    price = (lines[1][1] - lines[0][1]) / (lines[0][0] - lines[1][0])
    inside = even.setting.min() <= price <= even.setting.max()
    assert (names[1] in even.crossings) == inside
    for at, name in enumerate(names):
        drawn = np.polyval(lines[at], even.now)
        told = next(o.specific.point for o in found.money.options if o.label == name)
        assert drawn == pytest.approx(told, rel=1e-9)


def test_another_currency_needs_a_rate() -> None:
    """Frames in EUR, study in USD: refused with both names; with a rate the purchase follows."""
    text = demo_text("soy").replace('"EUR"', '"USD"').replace("EUR/", "USD/")
    text += "\n[sampling]\nsamples = 0\n"
    with pytest.raises(QuantityError, match=r"priced in EUR, the study is in USD.*catalogue_rate"):
        evaluate(parse_study(text), with_press=False)
    rated = text.replace("[prices]\n", "[prices]\ncatalogue_rate = 1.25\n")
    found = evaluate(parse_study(rated), with_press=False)
    assert found.decide is not None
    ratio = chosen(found.decide).purchase.point / chosen(decided()).purchase.point
    assert ratio == pytest.approx(1.25)


@pytest.mark.parametrize(
    ("line", "text"),
    [
        ('life = "0 a"', r"prices\.life: got 0 a \(too low\)"),
        ('power = "-0.1 EUR/kWh"', r"prices\.power: got -0\.1 EUR/kWh \(too low\)"),
        ('water = "3 .. 2 .. 4 EUR/m3"', r"prices\.water: .*must rise"),
        ('water = "2 USD/m3"', r"prices\.water: .*USD without a rate"),
        ("estimate_class = 6", r"prices\.estimate_class: got 6"),
        ('inflation = "80 %"', r"prices\.inflation: got 80 % \(too high\)"),
    ],
)
def test_bad_prices_are_named(line: str, text: str) -> None:
    """Zero life, a negative price, ends out of order, a foreign currency: place and limit."""
    study = demo_text("soy")
    for key in ("power", "water"):
        if line.startswith(f"{key} ="):
            study = "\n".join(x for x in study.splitlines() if not x.startswith(f"{key} ="))
    with pytest.raises(StudyError, match=text):
        parse_study(study.replace("[prices]", f"[prices]\n{line}") + "\n")
