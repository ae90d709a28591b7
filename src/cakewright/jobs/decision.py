"""Money, carbon, what to promise and what to ask next: the part of `evaluate` that decides."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from cakewright.economics import (
    present_worth_annuity,
)
from cakewright.jobs.carbon import (
    CarbonFindings,
    carbon_lines,
    carbon_notes,
    carbon_of,
    factors_of,
)
from cakewright.jobs.choice import Choice, Priced
from cakewright.jobs.draws import StudyDraws
from cakewright.jobs.finding_parts import Question
from cakewright.jobs.guarantee import GuaranteeFindings, guarantee_of
from cakewright.jobs.many_draws import ManyDraws
from cakewright.jobs.money import (
    life_years,
    rates_of,
)
from cakewright.jobs.money_findings import MoneyFindings, money_findings
from cakewright.jobs.options import ENVELOPE_FIGURES
from cakewright.jobs.questions import concerned, questions_of
from cakewright.jobs.response import Response, response_of
from cakewright.jobs.sensitivity import Moves, Shares, Tornado, moves_of, shares_of, tornado_of
from cakewright.jobs.sizes import SizeFindings, sizes_of
from cakewright.jobs.worth import DecisionValue, value_of_decision
from cakewright.machines import Answer
from cakewright.quantities import Basis, CalculationLine, Figure, FloatArray, Term
from cakewright.sludge import Feed, RunLoad
from cakewright.sludge.law import SludgeLaw
from cakewright.statistics import Convergence, percentile_convergence
from cakewright.study import Study

__all__ = ["DecisionFindings", "decide"]


# Scores that only the press physics reads; the chain behind tornado and shares does not run it.
_BY_LAW = ("~law.", "~press.")
# A place that moves no kind's cost against another's by this share of it cannot turn the choice.
_TURNS = 0.002


@dataclass(frozen=True, slots=True, eq=False)
class DecisionFindings:
    """All that decides beside the machine itself.

    ``response`` is what the workbook calculates with: no finding, so it is in no JSON.
    """

    money: MoneyFindings
    carbon: CarbonFindings
    guarantee: GuaranteeFindings
    sizes: SizeFindings
    value: DecisionValue | None
    tornado: tuple[Tornado, ...]
    shares: Shares | None
    convergence: Mapping[str, Convergence]
    questions: tuple[Question, ...]
    correlations: tuple[str, ...]
    lines: tuple[CalculationLine, ...]
    notes: tuple[str, ...]
    response: Response | None = field(default=None, metadata={"json": False})


def decide(
    study: Study,
    draws: StudyDraws,
    feed: Feed,
    load: RunLoad,
    choice: Choice,
    headline: Sequence[Figure],
    law: SludgeLaw | None = None,
    many: ManyDraws | None = None,
) -> DecisionFindings:
    """Everything of one study that needs the priced options.

    ``many`` are more samples of the net costs, where the physics is not needed for them.
    """
    best = choice.best
    able = _able(choice)
    places = [p for p in concerned(draws, best.option.key) if not p.startswith(_BY_LAW)]
    able_nets = {p.option.key: p.net for p in able}
    full = many is not None and all(key in many.net for key in able_nets)
    nets = {k: many.net[k] for k in able_nets} if many and full else able_nets
    benefit = np.stack([-net for net in nets.values()], axis=1)
    asked = [p for p in draws.draws.uncertain if not _aside(p)]
    every = moves_of(
        study, draws, {p.option.key: p for p in able}, [*places, *_more(asked, places)]
    )
    own = every.get(best.option.key)
    turning = _turning(every.values())
    by_law = best.option.performance["cake_solids"].basis is Basis.BENCH
    value = value_of_decision(
        study,
        many.draws if many and full else draws,
        [p.option.key for p in able],
        benefit[1:],
        [p for p in asked if _can_turn(p, turning)],
        {name: _relative(best.option.performance.samples(name)) for name in ENVELOPE_FIGURES},
    )
    money = money_findings(study, draws, feed, choice, able, value)
    carbon = _carbon(study, draws, feed, choice)
    return DecisionFindings(
        money=money,
        carbon=carbon,
        guarantee=guarantee_of(study, draws, feed, load, best.option, best.plan, law),
        sizes=sizes_of(study, draws, feed, load, best),
        value=value,
        tornado=tornado_of(own),
        shares=shares_of(study, draws, best, _felt(places, own), best.cost.samples),
        convergence=_convergence(draws, headline),
        questions=questions_of(
            study, draws, headline, best.option.key, value, {} if by_law else _moving(own)
        ),
        correlations=_correlations(study),
        lines=tuple(_lines(study, draws, best, carbon)),
        notes=_notes(study, best, value),
        response=response_of(study, draws, feed, tuple(choice.priced.values())),
    )


def _aside(place: str) -> bool:
    """A place that cannot move the net cost, or a machine's own score (asked for by a pilot)."""
    return place.startswith(("carbon.", "guarantee.")) or (place.startswith("~") and "." in place)


