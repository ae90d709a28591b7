"""The main job: one study -> the line that is chosen, sized, balanced and compared."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from cakewright.jobs.annex import (
    CHAPTERS,
    balance_lines,
    feed_lines,
    load_lines,
    sizing_lines,
)
from cakewright.jobs.cautions import cautions_of
from cakewright.jobs.choice import Choice, choice_of, compared_findings, settled_by_cost
from cakewright.jobs.criticism import answered_of, moved_of
from cakewright.jobs.decision import decide
from cakewright.jobs.draws import StudyDraws, study_draws
from cakewright.jobs.finding_parts import Decision, SludgeFinding
from cakewright.jobs.findings import Findings
from cakewright.jobs.fitted import FittedPress
from cakewright.jobs.flips import flips_of, misses_of, runner_up_of
from cakewright.jobs.line import has_line, line_of, missing_line
from cakewright.jobs.many_draws import many_draws
from cakewright.jobs.money import CAPITAL
from cakewright.jobs.options import (
    ENVELOPE_FIGURES,
    Option,
    duty_of,
    kinds_of,
    load_of,
    option_finding,
    options_of,
)
from cakewright.jobs.performance_lines import performance_lines
from cakewright.jobs.prediction import (
    PATH_RULE,
    Physics,
    Site,
    disagreements,
    law_scores,
    predicted,
    shown,
)
from cakewright.jobs.streams import feed_of
from cakewright.jobs.trade import trade_view
from cakewright.line.design import LineDesign
from cakewright.line.findings import Severity
from cakewright.line.week import WeekOutcome, worst_weeks
from cakewright.line.week_checks import judged_by_weeks
from cakewright.line.week_plan import week_plan
from cakewright.machines import Frame, Performance, shipped_catalogue
from cakewright.machines.screw.lines import press_lines
from cakewright.machines.screw.prediction import PressFindings
from cakewright.quantities import Basis, Figure, FloatArray, Mark, weakest
from cakewright.sludge import Feed, Sludge
from cakewright.sludge.law import SludgeLaw
from cakewright.study import Study, class_labels
from cakewright.version import __version__

__all__ = ["evaluate"]

Progress = Callable[[str], None]


def _quiet(_: str) -> None:
    return None


def evaluate(
    study: Study,
    frames: Sequence[Frame] | None = None,
    progress: Progress = _quiet,
    *,
    law: SludgeLaw | None = None,
    fitted: FittedPress | None = None,
    with_press: bool = True,
    with_decision: bool = True,
    weeks: int = 0,
) -> Findings:
    """Everything for one site.

    ``frames`` is the catalogue (the shipped, invented one when left out); ``law`` the sludge law
    from bench tests: with it every kind is predicted by its physics instead of the published band;
    ``fitted`` the machine parameters from trial runs. ``with_press`` False leaves the press
    physics out and ``with_decision`` False the whole-life money, the promises and what to ask
    (both quicker); ``weeks`` random weeks of the line are played per scenario; ``progress`` is
    told what is being worked out.

    Raises
    ------
    InfeasibleError
        If no kind of machine can carry the load, with what stands in the way.
    """
    if law or with_press:
        for kind in kinds_of(study):
            kind.warm()
    progress("drawing samples")
    kinds = tuple(kind.kind.value for kind in kinds_of(study))
    pressing = [k for k in kinds_of(study) if law or k.has_operating_map]
    # Always drawn, so that the bands do not move when the press physics is switched on.
    scores = law_scores(k.kind for k in pressing)
    draws = study_draws(study, kinds, (*ENVELOPE_FIGURES, CAPITAL), scores)
    feed = feed_of(study, draws)
    duty, load = duty_of(study, draws), load_of(draws, feed)
    progress("comparing machines")
    offered = frames or shipped_catalogue()
    study, compared = settled_by_cost(
        study, draws, feed, load, duty, offered, tested=law is not None
    )
    options = options_of(study, draws, feed, load, duty, offered)
    site = Site(study, draws, feed, duty, load, law, fitted)
    physics, bands = Physics(), options
    if law:
        progress("pressing by the sludge law")
        options, physics = predicted(site, options)
    choice = choice_of(study, draws, feed, load, options)
    if with_press and not law:
        progress("pressing by the class prior")
        physics = shown(site, choice.option)
    best = choice.option
    headline = _headline(best, choice)
    decided = None
    if with_decision:
        progress("weighing money, carbon, promises and what to ask")
        # Bands need few samples, the worth of knowing many: the chain without physics is cheap.
        many = None if law else many_draws(study, kinds, offered, draws)
        decided = decide(study, draws, feed, load, choice, headline, law, many)
    progress("designing the line")
    promise = decided.guarantee.throughput if decided else None
    whole = line_of(study, draws, feed, choice.plan, best.performance, promise)
    line = whole if has_line(best.key) else None
    played: tuple[WeekOutcome, ...] = ()
    if weeks and line:
        progress(f"playing {weeks} weeks of each scenario")
        plan = week_plan(line)
        played = worst_weeks(plan, weeks=weeks, seed=1)
        line = judged_by_weeks(line, plan, played)
    lines = [
        *feed_lines(study, draws, feed),
        *load_lines(feed, load, draws["duty.spare_capacity"]),
        *sizing_lines(choice.plan, load, draws["duty.spare_capacity"]),
        *performance_lines(best, choice.plan, feed, load),
        *choice.lines,
        *press_lines(physics.screws.get(best.key)),
        *(decided.lines if decided else ()),
        *balance_lines(whole.balance),
        *(line.lines if line else ()),
    ]
    return Findings(
        title=study.word("title"),
        site=study.word("site"),
        document=study.texts("document"),
        invented=study.flag("invented"),
        invented_note=study.word("note"),
        study_version=study.count("cakewright"),
        program_version=__version__,
        seed=study.count("sampling.seed"),
        samples=draws.draws.count,
        currency=study.word("currency"),
        price_year=study.count("price_year"),
        decision=replace(
            _decision(study, choice, headline, law, physics.screws.get(best.key)),
            conflicts=_conflicts(line),
            meets=choice.meets,
            misses=misses_of(choice),
            runner_up=runner_up_of(choice),
            flips=flips_of(study, draws, choice),
            trade=trade_view(choice, feed, load),
            answered=answered_of(best, physics),
            moved=moved_of(site, best, physics),
        ),
        sludges=tuple(_sludge_finding(study, i, part) for i, part in enumerate(feed.parts)),
        feed=_feed_finding(study, feed),
        options=tuple(
            option_finding(o, choice.extra(o.key), compared_findings(compared.get(o.key, ()), o))
            for o in options
        ),
        balance=whole.balance,
        givens=tuple(study.values.values()),
        questions=decided.questions if decided else (),
        cautions=cautions_of(study, best.key, best.performance, limed=best.recipe.limed),
        notes=(*_notes(draws), *disagreements(bands, site, physics).values()),
        lines=tuple(lines),
        chapters=CHAPTERS,
        line=line,
        line_missing="" if line else missing_line(best.kind.label),
        weeks=played,
        press=physics.screws.get(best.key),
        kinds=tuple(physics.others.values()),
        decide=decided,
        study_text=study.text,
    )


# More than these stand with the line itself.
_CONFLICTS = 3
_DOSES = ("polymer_dose", "first_polymer_dose", "ferric_dose", "lime_dose")


def _dosed(performance: Performance, name: str) -> bool:
    """Whether a conditioner is used at all."""
    return name in performance.figures and performance.figures[name].point > 0.0


def _conflicts(line: LineDesign | None) -> tuple[str, ...]:
    """Where load, promise, worst week and what was drawn contradict each other; and the change."""
    heavy = (Severity.INFEASIBLE, Severity.CHANGE)
    found = [f for f in line.findings if f.severity in heavy] if line else []
    return tuple(f"{f.item}: {f.got}; {f.change}" for f in found[:_CONFLICTS])


def _headline(option: Option, choice: Choice) -> tuple[Figure, ...]:
    performance, plan, line = option.performance, choice.plan, choice.best.line
    figures = [
        performance["cake_solids"],
        performance["capture"],
        *(performance.figures[n] for n in ("cake_own_solids",) if n in performance.figures),
        *(performance.figures[n] for n in _DOSES if _dosed(performance, n)),
        plan.figures["run_hours_per_day"],
        line.figures["line_power"],
        performance["specific_energy"],
        line.figures["line_water"],
        performance["wash_water_specific"],
        *choice.extra(option.key).values(),
    ]
    return tuple(figures)


def _decision(
    study: Study,
    choice: Choice,
    headline: tuple[Figure, ...],
    law: SludgeLaw | None,
    press: PressFindings | None,
) -> Decision:
    plan, option = choice.plan, choice.option
    return Decision(
        machine=option.key,
        label=option.kind.label,
        frame=plan.frame.name,
        machines=plan.machines,
        shafts=plan.shafts,
        standby=plan.standby,
        sentence=choice.sentence,
        because=choice.because,
        rejected=choice.rejected,
        headline=headline,
        conditions=(*_conditions(study, choice, law), *_limits(press)),
    )


def _limits(press: PressFindings | None) -> tuple[str, ...]:
    """Which limit of the press is nearest and how far each is."""
    if press is None or not press.figures:
        return ()
    basis = "" if press.tested else ", by the prior of the class"
    return (f"the press keeps away from its limits: {press.binding_words}{basis}",)


def _conditions(study: Study, choice: Choice, law: SludgeLaw | None) -> tuple[str, ...]:
    beyond = law is not None and any(v.rule == PATH_RULE for v in choice.option.verdicts)
    rests = (
        "cake, capture and dose rest on the bench tests named; other figures of the machine are "
        "published bands"
        if law and not beyond
        else "figures of the machine are published bands: by the bench tests it has no cake here"
        if beyond
        else "figures of the machine are published bands until bench tests or pilot runs replace "
        "them"
    )
    conditions = [
        f"the sludge is as described; {sum(g.default for g in study.values.values())} of "
        f"{len(study.values)} inputs are defaults",
        rests,
    ]
    dose = choice.option.performance["polymer_dose"].point
    if law and not beyond and law.untried(dose):
        conditions.append(
            f"the polymer goes on working beyond the doses tested ({1000 * law.dose_low:.3g} to "
            f"{1000 * law.dose_high:.3g} kg/t): at {1000 * dose:.3g} kg/t cake and capture are "
            "extrapolated; test that dose"
        )
    if choice.plan.frame.mark is Mark.INVENTED:
        conditions.append("the catalogue of frames is invented: sizes and prices are examples")
    return tuple(conditions)


def _notes(draws: StudyDraws) -> tuple[str, ...]:
    return (
        f"Bands are the 10 % and 90 % points of {draws.draws.statement}.",
        "Part of a machine's deviation from its band (60 %, judgement) belongs to the sludge and "
        "is shared by all machines in a sample, so differences are better known than levels.",
    )


def _sludge_finding(study: Study, index: int, part: Sludge) -> SludgeFinding:
    place = f"sludge.{index}"
    bases = [g.basis for p, g in study.values.items() if p.startswith(place)]
    marks = [g.mark for p, g in study.values.items() if p.startswith(place) and g.mark]
    return SludgeFinding(
        name=part.name,
        sludge_class=part.sludge_class,
        class_label=class_labels()[part.sludge_class],
        origin=part.origin,
        figures=_stream_figures(part, weakest(bases), marks[0] if marks else Mark.NONE),
    )


def _feed_finding(study: Study, feed: Feed) -> SludgeFinding:
    labels = class_labels()
    shares = {key: float(np.atleast_1d(share)[0]) for key, share in feed.shares.items()}
    mixed = ", ".join(f"{100 * x:.0f} % {labels[key]}" for key, x in shares.items())
    bases = [g.basis for p, g in study.values.items() if p.startswith("sludge")]
    marks = [g.mark for p, g in study.values.items() if p.startswith("sludge") and g.mark]
    return SludgeFinding(
        name="feed to the press",
        sludge_class="blend" if len(shares) > 1 else next(iter(shares)),
        class_label=mixed if len(shares) > 1 else labels[next(iter(shares))],
        origin="blend by dry solids",
        figures=_stream_figures(feed.mix, weakest(bases), marks[0] if marks else Mark.NONE),
    )


def _stream_figures(sludge: Sludge, basis: Basis, mark: Mark) -> dict[str, Figure]:
    def figure(name: str, samples: FloatArray) -> Figure:
        return Figure(name, np.array(samples), basis, mark, "OWN")

    return {
        "dry_solids_flow": figure("dry_solids_flow", sludge.dry_solids_flow),
        "volume_flow": figure("volume_flow", sludge.volume_flow),
        "total_solids": figure("total_solids", sludge.total_solids),
        "ash_share": figure("ash_share", sludge.ash),
        "oil_share": figure("oil_share", sludge.oil),
        "fibre_share": figure("fibre_share", sludge.fibre),
        "grit_share": figure("grit_share", sludge.grit),
        "solids_density": figure("solids_density", sludge.solids_density),
        "temperature": figure("temperature", sludge.temperature),
    }
