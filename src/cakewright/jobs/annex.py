"""Calculation lines of the point case: what was put into which formula, and what came out."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from cakewright.jobs.draws import StudyDraws
from cakewright.jobs.streams import alum_of, precipitate_of
from cakewright.line.balance import Balance
from cakewright.machines import Plan
from cakewright.physics.solids import DENSITY_FIXED, DENSITY_VOLATILE
from cakewright.quantities import Basis, CalculationLine, FloatArray, Status, Term
from cakewright.quantities.constants import DAY
from cakewright.sludge import Feed, RunLoad, Sludge
from cakewright.study import Study

__all__ = [
    "CHAPTERS",
    "balance_lines",
    "feed_lines",
    "load_lines",
    "sizing_lines",
]

CHAPTERS = (
    "sludge",
    "load",
    "performance",
    "sizing",
    "balance",
    "press",
    "line",
    "money",
    "carbon",
    "guarantee",
)

_OIL_RULE = (
    "oil counts as part of the solids; it drains and presses differently, so confidence falls as "
    "it rises"
)


_REMOVALS = (
    *("tss_removed", "oil_removed", "iron_dose", "aluminium_dose", "alum_dose"),
    "phosphorus_removed",
)


def _point(values: FloatArray | float) -> float:
    return float(np.atleast_1d(values)[0])


def _line(
    key: str,
    title: str,
    symbol: str,
    formula: str,
    terms: Iterable[tuple[str, FloatArray | float, str, str]],
    result: tuple[str, FloatArray | float],
    source: str,
    *,
    note: str = "",
    mark: str = "",
    valid: str = "",
) -> CalculationLine:
    return CalculationLine(
        key=key,
        chapter=key.split(".")[0],
        title=title,
        symbol=symbol,
        formula=formula,
        terms=tuple(Term(s, _point(v), name, basis) for s, v, name, basis in terms),
        result=_point(result[1]),
        name=result[0],
        source=source,
        valid=valid,
        status=Status.INSIDE if valid else Status.NO_RANGE,
        note=note,
        mark=mark,
    )


def feed_lines(study: Study, draws: StudyDraws, feed: Feed) -> list[CalculationLine]:
    """How much dry matter each sludge carries, by its own rule, and the blend."""
    lines: list[CalculationLine] = []
    for index, part in enumerate(feed.parts):
        lines += _sludge_lines(study, draws, index, part)
    flows = [_point(part.dry_solids_flow) for part in feed.parts]
    symbols = [f"m_{i + 1}" for i in range(len(flows))]
    solids = [f"TS_{i + 1}" for i in range(len(flows))]
    ratio = " + ".join(f"{m}/{t}" for m, t in zip(symbols, solids, strict=True))
    terms = [
        *((m, part.dry_solids_flow, "dry_solids_flow", "") for m, part in _zip(symbols, feed)),
        *((t, part.total_solids, "total_solids", "") for t, part in _zip(solids, feed)),
    ]
    lines.append(
        _line(
            "sludge.blend.total_solids",
            "Total solids of the blend",
            "TS",
            f"({' + '.join(symbols)}) / ({ratio})",
            terms,
            ("total_solids", feed.mix.total_solids),
            "OWN",
        )
    )
    mix = feed.mix
    lines.append(
        _line(
            "sludge.blend.solids_density",
            "Density of the blend's solids from its ash",
            "ρ_s",
            "1 / ((1 − a)/ρ_v + a/ρ_f)",
            [
                ("a", mix.ash, "ash_share", ""),
                ("ρ_v", DENSITY_VOLATILE, "solids_density", Basis.PUBLISHED.value),
                ("ρ_f", DENSITY_FIXED, "solids_density", Basis.PUBLISHED.value),
            ],
            ("solids_density", mix.solids_density),
            "T37 L04",
            note=_OIL_RULE if _point(mix.oil) > 0.1 else "blended by dry mass",
            valid="ash 0 to 100 %",
        )
    )
    return lines


def _zip(symbols: list[str], feed: Feed) -> list[tuple[str, Sludge]]:
    return list(zip(symbols, feed.parts, strict=True))


def _sludge_lines(
    study: Study, draws: StudyDraws, index: int, part: Sludge
) -> list[CalculationLine]:
    place = f"sludge.{index}"
    kind = study.word(f"{place}.origin.kind")
    makers = {"biological, net yield": _net_yield, "biological, load rule": _load_rule}
    if kind in makers:
        return makers[kind](draws, place, part)
    if kind:
        return [_by_removal(study, draws, index, part, kind)]
    days = ("n_p", draws["production.days_per_week"], "days_per_week", "")
    return [
        _line(
            f"sludge.{index}.dry_solids",
            f"Dry solids of {part.name}, mean over the week",
            "m_s",
            "Q · ρ · TS · n_p/7",
            [
                ("Q", draws[f"{place}.flow"], "volume_flow", _basis(study, f"{place}.flow")),
                ("ρ", part.density, "fluid_density", ""),
                ("TS", part.total_solids, "total_solids", _basis(study, f"{place}.total_solids")),
                days,
            ],
            ("dry_solids_flow", part.dry_solids_flow),
            "OWN",
        )
    ]


def _basis(study: Study, place: str) -> str:
    given = study.given(place)
    return given.basis.value if given else ""


def _net_yield(draws: StudyDraws, place: str, part: Sludge) -> list[CalculationLine]:
    origin = f"{place}.origin"
    age, decay = draws[f"{origin}.sludge_age"], draws[f"{origin}.decay_rate"]
    true = draws[f"{origin}.yield_coefficient"]
    observed = true / (1.0 + decay * age)
    removed = draws[f"{origin}.bod_in"] - draws[f"{origin}.bod_out"]
    return [
        _line(
            f"{place}.observed_yield",
            f"Net yield of {part.name}",
            "Y_obs",
            "Y / (1 + k_d · t_SS)",
            [
                ("Y", true, "yield_coefficient", ""),
                ("k_d", decay, "decay_rate", ""),
                ("t_SS", age, "sludge_age", ""),
            ],
            ("yield_coefficient", observed),
            "MEM",
            mark="from memory",
        ),
        _line(
            f"{place}.dry_solids",
            f"Dry solids of {part.name}, mean over the week",
            "m_s",
            "Y_obs · Q · (S_0 − S) / VS · n_p/7",
            [
                ("Y_obs", observed, "yield_coefficient", ""),
                ("Q", draws[f"{origin}.wastewater_flow"], "wastewater_flow", ""),
                ("S_0 − S", removed, "bod_load_removed", ""),
                ("VS", draws[f"{origin}.volatile_of_solids"], "volatile_share", ""),
                ("n_p", draws["production.days_per_week"], "days_per_week", ""),
            ],
            ("dry_solids_flow", part.dry_solids_flow),
            "MEM",
            mark="from memory",
            note="inert solids of the wastewater left out",
        ),
    ]


def _load_rule(draws: StudyDraws, place: str, part: Sludge) -> list[CalculationLine]:
    origin = f"{place}.origin"
    age = draws[f"{origin}.sludge_age"] / DAY
    temperature = draws[f"{origin}.water_temperature"]
    warmth = 1.072 ** (temperature - 288.15)
    return [
        _line(
            f"{place}.warmth",
            f"Faster decay in warm water, {part.name}",
            "F",
            "1.072^(T − T_15)",
            [("T", temperature, "temperature", ""), ("T_15", 288.15, "temperature", "")],
            ("ratio", warmth),
            "MEM",
            mark="from memory",
        ),
        _line(
            f"{place}.dry_solids",
            f"Dry solids of {part.name}, mean over the week",
            "m_s",
            "Q · S_0 · (0.75 + 0.6 X_0/S_0 − 0.102 θ F/(1 + 0.17 θ F)) · n_p/7",
            [
                ("Q", draws[f"{origin}.wastewater_flow"], "wastewater_flow", ""),
                ("S_0", draws[f"{origin}.bod_in"], "bod_in", ""),
                ("X_0", draws[f"{origin}.tss_in"], "tss_in", ""),
                ("θ", age, "ratio", ""),
                ("F", warmth, "ratio", ""),
                ("n_p", draws["production.days_per_week"], "days_per_week", ""),
            ],
            ("dry_solids_flow", part.dry_solids_flow),
            "MEM",
            mark="from memory",
            note="θ: sludge age in days; the formula was recalled; the recalled table at 11 °C is "
            "reproduced to 0.01",
        ),
    ]


def _by_removal(
    study: Study, draws: StudyDraws, index: int, part: Sludge, kind: str
) -> CalculationLine:
    place = f"sludge.{index}"
    formula, terms = _removed(study, draws, index, kind)
    flow = ("Q", draws[f"{place}.origin.wastewater_flow"], "wastewater_flow", "")
    days = ("n_p", draws["production.days_per_week"], "days_per_week", "")
    return _line(
        f"{place}.dry_solids",
        f"Dry solids of {part.name}, mean over the week",
        "m_s",
        f"Q ({formula}) n_p/7",
        [flow, *terms, days],
        ("dry_solids_flow", part.dry_solids_flow),
        "L10" if kind == "water works" else "OWN",
        note="c_p: precipitate by stoichiometry" if "c_p" in formula else "",
    )


def _removed(
    study: Study, draws: StudyDraws, index: int, kind: str
) -> tuple[str, list[tuple[str, FloatArray | float, str, str]]]:
    """What one volume of water leaves as dry solids: the sum in words of symbols, and its terms."""
    origin = f"sludge.{index}.origin"
    given = {k for k in _REMOVALS if study.given(f"{origin}.{k}")}
    terms: list[tuple[str, FloatArray | float, str, str]] = []
    factors: list[str] = []

    def add(symbol: str, values: FloatArray, name: str, factor: str = "") -> None:
        terms.append((symbol, values, name, ""))
        factors.append(f"{factor}{symbol}")

    if "tss_removed" in given:
        add("ΔX", draws[f"{origin}.tss_removed"], "tss_removed")
    if "oil_removed" in given:
        add("ΔO", draws[f"{origin}.oil_removed"], "oil_removed")
    if kind == "water works":
        if "iron_dose" in given:
            add("c_Fe", draws[f"{origin}.iron_dose"], "iron_dose", "1.9 ")
        if given & {"alum_dose", "aluminium_dose"}:
            add("c_alum", alum_of(study, draws, index), "alum_dose", "0.44 ")
    elif given - {"tss_removed", "oil_removed"}:
        add("c_p", precipitate_of(study, draws, index), "tss_removed")
    return " + ".join(factors), terms


def load_lines(feed: Feed, load: RunLoad, spare: FloatArray) -> list[CalculationLine]:
    """From the week's sludge to the load while running and the capacity asked for."""
    mean = feed.mix.dry_solids_flow
    return [
        _line(
            "load.run",
            "Dry solids while running, mean week",
            "m_run",
            "m_s / (t_d · n_d/7)",
            [
                ("m_s", mean, "dry_solids_flow", ""),
                ("t_d", load.hours_per_day, "run_hours_per_day", ""),
                ("n_d", load.days_per_week, "days_per_week", ""),
            ],
            ("dry_solids_flow", load.dry_solids_flow),
            "OWN",
        ),
        _line(
            "load.design",
            "Capacity asked for: peak week with spare",
            "m_des",
            "m_run · f_p · (1 + f_s)",
            [
                ("m_run", load.dry_solids_flow, "dry_solids_flow", ""),
                ("f_p", load.peak_factor, "peak_factor", ""),
                ("f_s", spare, "spare_capacity", ""),
            ],
            ("dry_solids_flow", load.design_dry_solids_flow * (1.0 + spare)),
            "OWN",
        ),
        _line(
            "load.flow",
            "Sludge flow while running, mean week",
            "Q_run",
            "m_run / (TS · ρ)",
            [
                ("m_run", load.dry_solids_flow, "dry_solids_flow", ""),
                ("TS", feed.mix.total_solids, "total_solids", ""),
                ("ρ", feed.mix.density, "fluid_density", ""),
            ],
            ("volume_flow", load.volume_flow),
            "OWN",
        ),
    ]


