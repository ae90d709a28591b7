"""Where each figure of the chosen machine comes from: its formula with numbers, or its model."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from cakewright.jobs.options import Option
from cakewright.machines import Plan
from cakewright.machines.envelope import CEILING
from cakewright.machines.interface import Part
from cakewright.machines.registry import data_of
from cakewright.machines.trends import How, Move
from cakewright.quantities import Basis, CalculationLine, Figure, Term, house_name
from cakewright.quantities.formula import read_formula
from cakewright.sludge import Feed, RunLoad
from cakewright.study import class_labels

__all__ = ["performance_lines"]

_CLOSE = 1e-9
_PATH = "the pressing path of this frame on the law of this sludge (theory: press)"
_BAND = "published band of each class, blended and moved by its trends (theory: machines)"
_MODELS = {
    "specific_energy": "power of this frame over the hours it runs on the law of this sludge",
    "wash_water_specific": "washing of this frame over the hours it runs on the law of this sludge",
    "conditioner_kept": "stoichiometry of the conditioner, per sludge solids caught",
    "conditioner_ash": "stoichiometry of the conditioner, per sludge solids caught",
    "first_polymer_dose": "dose of the recipe for each class, blended by dry solids",
    "ferric_dose": "dose of the recipe for each class, blended by dry solids",
    "lime_dose": "dose of the recipe for each class, blended by dry solids",
    "polymer_dose": "doses of the recipe's polymers for each class, blended by dry solids",
}
_SHORT = {
    "dose": "dose",
    "ash": "ash",
    "oil": "oil",
    "fibre": "fibre",
    "temperature": "warm",
    "total_solids": "feed",
    "stored": "age",
}
_BANDED = ("cake_solids", "capture", "polymer_dose")


@dataclass(frozen=True, slots=True)
class _Said:
    """A formula that may give a figure, and what is put into it."""

    formula: str
    terms: tuple[Term, ...]

    def value(self) -> float:
        formula = read_formula(self.formula, [term.symbol for term in self.terms])
        if formula is None:
            return math.nan
        return formula.value({term.symbol: term.value for term in self.terms})

    def gives(self, result: float) -> bool:
        return math.isclose(self.value(), result, rel_tol=_CLOSE, abs_tol=1e-12)

    def with_term(self, formula: str, term: Term) -> _Said:
        """The formula put into another: ``{}`` stands for it."""
        return _Said(formula.format(self.formula), (*self.terms, term))


def performance_lines(
    option: Option, plan: Plan, feed: Feed, load: RunLoad
) -> list[CalculationLine]:
    """One line for every figure of the chosen machine.

    A figure whose formula does not give it came from a model, which the line then names.
    """
    figures = option.performance.figures.values()
    return [_line(figure, option, plan, feed, load) for figure in figures]


def _line(figure: Figure, option: Option, plan: Plan, feed: Feed, load: RunLoad) -> CalculationLine:
    found = next(
        (s for s in _said(figure, option, plan, feed, load) if s.gives(figure.point)), None
    )
    entry = house_name(figure.name)
    return CalculationLine(
        key=f"performance.{figure.name}",
        chapter="performance",
        title=f"{entry.label[0].upper()}{entry.label[1:]} of the {option.kind.label}",
        symbol=entry.symbol,
        formula=found.formula if found else "",
        terms=found.terms if found else (),
        result=figure.point,
        name=figure.name,
        source=figure.source or "JUDGEMENT",
        note=figure.note,
        mark=figure.mark.value,
        model="" if found else _model(figure),
    )


def _model(figure: Figure) -> str:
    if figure.name in _BANDED and figure.basis in (Basis.BENCH, Basis.MEASURED):
        return _PATH
    return _MODELS.get(figure.name, _BAND)


def _said(figure: Figure, option: Option, plan: Plan, feed: Feed, load: RunLoad) -> Iterator[_Said]:
    """Every formula that may give a figure, the likeliest first."""
    name = figure.name
    if name in _BANDED:
        yield from _of_band(figure, option, feed)
    elif name in ("cake_own_solids", "cake_free_solids"):
        yield _own_solids(name, option)
    elif name == "attention_per_day":
        yield _attention(option, load)
    else:
        yield from _of_frame(name, plan, feed, load)
        yield _blended(option.performance.parts.get(name, ()), name)


def _point(value: object) -> float:
    return float(np.atleast_1d(np.asarray(value, dtype=float))[0])


def _blended(parts: tuple[Part, ...], name: str) -> _Said:
    """Class values by dry solids; cake by the water each part keeps."""
    labels, terms, sums = class_labels(), [], []
    for i, part in enumerate(parts, start=1):
        label = labels[part.sludge_class]
        share = f"s_{i}·" if len(parts) > 1 else ""
        if share:
            terms.append(Term(f"s_{i}", _point(part.share), "ratio", f"share of {label}"))
        terms.append(Term(f"x_{i}", _point(part.value), name, f"band of {label}"))
        water = f"(1/x_{i} − 1)" if name == "cake_solids" and len(parts) > 1 else f"x_{i}"
        sums.append(f"{share}{water}")
    total = " + ".join(sums)
    if name == "cake_solids" and len(parts) > 1:
        total = f"1/(1 + {total})"
    return _Said(total, tuple(terms))


def _of_band(figure: Figure, option: Option, feed: Feed) -> Iterator[_Said]:
    name, performance = figure.name, option.performance
    said = _blended(performance.parts.get(name, ()), name)
    seen: dict[str, int] = {}
    for move in performance.moves.get(name, ()):
        lever = move.trend.lever
        seen[lever] = seen.get(lever, 0) + 1
        said = _moved(said, move, f"{_SHORT[lever]}{seen[lever]}", name)
    yield said
    gain = option.recipe.gain
    if gain is not None and name == "cake_solids":
        more = Term("g", gain.typical, "ratio", option.recipe.label)
        said = said.with_term("({})·(1 + g)", more)
        yield said
    if name in CEILING:
        most = Term("k", CEILING[name], name, "most a band may tell")
        yield said.with_term("min({}, k)", most)
    if name == "cake_solids":
        thick = Term("TS", _point(feed.mix.total_solids), "total_solids", "feed")
        yield said.with_term("max({}, TS)", thick)
    if name == "polymer_dose" and figure.note.startswith("dose given in the study"):
        yield _Said("d", (Term("d", figure.point, name, "given in the study"),))
    if name == "polymer_dose" and figure.point == 0.0:
        yield _Said("d", (Term("d", 0.0, name, "no polymer in this recipe"),))


def _moved(said: _Said, move: Move, index: str, name: str) -> _Said:
    """One more trend on a figure."""
    trend, effect = move.trend, _point(move.effect)
    what = f"effect of {trend.lever.replace('_', ' ')} ({trend.source})"
    one = Term(f"e_{index}", effect, name if trend.how is How.POINTS else "ratio", what)
    if trend.how is How.FACTOR:
        return said.with_term(f"({{}})·(1 + e_{index})", one)
    if trend.how is How.POINTS:
        return said.with_term(f"{{}} + e_{index}", one)
    if trend.how is How.LOSS:
        return said.with_term(f"1 − (1 − ({{}}))·(1 + e_{index})", one)
    bound = Term(f"b_{index}", trend.bound, name, "without polymer")
    formula = f"({said.formula})·(1 − e_{index}) + b_{index}·e_{index}"
    return _Said(formula, (*said.terms, one, bound))


def _own_solids(name: str, option: Option) -> _Said:
    performance = option.performance
    terms = (
        Term("c", performance["cake_solids"].point, "cake_solids", "as weighed"),
        Term("k", performance["conditioner_kept"].point, "conditioner_kept", ""),
    )
    own = "c/(1 + k)"
    return _Said(own if name == "cake_own_solids" else "c/(c + (1 − c)·(1 + k))", terms)


def _attention(option: Option, load: RunLoad) -> _Said:
    row = data_of(option.kind.kind, "kind.toml")["attendance"]
    terms = (
        Term("a", float(row["attend_run"][1]), "ratio", "watching, share of the run"),
        Term("t_d", _point(load.hours_per_day), "run_hours_per_day", "shift"),
        Term("b", float(row["attend_day_h"][1]) / 24.0, "attention_per_day", "start, stop, rinse"),
    )
    return _Said("a·t_d + b", terms)


def _of_frame(name: str, plan: Plan, feed: Feed, load: RunLoad) -> Iterator[_Said]:
    """Power, washing and sound: the frame's, over the hours it runs."""
    frame, running = plan.frame, float(plan.machines - plan.standby)
    count = Term("n", running, "count", "machines running")
    run = Term("t", plan.figures["run_hours_per_day"].point, "run_hours_per_day", "")
    days = Term("n_d", _point(load.days_per_week), "days_per_week", "")
    dry = Term("m_s", _point(feed.mix.dry_solids_flow), "dry_solids_flow", "mean week")
    if name == "specific_energy":
        power = Term("P", plan.figures["power"].point / running, "power", "one machine, drawn")
        yield _Said("n·P·t·n_d/7/m_s", (count, power, run, days, dry))
    elif name == "wash_water_specific":
        flow = Term("q", frame.wash_flow_mean, "volume_flow", "washing, mean while running")
        rinse = Term("V", frame.wash_per_stop, "working_volume", "rinse at a stop")
        formula = "n·(q·t + V/86400)·n_d/7/m_s"
        yield _Said(formula, (count, flow, run, rinse, days, dry))
    elif name == "sound_level":
        one = Term("L", frame.sound_level, "sound_level", "one machine")
        yield _Said("L + 10·log10(n)", (one, count))
