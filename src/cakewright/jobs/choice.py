"""Which kind of machine, and why: suitable ones first, then the lowest whole-life cost."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from cakewright.economics.lifecycle import LifeCycle
from cakewright.errors import InfeasibleError
from cakewright.jobs.balance import balance_of
from cakewright.jobs.draws import StudyDraws
from cakewright.jobs.money import Yearly, cost_figure, money_of, yearly_of
from cakewright.jobs.options import Option
from cakewright.machines import Answer, Plan
from cakewright.quantities import Basis, CalculationLine, Figure, Term
from cakewright.sludge import Feed, RunLoad
from cakewright.study import Study

__all__ = ["Choice", "Priced", "choice_of"]

_ORDER = list(Answer)


@dataclass(frozen=True, slots=True, eq=False)
class Priced:
    """One feasible option with its year and its money."""

    option: Option
    plan: Plan
    yearly: Yearly
    money: LifeCycle

    @property
    def cost(self) -> Figure:
        """Whole-life cost per dry solids."""
        return cost_figure(self.money, self.plan)


@dataclass(frozen=True, slots=True, eq=False)
class Choice:
    """The chosen option, why, and what was turned down."""

    best: Priced
    priced: Mapping[str, Priced]
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
        return {"cost_specific": self.priced[key].cost}


def choice_of(
    study: Study, draws: StudyDraws, feed: Feed, load: RunLoad, options: Sequence[Option]
) -> Choice:
    """The best suitable option.

    Raises
    ------
    InfeasibleError
        If nothing suits or nothing carries the load; names what stands in the way of each.
    """
    priced = {o.key: _priced(study, draws, feed, load, o) for o in options if o.plan is not None}
    able = [p for p in priced.values() if p.option.answer is not Answer.DOES_NOT_SUIT]
    if not able:
        reasons = "; ".join(f"{o.kind.label}: {_obstacle(o)}" for o in options)
        raise InfeasibleError(
            f"no kind of machine suits this sludge and duty ({reasons}). Ease the cake target, "
            "the hours or the limits that stand in the way, or change the sludge (thicken, blend)"
        )
    best = min(able, key=_rank)
    others = [o for o in options if o.key != best.option.key]
    return Choice(
        best=best,
        priced=priced,
        sentence=_sentence(best),
        because=tuple(text[0].upper() + text[1:] for text in _because(best, able, feed, draws)),
        rejected=tuple(_rejected(o, priced.get(o.key), best, study) for o in others),
        lines=_lines(best),
    )


def _rank(priced: Priced) -> tuple[int, float]:
    return _ORDER.index(priced.option.answer), priced.cost.point


def _priced(study: Study, draws: StudyDraws, feed: Feed, load: RunLoad, option: Option) -> Priced:
    if option.plan is None:
        raise InfeasibleError(f"{option.kind.label}: {_obstacle(option)}")
    balance = balance_of(study, draws, feed, load, option.performance)
    yearly = yearly_of(option, balance, feed, load, draws)
    return Priced(option, option.plan, yearly, money_of(study, option.plan, yearly, draws))


def _obstacle(option: Option) -> str:
    """The rule, or the lack of a frame, that stands in the way."""
    worst = [v for v in option.verdicts if v.answer is Answer.DOES_NOT_SUIT]
    if worst:
        return worst[0].text
    if option.plan is None:
        return option.plans[0].why if option.plans else "the catalogue holds no frame of this kind"
    return "no obstacle"


def _number(count: int, word: str) -> str:
    words = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight")
    number = words[count] if count < len(words) else str(count)
    return f"{number} {word}{'' if count == 1 else 's'}"


def _sentence(best: Priced) -> str:
    plan, label = best.plan, best.option.kind.label
    article = "an" if label[0] in "aeiou" else "a"
    if plan.machines == 1:
        who = f"{article} {label}"
    else:
        plural = f"{label}es" if label.endswith("s") else f"{label}s"
        who = f"{_number(plan.machines, '').strip(' s')} {plural}"
    shafts = ""
    if best.option.kind.shaft_service:
        each = "" if plan.machines == 1 else " in all"
        shafts = f" with {_number(plan.shafts, 'shaft')}{each}"
    hours = 24.0 * plan.figures["run_hours_per_day"].point
    standby = f", {_number(plan.standby, 'of them')[:-1]} on standby" if plan.standby > 0 else ""
    standby = standby.replace("of the", "of them")
    return (
        f"{who[0].upper()}{who[1:]}{shafts} (frame {plan.frame.name}{standby}), running "
        f"{hours:.1f} hours on an operating day."
    )


def _because(
    best: Priced, able: Sequence[Priced], feed: Feed, draws: StudyDraws
) -> tuple[str, ...]:
    reasons = [_standing(best)]
    cake = best.option.performance.samples("cake_solids")
    wanted = draws["target.cake_solids"]
    if cake.size > 1:
        chance = float(np.mean(cake[1:] >= wanted[1:]))
        reasons.append(
            f"cake of {100 * cake[0]:.1f} % is expected where {100 * wanted[0]:.0f} % is wanted; "
            f"the chance of meeting it is {100 * chance:.0f} %, {_known(best)}"
        )
    rivals = [p for p in able if p is not best and p.option.answer is best.option.answer]
    if rivals:
        nearest = min(rivals, key=lambda p: p.cost.point)
        if cake.size > 1:
            cheaper = np.mean(best.cost.samples[1:] < nearest.cost.samples[1:])
            reasons.append(
                f"lowest whole-life cost among the equally suitable kinds; against the "
                f"{nearest.option.kind.label}, the next, in {100 * float(cheaper):.0f} % of samples"
            )
    reasons.append(f"frame {best.plan.frame.name}: {best.plan.why}")
    return tuple(reasons)


def _known(best: Priced) -> str:
    tested = best.option.performance["cake_solids"].basis in (Basis.BENCH, Basis.MEASURED)
    return "by the tests of this sludge" if tested else "before any test on this sludge"


def _standing(best: Priced) -> str:
    care = [v.text.rstrip(".") for v in best.option.verdicts if v.answer is Answer.WITH_CARE]
    if not care:
        return "every rule of suitability is met"
    return f"suits with care: {'; '.join(care)}"


def _rejected(option: Option, priced: Priced | None, best: Priced, study: Study) -> str:
    label = f"{option.kind.label[0].upper()}{option.kind.label[1:]}"
    if priced is None or option.answer is Answer.DOES_NOT_SUIT:
        return f"{label}: {_obstacle(option)}"
    worse = priced.cost.point - best.cost.point
    money = f"{1000 * abs(worse):.0f} {study.word('currency')}/t dry solids"
    dearer = f"{money} {'dearer' if worse > 0 else 'cheaper'} over its life"
    if option.answer is Answer.WITH_CARE and best.option.answer is Answer.SUITS:
        care = next(v.text for v in option.verdicts if v.answer is Answer.WITH_CARE).rstrip(".")
        return f"{label}: only with care ({care}); {dearer}"
    return f"{label}: suits too, {dearer}"


def _lines(best: Priced) -> tuple[CalculationLine, ...]:
    money, yearly = best.money, best.yearly
    parts = " + ".join(money.annualised_parts)
    worth = Term("A", float(np.atleast_1d(money.annualised)[0]), "money")
    dry = Term("m", float(yearly.dry_solids[0]), "mass_per_year")
    return (
        CalculationLine(
            key="money.cost_specific",
            chapter="money",
            title="Whole-life cost per dry solids",
            symbol="k",
            formula=f"A / m, A = {parts} (annualised)",
            terms=(worth, dry),
            result=float(np.atleast_1d(money.per_dry_solids)[0]),
            name="cost_specific",
            source="OWN",
            note=best.cost.note,
        ),
    )
