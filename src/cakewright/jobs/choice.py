"""Which kind of machine, and why: the lowest expected cost among what nothing forbids."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import ndtr

from cakewright.economics import present_worth_annuity
from cakewright.economics.lifecycle import LifeCycle
from cakewright.errors import InfeasibleError
from cakewright.jobs.bill import Bill, bill_of
from cakewright.jobs.conditioning import candidates, settled
from cakewright.jobs.draws import StudyDraws
from cakewright.jobs.finding_parts import ComparedRecipe
from cakewright.jobs.line import line_of
from cakewright.jobs.money import (
    Yearly,
    capital_of,
    cost_figure,
    life_years,
    money_of,
    rates_of,
    running_costs,
    yearly_of,
)
from cakewright.jobs.options import Option, kinds_of, options_of
from cakewright.line.design import LineDesign
from cakewright.machines import Answer, Duty, Frame, Kind, Performance, Plan
from cakewright.machines.recipes import Product, Recipe
from cakewright.machines.suitability import CAKE_OWN
from cakewright.quantities import Basis, CalculationLine, Figure, FloatArray, Term
from cakewright.quantities.constants import YEAR
from cakewright.sludge import Feed, RunLoad
from cakewright.study import Study

__all__ = [
    "Choice",
    "Compared",
    "Priced",
    "choice_of",
    "compared_findings",
    "settled_by_cost",
    "target_cake",
]


@dataclass(frozen=True, slots=True, eq=False)
class Priced:
    """One feasible option with its year and its money."""

    option: Option
    plan: Plan
    line: LineDesign
    bill: Bill
    yearly: Yearly
    money: LifeCycle
    net: FloatArray
    capital: FloatArray
    running: FloatArray

    @property
    def net_specific(self) -> FloatArray:
        """Net cost per dry solids: with the premium for care and what missed targets cost."""
        return np.asarray(self.money.per_dry_solids * self.net / self.money.present_worth)

    @property
    def figures(self) -> dict[str, Figure]:
        """Capital, cost of a year and whole-life cost, as they stand on the first page."""
        like = self.cost
        whole = replace(like, name="capital", samples=self.capital)
        yearly = replace(like, name="running_cost", samples=self.running)
        return {"capital": whole, "running_cost": yearly, "cost_specific": like}

    @property
    def expected(self) -> float:
        """Mean of the net cost per dry solids; the point case where nothing was drawn."""
        net = self.net_specific
        return float(np.mean(net[1:] if net.size > 1 else net))

    @property
    def cost(self) -> Figure:
        """Whole-life cost per dry solids."""
        return cost_figure(self.money, self.plan)


@dataclass(frozen=True, slots=True, eq=False)
class Compared:
    """One recipe a kind was compared with."""

    recipe: Recipe
    answer: Answer
    priced: Priced | None

    @property
    def order(self) -> tuple[int, float]:
        """Suitable ones first, then by expected net cost."""
        if self.priced is None:
            return 2, np.inf
        return int(self.answer is Answer.DOES_NOT_SUIT), self.priced.expected


@dataclass(frozen=True, slots=True, eq=False)
class Choice:
    """The chosen option, why, and what was turned down.

    ``meets`` is False where nothing suits: ``best`` is then the nearest answer. ``runner_up`` is
    the next by expected net cost among those that suit.
    """

    best: Priced
    priced: Mapping[str, Priced]
    meets: bool
    runner_up: Priced | None
    sentence: str
    because: tuple[str, ...]
    rejected: tuple[str, ...]
    lines: tuple[CalculationLine, ...]

    @property
    def option(self) -> Option:
        """The chosen kind."""
        return self.best.option

    @property
    def plan(self) -> Plan:
        """Its frame."""
        return self.best.plan

    def extra(self, key: str) -> dict[str, Figure]:
        """Figures that only exist once an option is priced."""
        if key not in self.priced:
            return {}
        return self.priced[key].figures


def settled_by_cost(
    study: Study,
    draws: StudyDraws,
    feed: Feed,
    load: RunLoad,
    duty: Duty,
    frames: Sequence[Frame],
    *,
    tested: bool,
) -> tuple[Study, Mapping[str, tuple[Compared, ...]]]:
    """The study with one recipe per kind, the best of those it is compared with, and all of them.

    ``tested`` is True with a sludge law: its tests were made with polymer, and so is every kind.
    """
    chosen: dict[str, str] = {}
    compared: dict[str, tuple[Compared, ...]] = {}
    for kind in kinds_of(study):
        able = candidates(study, kind.kind, tuple(feed.shares))
        if tested:
            able = tuple(r for r in able if Product.POLYMER in r.products) or able
        found = [
            _compared(study, draws, feed, load, duty, frames, kind.kind, one)
            for one in (able if len(able) > 1 else ())
        ]
        ranked = sorted(found, key=lambda one: one.order)
        chosen[kind.kind.value] = ranked[0].recipe.key if ranked else able[0].key
        compared[kind.kind.value] = tuple(ranked)
    return settled(study, chosen), compared


def _compared(
    study: Study,
    draws: StudyDraws,
    feed: Feed,
    load: RunLoad,
    duty: Duty,
    frames: Sequence[Frame],
    kind: Kind,
    one: Recipe,
) -> Compared:
    words = {**study.words, "machines.kinds": (kind.value,)}
    alone = settled(replace(study, words=words), {kind.value: one.key})
    (option,) = options_of(alone, draws, feed, load, duty, frames)
    if option.plan is None:
        return Compared(one, option.answer, None)
    return Compared(one, option.answer, _priced(alone, draws, feed, load, option))


def compared_findings(compared: Sequence[Compared], option: Option) -> tuple[ComparedRecipe, ...]:
    """The recipes of one kind as findings, the chosen one first."""
    return tuple(
        ComparedRecipe(
            label=one.recipe.label,
            note=one.recipe.note,
            chosen=one.recipe.key == option.recipe.key,
            answer=one.answer,
            cost=one.priced.cost.point if one.priced else None,
            cake_solids=one.priced.option.performance["cake_solids"].point if one.priced else None,
        )
        for one in compared
    )


def choice_of(
    study: Study, draws: StudyDraws, feed: Feed, load: RunLoad, options: Sequence[Option]
) -> Choice:
    """The best suitable option; where none suits, the nearest, with what it misses.

    Kinds are ranked by expected whole-life cost with the premium for care and what missed targets
    cost; what a rule forbids is left out as long as anything is left.

    Raises
    ------
    InfeasibleError
        If no kind has a frame that could be run at all; names what stands in the way of each.
    """
    priced = {o.key: _priced(study, draws, feed, load, o) for o in options if o.plan is not None}
    if not priced:
        reasons = "; ".join(f"{o.kind.label}: {_obstacle(o)}" for o in options)
        raise InfeasibleError(
            f"no kind of machine could be sized for this duty ({reasons}). Run longer hours, give "
            "a catalogue that holds frames of these kinds, or compare other kinds"
        )
    able = [p for p in priced.values() if p.option.answer is not Answer.DOES_NOT_SUIT]
    best = min(able or priced.values(), key=_rank)
    others = [o for o in options if o.key != best.option.key]
    rivals = sorted((p for p in able if p is not best), key=_rank)
    why = _because(study, best, rivals, draws)
    return Choice(
        best=best,
        priced=priced,
        meets=bool(able),
        runner_up=rivals[0] if rivals else None,
        sentence=_sentence(best),
        because=tuple(text[0].upper() + text[1:] for text in why),
        rejected=tuple(_rejected(o, priced.get(o.key), best, study) for o in others),
        lines=_lines(best),
    )


def _rank(priced: Priced) -> tuple[int, float]:
    """Rules broken first (none among those that suit), then what it is expected to cost."""
    broken = [v for v in priced.option.verdicts if v.answer is Answer.DOES_NOT_SUIT]
    return len(broken), priced.expected


def _priced(study: Study, draws: StudyDraws, feed: Feed, load: RunLoad, option: Option) -> Priced:
    if option.plan is None:
        raise InfeasibleError(f"{option.kind.label}: {_obstacle(option)}")
    line = line_of(study, draws, feed, option.plan, option.performance)
    yearly = yearly_of(option, line, feed, draws)
    bill = bill_of(study, line, option.plan)
    money = money_of(study, bill, yearly, draws)
    net = _net_cost(study, draws, option, yearly, money)
    capital = capital_of(study, bill, draws).installed
    costs = running_costs(study, bill, yearly, draws)
    running = np.asarray(sum(cost for cost, _ in costs.values())) / YEAR
    return Priced(option, option.plan, line, bill, yearly, money, net, capital, running)


def target_cake(study: Study, performance: Performance) -> Figure:
    """The cake that a target is held against: as weighed, or of the sludge's own solids."""
    own = performance.figures.get(CAKE_OWN)
    counted = study.word("target.cake_counts") == "sludge's own solids"
    return own if counted and own is not None else performance["cake_solids"]