def _more(asked: Sequence[str], places: Sequence[str]) -> list[str]:
    known = set(places)
    return [p for p in asked if p not in known and not p.startswith(_BY_LAW)]


def _turning(every: Iterable[Moves]) -> frozenset[str] | None:
    """Places that move the cost of one kind against another's; None where that is not known.

    What moves all alike, or hardly at all, cannot turn the choice, whatever few samples say.
    """
    known = list(every)
    if not known:
        return None
    costs = np.stack([moves.outputs["cost_specific"] for moves in known])
    apart = costs - costs[0]
    moved = np.abs(apart[:, 1:] - apart[:, :1]).max(axis=0).reshape(-1, 2).max(axis=1)
    return frozenset(np.asarray(known[0].places)[moved > _TURNS * costs[0, 0]].tolist())


def _can_turn(place: str, turning: frozenset[str] | None) -> bool:
    """Targets and what missing them costs act on the net cost alone, law scores on the physics."""
    always = ("target.", "decision.", *_BY_LAW)
    return turning is None or place.startswith(always) or place in turning


def _felt(places: Sequence[str], own: Moves | None) -> list[str]:
    """Places that can move the cost of the kind at all: others get no share by chance."""
    if own is None:
        return list(places)
    moving = own.moving("cost_specific")
    return [p for p in places if p in moving]


def _moving(moves: Moves | None) -> dict[str, frozenset[str]]:
    """Places that move each figure of the chosen kind by its published band."""
    if moves is None:
        return {}
    return {name: moves.moving(name) for name in moves.outputs}


def _relative(samples: FloatArray) -> float:
    """Spread relative to the value; nothing where there is nothing, as of polymer beside lime."""
    if samples.size < 2 or not (samples[1:] > 0.0).all():
        return 0.0
    return float(np.std(np.log(samples[1:])))


def _able(choice: Choice) -> list[Priced]:
    fit = [p for p in choice.priced.values() if p.option.answer is not Answer.DOES_NOT_SUIT]
    return sorted(fit or [choice.best], key=lambda p: p.cost.point)


def _carbon(study: Study, draws: StudyDraws, feed: Feed, choice: Choice) -> CarbonFindings:
    from cakewright.economics import warming_potentials

    potentials = warming_potentials(study.word("carbon.potentials"))
    ordered = sorted(choice.priced.values(), key=lambda p: p is not choice.best)
    return CarbonFindings(
        options=tuple(
            carbon_of(study, p.option.key, p.option.kind.label, p.yearly, feed, draws)
            for p in ordered
        ),
        factors=factors_of(study),
        potentials=potentials,
        route=study.word("outlet.route"),
        notes=carbon_notes(study, potentials),
    )


def _convergence(draws: StudyDraws, headline: Sequence[Figure]) -> dict[str, Convergence]:
    blocks = draws.draws.replicates
    if blocks < 2 or draws.draws.count < 2 * blocks:
        return {}
    return {
        figure.name: percentile_convergence(figure.samples, blocks)
        for figure in headline
        if figure.samples.size == draws.size
    }


def _correlations(study: Study) -> tuple[str, ...]:
    pairs = study.word("correlation.pairs")
    return tuple(part.strip() for part in pairs.split(";") if part.strip())


def _lines(
    study: Study, draws: StudyDraws, best: Priced, carbon: CarbonFindings
) -> list[CalculationLine]:
    real, _ = rates_of(study, draws)
    years = life_years(draws)
    factor = 1.0 / present_worth_annuity(real, float(years))
    mark = best.plan.frame.mark.value
    terms = (
        Term("i", float(real[0]), "interest_rate"),
        Term("n", float(years), "ratio"),
    )
    recovery = CalculationLine(
        key="money.capital_recovery",
        chapter="money",
        title="Yearly payment per unit of capital",
        symbol="a",
        formula="i (1 + i)^n / ((1 + i)^n − 1)",
        terms=terms,
        result=float(factor[0]),
        name="ratio",
        source="OWN",
        note="n: life in years; real interest; payments at the end of each year",
        mark=mark,
    )
    return [recovery, *carbon_lines(carbon.options[0], carbon.route)]


def _notes(study: Study, best: Priced, value: DecisionValue | None) -> tuple[str, ...]:
    care = 100 * study.value("decision.care_premium")
    notes = [
        "Net cost of a kind: present worth of its whole life, plus what missed cake and capture "
        f"targets cost, plus {care:.3g} % where it suits only with care (all from the study).",
        "Worth of knowing is what choosing after knowing saves on average over the life; what the "
        "test costs is not taken off. Errors of tests are judged.",
    ]
    if best.option.performance["cake_solids"].basis is Basis.BENCH:
        notes.append(
            "Tornado and shares move the published band of the machine; parameters of the tested "
            "law are ranked by their share of the spread."
        )
    return tuple(notes)