def sizing_lines(plan: Plan, load: RunLoad, spare: FloatArray) -> list[CalculationLine]:
    """Machines, use of the capacity and hours actually run, by the limit that binds."""
    running = float(plan.machines - plan.standby)
    wet = plan.binding == "water"
    name = "volume_flow" if wet else "dry_solids_flow"
    mean = load.volume_flow if wet else load.dry_solids_flow
    design = load.design_volume_flow if wet else load.design_dry_solids_flow
    capacity = plan.capacity.volume_flow if wet else plan.capacity.dry_solids_flow
    limit = ("c", capacity, name, "")
    count = ("n", running, "count", "")
    mark = plan.capacity.mark.value
    return [
        _line(
            "sizing.utilisation",
            f"Share of the capacity the design week uses ({plan.binding} binds)",
            "u",
            "d / (n · c)",
            [("d", design, name, ""), count, limit],
            ("utilisation", plan.figures["utilisation"].samples),
            plan.capacity.source,
            mark=mark,
        ),
        _line(
            "load.run_hours_per_day",
            "Hours actually run on an operating day, mean week",
            "t",
            "t_d · r · (1 + f_s) / (n · c)",
            [
                ("t_d", load.hours_per_day, "run_hours_per_day", ""),
                ("r", mean, name, ""),
                ("f_s", spare, "spare_capacity", ""),
                count,
                limit,
            ],
            ("run_hours_per_day", plan.figures["run_hours_per_day"].samples),
            plan.capacity.source,
            mark=mark,
        ),
    ]