def _net_cost(
    study: Study, draws: StudyDraws, option: Option, yearly: Yearly, money: LifeCycle
) -> FloatArray:
    """Present worth of the whole life, of missed targets, and of the care a kind asks for."""
    cake = target_cake(study, option.performance).samples
    capture = option.performance.samples("capture")
    missed = 1.0 - ndtr((cake - draws["target.cake_solids"]) / draws["decision.day_spread"])
    lost = np.maximum(draws["target.capture"] - capture, 0.0) * yearly.dry_solids
    surcharge = (
        missed * yearly.cake * draws["decision.cake_surcharge"]
        + lost * draws["decision.capture_surcharge"]
    )
    factor = present_worth_annuity(rates_of(study, draws)[0], float(life_years(draws)))
    care = option.answer is not Answer.SUITS
    premium = draws["decision.care_premium"] if care else 0.0
    return np.asarray(money.present_worth * (1.0 + premium) + surcharge * factor)


def _obstacle(option: Option) -> str:
    """The rule, or the lack of a frame, that stands in the way."""
    worst = [v for v in option.verdicts if v.answer is Answer.DOES_NOT_SUIT]
    if worst:
        return worst[0].text
    if option.plan is None:
        return option.plans[0].why if option.plans else "the catalogue holds no frame of this kind"
    return "no obstacle"


