"""Whole-life cost of every priced kind, payback and break-even, as findings."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from cakewright.economics import EstimateClass, estimate_classes, payback_time
from cakewright.errors import InfeasibleError
from cakewright.jobs.bill import Bill
from cakewright.jobs.breakeven import BreakEven, break_evens
from cakewright.jobs.choice import Choice, Priced
from cakewright.jobs.draws import StudyDraws
from cakewright.jobs.money import (
    accepted_share,
    capital_of,
    cost_figure,
    life_years,
    rates_of,
    running_costs,
)
from cakewright.jobs.worth import DecisionValue
from cakewright.quantities import Figure, FloatArray
from cakewright.quantities.constants import YEAR
from cakewright.sludge import Feed
from cakewright.study import Study

__all__ = ["MoneyFindings", "MoneyOption", "Payback", "money_findings"]


@dataclass(frozen=True, slots=True, eq=False)
class MoneyOption:
    """One kind's money: what is bought, each part per dry solids, and the whole three ways.

    ``yearly`` is each cost of a year at today's prices, ``dry_solids`` what is fed in that year.
    """

    machine: str
    label: str
    chosen: bool
    answer: str
    purchase: Figure
    installed: Figure
    bill: Bill
    parts: Mapping[str, Figure]
    running: Figure
    present_worth: Figure
    annual: Figure
    specific: Figure
    chance_cheapest: float
    chance_best: float
    yearly: Mapping[str, Figure]
    dry_solids: Figure


@dataclass(frozen=True, slots=True, eq=False)
class Payback:
    """Against today's practice: both costs of a year, and when the saving has paid for the line.

    ``years`` is the simple payback of the point case, None where the line never pays back;
    ``chance_in_life`` the share of samples that pay back within the life.
    """

    today: Figure
    running: Figure
    saving: Figure
    years: float | None
    years_discounted: float | None
    chance_in_life: float
    note: str


@dataclass(frozen=True, slots=True, eq=False)
class MoneyFindings:
    """Whole-life cost of every priced kind, in one currency at the prices of one year.

    ``rises`` is the real price rise of each cost of a year, point case.
    """

    currency: str
    price_year: int
    years: int
    rises: Mapping[str, float]
    real_rate: Figure
    nominal_rate: Figure
    estimate: EstimateClass
    options: tuple[MoneyOption, ...]
    break_evens: tuple[BreakEven, ...]
    payback: Payback | None
    accepted: Figure | None
    notes: tuple[str, ...]


def money_findings(
    study: Study,
    draws: StudyDraws,
    feed: Feed,
    choice: Choice,
    able: Sequence[Priced],
    value: DecisionValue | None,
) -> MoneyFindings:
    """Money of every priced kind; ``able`` are those that suit, cheapest first."""
    best = choice.best
    cost = best.cost
    rivals = [p for p in able if p is not best][:4]
    real, nominal = rates_of(study, draws)
    costs = running_costs(study, best.bill, best.yearly, draws)
    cheapest = _chances(able)
    chance = dict(zip(value.machines, value.chance, strict=True)) if value else {}
    options = tuple(
        _money_option(study, draws, p, choice, cheapest, chance)
        for p in sorted(choice.priced.values(), key=lambda p: p.cost.point)
    )
    return MoneyFindings(
        currency=study.word("currency"),
        price_year=study.count("price_year"),
        years=life_years(draws),
        rises={n: float(np.ravel(g)[0]) for n, (_, g) in costs.items()},
        real_rate=_figure("interest_rate", real, cost),
        nominal_rate=_figure("interest_rate", nominal, cost),
        estimate=estimate_classes()[study.count("prices.estimate_class")],
        options=options,
        break_evens=break_evens(study, draws, best, rivals),
        payback=_payback(study, draws, feed, best),
        accepted=_accepted(study, draws, best),
        notes=_money_notes(study, best),
    )


def _figure(name: str, samples: FloatArray, like: Figure, note: str = "") -> Figure:
    return Figure(name, np.array(np.atleast_1d(samples)), like.basis, like.mark, "OWN", note)


def _chances(able: Sequence[Priced]) -> dict[str, float]:
    """Chance of each able kind to have the lowest whole-life cost."""
    costs = np.stack([p.cost.samples for p in able], axis=1)
    drawn = costs[1:] if len(costs) > 1 else costs
    lowest = drawn.argmin(axis=1)
    return {p.option.key: float(np.mean(lowest == i)) for i, p in enumerate(able)}


def _money_option(
    study: Study,
    draws: StudyDraws,
    priced: Priced,
    choice: Choice,
    cheapest: Mapping[str, float],
    chance: Mapping[str, float],
) -> MoneyOption:
    money, cost, option = priced.money, priced.cost, priced.option
    dry = priced.yearly.dry_solids
    capital = capital_of(study, priced.bill, draws)
    costs = running_costs(study, priced.bill, priced.yearly, draws)
    running = np.asarray(sum(part for part, _ in costs.values()))
    return MoneyOption(
        machine=option.key,
        label=option.kind.label,
        chosen=option is choice.option,
        answer=option.answer.value,
        purchase=_figure("money", capital.purchase, cost, "equipment of the whole line"),
        installed=_figure("capital", capital.installed, cost, "the whole line"),
        bill=priced.bill,
        parts={
            name: _figure("cost_specific", part / dry, cost)
            for name, part in money.annualised_parts.items()
        },
        running=_figure("money_per_year", running / YEAR, cost),
        present_worth=_figure("present_worth", money.present_worth, cost),
        annual=_figure("money_per_year", money.annualised / YEAR, cost),
        specific=cost_figure(money, priced.plan),
        chance_cheapest=cheapest.get(option.key, 0.0),
        chance_best=chance.get(option.key, 0.0),
        yearly={n: _figure("money_per_year", part / YEAR, cost) for n, (part, _) in costs.items()},
        dry_solids=_figure("mass_per_year", dry, cost),
    )


def _payback(study: Study, draws: StudyDraws, feed: Feed, best: Priced) -> Payback | None:
    """Against taking the sludge away as it is; None where the study gives no cost of that."""
    liquid, other = study.given("today.liquid_price"), study.given("today.yearly_cost")
    if liquid is None and other is None:
        return None
    volume = feed.mix.volume_flow * YEAR
    none = np.zeros(volume.shape)
    hauled = volume * draws["today.liquid_price"] if liquid else none
    today = hauled + (draws["today.yearly_cost"] * YEAR if other else none)
    costs = running_costs(study, best.bill, best.yearly, draws)
    running = np.asarray(sum(part for part, _ in costs.values()))
    bought = capital_of(study, best.bill, draws)
    capital = bought.installed + bought.purchase * draws["prices.spares"]
    saving = today - running
    years = np.where(saving > 0, capital / np.where(saving > 0, saving, 1.0), np.inf)
    drawn = years[1:] if years.size > 1 else years
    like = best.cost
    return Payback(
        today=_figure("money_per_year", today / YEAR, like),
        running=_figure("money_per_year", running / YEAR, like),
        saving=_figure("money_per_year", saving / YEAR, like),
        years=float(years[0]) if np.isfinite(years[0]) else None,
        years_discounted=_discounted(capital, saving, rates_of(study, draws)[0]),
        chance_in_life=float(np.mean(drawn <= life_years(draws))),
        note="filtrate and cake of today's practice are taken to be in what it costs",
    )


def _discounted(capital: FloatArray, saving: FloatArray, rate: FloatArray) -> float | None:
    if saving[0] <= 0 or rate[0] < 0:
        return None
    try:
        return payback_time(float(capital[0]), float(saving[0]), float(rate[0]))
    except InfeasibleError:
        return None


def _accepted(study: Study, draws: StudyDraws, best: Priced) -> Figure | None:
    if study.given("outlet.least_solids") is None:
        return None
    share = accepted_share(study, best.yearly.cake_solids, draws)
    return _figure("chance", share, best.cost, "share of days on which the outlet takes the cake")


def _money_notes(study: Study, best: Priced) -> tuple[str, ...]:
    frame = best.plan.frame
    row = estimate_classes()[study.count("prices.estimate_class")]
    notes = [
        f"Capital: {row.statement}; edges taken as the 10 % and 90 % points (judgement).",
        "Costs at today's prices, real interest; price rises are above general inflation. The same "
        "flows at nominal prices and nominal interest have the same present worth.",
        "Capital is the priced bill of quantities of each kind's own line, with first spares; "
        "equipment, pipes and room by an invented price book, engineering, construction, fee and "
        f"contingency by published factors. Catalogue: {frame.currency} of {frame.price_year}"
        + (f", {frame.mark.value}." if frame.mark else "."),
    ]
    if frame.price_year != study.count("price_year") and study.value("prices.catalogue_index") == 1:
        notes.append(
            f"The catalogue's prices are of {frame.price_year}, the study's of "
            f"{study.count('price_year')}, and no index is given: they are taken as equal."
        )
    return tuple(notes)