def balance_lines(balance: Balance) -> list[CalculationLine]:
    """Cake and filtrate from the balance of the running line."""
    cake, mixed = balance.stream("cake"), balance.stream("flocculated sludge")
    wash, drain = balance.stream("wash water"), balance.stream("liquor returned")
    return [
        _line(
            "balance.cake_solids_flow",
            "Sludge solids in the cake",
            "m_c",
            "η · m_ss",
            [
                ("η", cake.suspended / mixed.suspended, "capture", ""),
                ("m_ss", mixed.suspended, "suspended_flow", ""),
            ],
            ("suspended_flow", cake.suspended),
            "OWN",
        ),
        _line(
            "balance.cake",
            "Wet cake",
            "M_c",
            "m_d / TS_c",
            [
                ("m_d", cake.dry_solids_flow, "dry_solids_flow", "sludge, dissolved, conditioner"),
                ("TS_c", cake.total_solids, "cake_solids", ""),
            ],
            ("mass_flow", cake.mass_flow),
            "OWN",
        ),
        _line(
            "balance.filtrate",
            "Filtrate with wash water",
            "M_f",
            "M_m + M_w − M_c",
            [
                ("M_m", mixed.mass_flow, "mass_flow", "flocculated sludge"),
                ("M_w", wash.mass_flow, "mass_flow", "wash water"),
                ("M_c", cake.mass_flow, "mass_flow", "cake"),
            ],
            ("mass_flow", drain.mass_flow),
            "OWN",
        ),
    ]