_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight")


def _count(count: int) -> str:
    return _NUMBERS[count] if count < len(_NUMBERS) else str(count)


def _number(count: int, word: str) -> str:
    return f"{_count(count)} {word}{'' if count == 1 else 's'}"


def _sentence(best: Priced) -> str:
    plan, label = best.plan, best.option.kind.label
    article = "an" if label[0] in "aeiou" else "a"
    if plan.machines == 1:
        who = f"{article} {label}"
    else:
        who = f"{_count(plan.machines)} {label}{'es' if label.endswith('s') else 's'}"
    shafts = ""
    if best.option.kind.shaft_service:
        each = "" if plan.machines == 1 else " in all"
        shafts = f" with {_number(plan.shafts, 'shaft')}{each}"
    hours = 24.0 * plan.figures["run_hours_per_day"].point
    standby = f", {_count(plan.standby)} of them on standby" if plan.standby > 0 else ""
    return (
        f"{who[0].upper()}{who[1:]}{shafts} (frame {plan.frame.name}{standby}), conditioned with "
        f"{best.option.recipe.label}, running {hours:.1f} hours on an operating day."
    )


def _because(
    study: Study, best: Priced, rivals: Sequence[Priced], draws: StudyDraws
) -> tuple[str, ...]:
    reasons = [_standing(best)]
    figure = target_cake(study, best.option.performance)
    cake, wanted = figure.samples, draws["target.cake_solids"]
    if cake.size > 1:
        chance = float(np.mean(cake[1:] >= wanted[1:]))
        counted = f" ({study.word('target.cake_counts')})" if best.option.recipe.limed else ""
        reasons.append(
            f"cake of {100 * cake[0]:.1f} %{counted} is expected where {100 * wanted[0]:.0f} % is "
            f"wanted; the chance of meeting it is {100 * chance:.0f} %, {_known(best)}"
        )
        if chance < _EVEN:
            reasons.append(_likelier(study, rivals, draws, best))
    if rivals and cake.size > 1:
        cheaper = np.mean(best.net_specific[1:] < rivals[0].net_specific[1:])
        reasons.append(
            "lowest whole-life cost, the premium for care and missed targets counted; against the "
            f"{rivals[0].option.kind.label}, the next, in {100 * float(cheaper):.0f} % of samples"
        )
    reasons.append(f"frame {best.plan.frame.name}: {best.plan.why}")
    return tuple(reasons)


# Below this chance a target is more likely missed than met.
_EVEN = 0.5


def _likelier(study: Study, rivals: Sequence[Priced], draws: StudyDraws, best: Priced) -> str:
    """The next kind that more likely than not makes the cake wanted, and what it costs."""
    wanted = draws["target.cake_solids"][1:]
    for rival in rivals:
        chance = float(np.mean(target_cake(study, rival.option.performance).samples[1:] >= wanted))
        if chance >= _EVEN:
            apart = 1000.0 * (rival.cost.point - best.cost.point)
            return (
                "more likely than not it misses the cake wanted, which is priced as a wish "
                f"(target.cake_is); the {rival.option.kind.label} makes it with a chance of "
                f"{100 * chance:.0f} %, {abs(apart):.0f} {study.word('currency')}/t dry solids "
                f"{'dearer' if apart > 0.0 else 'cheaper'} over its life"
            )
    return (
        "more likely than not it misses the cake wanted, and so does every other kind that suits: "
        "test the sludge, or ask the outlet what wetter cake costs"
    )


def _known(best: Priced) -> str:
    tested = best.option.performance["cake_solids"].basis in (Basis.BENCH, Basis.MEASURED)
    return "by the tests of this sludge" if tested else "before any test on this sludge"


def _standing(best: Priced) -> str:
    care = [v.text.rstrip(".") for v in best.option.verdicts if v.answer is Answer.WITH_CARE]
    bars = [v.text.rstrip(".") for v in best.option.verdicts if v.answer is Answer.DOES_NOT_SUIT]
    if bars:
        return f"the nearest answer, not one that meets everything: {'; '.join(bars)}"
    if not care:
        return "every rule of suitability is met"
    return f"suits with care: {'; '.join(care)}"


def _rejected(option: Option, priced: Priced | None, best: Priced, study: Study) -> str:
    label = f"{option.kind.label[0].upper()}{option.kind.label[1:]}"
    if priced is None:
        return f"{label}: {_obstacle(option)}"
    currency = study.word("currency")

    def apart(mine: float, other: float) -> str:
        word = "dearer" if mine > other else "cheaper"
        return f"{1000 * abs(mine - other):.0f} {currency}/t {word}"

    money = f"{apart(priced.cost.point, best.cost.point)} over its life"
    if option.answer is Answer.DOES_NOT_SUIT:
        return f"{label}: {_obstacle(option).rstrip('.')}; {money}"
    worse = priced.expected > best.expected
    if worse and priced.cost.point < best.cost.point:
        money += f", but {apart(priced.expected, best.expected)} once care and missed targets count"
    if option.answer is Answer.WITH_CARE:
        care = next(v.text for v in option.verdicts if v.answer is Answer.WITH_CARE).rstrip(".")
        return f"{label}: with care ({care}); {money}"
    return f"{label}: suits too, {money}"


def _lines(best: Priced) -> tuple[CalculationLine, ...]:
    money, yearly = best.money, best.yearly
    parts = {n: float(np.atleast_1d(p)[0]) for n, p in money.annualised_parts.items()}
    paid = {f"A_{i + 1}": (n, v) for i, (n, v) in enumerate(parts.items()) if v}
    dry = Term("m", float(yearly.dry_solids[0]), "mass_per_year")
    told = "; ".join(f"{symbol} {name}" for symbol, (name, _) in paid.items())
    return (
        CalculationLine(
            key="money.cost_specific",
            chapter="money",
            title="Whole-life cost per dry solids",
            symbol="k",
            formula=f"({' + '.join(paid)}) / m",
            terms=(*(Term(s, v, "money") for s, (_, v) in paid.items()), dry),
            result=float(np.atleast_1d(money.per_dry_solids)[0]),
            name="cost_specific",
            source="OWN",
            note=f"annualised: {told}. {best.cost.note}".strip(),
        ),
    )
