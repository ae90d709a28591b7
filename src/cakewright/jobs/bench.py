"""The bench job: readings of a day of tests -> fits, ranking, sludge law, what to test next."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from cakewright.bench import (
    BadTest,
    BenchTest,
    CoagulantOptimum,
    Compressibility,
    Curve,
    DoseFit,
    JointFit,
    Misfit,
    NextTest,
    PolymerRank,
    TestFit,
    by_response,
    cake_solids_curve,
    coagulant_optimum,
    dose_test_fit,
    fit_capillary_suction,
    fit_charge_titration,
    fit_compressibility,
    fit_dose_response,
    fit_filtration_pressure,
    fit_filtration_rate,
    fit_gravity_drainage,
    fit_law,
    fit_press_course,
    fit_pressed_cake,
    fit_settled_volume,
    fit_solids_dish,
    fit_solids_filter,
    fit_time_to_filter,
    fit_zone_settling,
    rank_next_tests,
    rank_polymers,
    reading_faults,
    resistance_curve,
)
from cakewright.bench.dose_kinds import RESPONSES
from cakewright.bench.two_products import fit_two_products
from cakewright.errors import DataError, Fault, OutOfRangeError
from cakewright.quantities import CalculationLine
from cakewright.sludge.law_prior import prior_of_class

__all__ = ["BenchFindings", "Ranking", "SludgeBench", "evaluate_bench"]

_FITS: Mapping[str, Callable[[BenchTest], TestFit]] = {
    "solids_dish": fit_solids_dish,
    "solids_filter": fit_solids_filter,
    "filtration_pressure": fit_filtration_pressure,
    "filtration_rate": fit_filtration_rate,
    "capillary_suction": fit_capillary_suction,
    "time_to_filter": fit_time_to_filter,
    "gravity_drainage": fit_gravity_drainage,
    "two_products": fit_two_products,
    "pressed_cake": fit_pressed_cake,
    "press_course": fit_press_course,
    "settled_volume": fit_settled_volume,
    "zone_settling": fit_zone_settling,
    "charge_titration": fit_charge_titration,
}

# Which response chooses the polymer when several were measured: nearest to filtering first.
_CHOOSING = ("resistance", "drained", "suction_time", "filtrate_tss", "turbidity", "floc_score")


@dataclass(frozen=True, slots=True)
class Ranking:
    """Polymers ranked by one response, best first."""

    response: str
    label: str
    rows: tuple[PolymerRank, ...]


@dataclass(frozen=True, slots=True, eq=False)
class SludgeBench:
    """Everything found on one sludge; ``joint`` is None when no class was named."""

    name: str
    sludge_class: str
    fits: tuple[TestFit, ...]
    dose_fits: tuple[DoseFit, ...]
    rankings: tuple[Ranking, ...]
    coagulants: tuple[CoagulantOptimum, ...]
    compressibility: Compressibility | None
    joint: JointFit | None
    law_curves: tuple[Curve, ...]
    next_tests: tuple[NextTest, ...]
    polymer: str
    left_out: tuple[str, ...]
    invented: bool

    @property
    def best(self) -> PolymerRank | None:
        """The polymer to go on with, from the response nearest to filtering."""
        return self.rankings[0].rows[0] if self.rankings else None


@dataclass(frozen=True, slots=True, eq=False)
class BenchFindings:
    """What `evaluate_bench` found: sludges, tests that could not be used, calculation lines."""

    sludges: tuple[SludgeBench, ...]
    bad: tuple[BadTest, ...]
    lines: tuple[CalculationLine, ...]
    notes: tuple[str, ...]
    invented: bool


def evaluate_bench(
    tests: Sequence[BenchTest], bad: Sequence[BadTest] = (), *, sludge_class: str = ""
) -> BenchFindings:
    """Fit every test that can be fitted and carry all of them into one law per sludge.

    ``bad`` are tests already found unreadable; they are listed with those found here.
    ``sludge_class`` fills in where a sheet names no class.

    Raises
    ------
    UnknownNameError
        If a sludge class does not exist.
    DataError
        If no test can be used.
    """
    unique, doubled = _without_doubles(tests)
    found_bad = [*bad, *doubled]
    fits: list[TestFit] = []
    doses: list[DoseFit] = []
    kept: list[BenchTest] = []
    for test in (one for whole in unique for one in by_response(whole)):
        result = _fit_one(test)
        if isinstance(result, BadTest):
            found_bad.append(result)
            continue
        kept.append(test)
        if isinstance(result, DoseFit):
            doses.append(result)
            fits.append(dose_test_fit(result))
        else:
            fits.append(result)
    if not fits:
        faults = [fault for test in found_bad for fault in test.faults]
        nothing = Fault("readings", "no test", "at least one usable test", "start from a template")
        raise DataError("bench tests", faults or [nothing])
    names = list(dict.fromkeys(fit.sludge for fit in fits))
    sludges = tuple(_one_sludge(name, fits, doses, kept, sludge_class) for name in names)
    return BenchFindings(
        sludges=sludges,
        bad=tuple(found_bad),
        lines=_lines(sludges),
        notes=tuple(_notes(sludges, found_bad)),
        invented=any(fit.invented for fit in fits),
    )


def _without_doubles(
    tests: Sequence[BenchTest],
) -> tuple[list[BenchTest], list[BadTest]]:
    """Tests whose id is their own; of several with one id none can be trusted."""
    counts = Counter(test.id for test in tests)
    single, doubled = [], []
    for test in tests:
        if counts[test.id] == 1:
            single.append(test)
            continue
        others = [
            t.places.sheet_text() or t.kind for t in tests if t.id == test.id and t is not test
        ]
        place = test.places.head_text("test", "test")
        fault = Fault(
            place,
            f"test id {test.id!r}, also used in {'; '.join(others)}",
            "an id of its own for every test",
            "rename one of them",
        )
        doubled.append(BadTest(test.id, test.kind, test.places.sheet_text(), (fault,)))
    return single, doubled


def _fit_one(test: BenchTest) -> TestFit | DoseFit | BadTest:
    place = test.places.sheet_text()
    faults = reading_faults(test)
    if faults:
        return BadTest(test.id, test.kind, place, tuple(faults))
    try:
        if test.kind == "dose_response":
            return fit_dose_response(test)
        return _FITS[test.kind](test)
    except DataError as error:
        return BadTest(test.id, test.kind, place, error.faults)
    except OutOfRangeError as error:
        fault = Fault(
            place or f"test {test.id}", str(error), "readings that a fit can use", "check them"
        )
        return BadTest(test.id, test.kind, place, (fault,))


def _one_sludge(
    name: str,
    fits: Sequence[TestFit],
    doses: Sequence[DoseFit],
    tests: Sequence[BenchTest],
    default_class: str,
) -> SludgeBench:
    mine = tuple(fit for fit in fits if fit.sludge == name)
    jars = tuple(fit for fit in doses if fit.test.sludge == name)
    named = [t.words["class"] for t in tests if t.sludge == name and t.words.get("class")]
    chosen_class = named[0] if named else default_class
    rankings = tuple(
        Ranking(key, RESPONSES[key].label, rank_polymers(group))
        for key in _CHOOSING
        if (group := [jar for jar in jars if jar.response.key == key])
    )
    polymer = _conditioner(rankings, jars, mine)
    invented = any(fit.invented for fit in mine)
    joint, left_out = _joint(name, chosen_class, mine, jars, polymer, invented=invented)
    curves: tuple[Curve, ...] = ()
    if joint:
        curves = (
            cake_solids_curve(joint.law, joint.blocks),
            resistance_curve(joint.law, joint.blocks),
        )
    return SludgeBench(
        name=name,
        sludge_class=chosen_class,
        fits=mine,
        dose_fits=jars,
        rankings=rankings,
        coagulants=_coagulants(jars),
        compressibility=fit_compressibility(name, [f for f in mine if _same(f, polymer)]),
        joint=joint,
        law_curves=curves,
        next_tests=rank_next_tests(joint.law) if joint else (),
        polymer=polymer,
        left_out=left_out,
        invented=invented,
    )


def _conditioner(
    rankings: Sequence[Ranking], jars: Sequence[DoseFit], fits: Sequence[TestFit]
) -> str:
    """Polymer (and coagulant) the law is for: the best that the other tests were made with."""
    if not rankings:
        used = [fit.polymer for fit in fits if fit.polymer]
        return max(dict.fromkeys(used), key=used.count) if used else ""
    names = {jar.test.id: jar.test.conditioner for jar in jars}
    ranked = [names[row.test] for row in rankings[0].rows]
    others = {fit.polymer for fit in fits if fit.polymer and fit.kind != "dose_response"}
    return next((name for name in ranked if name in others), ranked[0])


def _same(fit: TestFit, polymer: str) -> bool:
    return not fit.polymer or not polymer or fit.polymer == polymer


def _joint(
    name: str,
    sludge_class: str,
    fits: Sequence[TestFit],
    jars: Sequence[DoseFit],
    polymer: str,
    *,
    invented: bool,
) -> tuple[JointFit | None, tuple[str, ...]]:
    if not sludge_class:
        return None, ("no sludge class named: no prior, so no law; name one of the classes",)
    chosen = {jar.test.id for jar in jars if jar.test.conditioner == polymer}
    blocks, left_out = [], []
    for fit in fits:
        if fit.clues is None:
            continue
        if (fit.kind == "dose_response" and fit.id not in chosen) or not _same(fit, polymer):
            left_out.append(f"{fit.id}: made with {fit.polymer}, the law is for {polymer}")
        else:
            blocks.append(fit.clues)
    window = (0.0, 0.0)
    tested = [jar.tested for jar in jars if jar.test.id in chosen]
    if tested:
        window = (min(t[0] for t in tested), max(t[1] for t in tested))
    joint = fit_law(
        name,
        blocks,
        prior_of_class(sludge_class),
        dose_window=window,
        polymer=polymer,
        invented=invented,
    )
    return joint, tuple(left_out)


def _coagulants(jars: Sequence[DoseFit]) -> tuple[CoagulantOptimum, ...]:
    groups: dict[tuple[str, str], list[DoseFit]] = {}
    for jar in jars:
        key = (jar.test.words.get("polymer", ""), jar.response.key)
        groups.setdefault(key, []).append(jar)
    found = [coagulant_optimum(group) for group in groups.values()]
    return tuple(optimum for optimum in found if optimum is not None)


def _lines(sludges: Sequence[SludgeBench]) -> tuple[CalculationLine, ...]:
    lines: list[CalculationLine] = []
    for sludge in sludges:
        for fit in sludge.fits:
            lines += fit.lines
        if sludge.compressibility:
            lines.append(sludge.compressibility.line)
    return tuple(lines)


def _law_notes(sludge: SludgeBench) -> list[str]:
    notes = list(sludge.left_out)
    if sludge.best and sludge.polymer and sludge.best.name != sludge.polymer:
        notes.append(
            f"{sludge.name}: the jars favour {sludge.best.name}, but the other tests were made "
            f"with {sludge.polymer}, so the law is for that; repeat them before changing over"
        )
    bounds = [e.high for fit in sludge.fits for e in fit.estimates if e.name == "gel_point"]
    if sludge.joint and bounds and sludge.joint.law.value("gel_point") > min(bounds):
        notes.append(
            f"{sludge.name}: the gel point of the law lies above what drained on the screen; "
            "press at lower pressures"
        )
    return notes


def _surprise(sludge: SludgeBench, misfit: Misfit) -> str:
    """A sheet that the class would hardly foretell: what, which way, and what to look at first."""
    what, odd = misfit.strangest
    side = "above" if odd > 0 else "below"
    return (
        f"{sludge.name}: test {misfit.test} is not what its class foretells (chance "
        f"{misfit.prior_chance:.1g}): {what} lies {abs(odd):.1f} standard deviations {side}; "
        "likely a unit, the dose or the class, else a sludge of its own. Cheapest to decide: look "
        "at the units, then repeat this one test on a fresh sample"
    )


def _notes(sludges: Sequence[SludgeBench], bad: Sequence[BadTest]) -> list[str]:
    notes = [f"{len(bad)} tests could not be used; they are listed with the reasons"] if bad else []
    for sludge in sludges:
        notes += _law_notes(sludge)
        if sludge.joint and sludge.joint.inflation > 1:
            notes.append(
                f"{sludge.name}: the tests disagree more than their scatter explains; all spreads "
                f"are multiplied by {sludge.joint.inflation:.2f}"
            )
        for misfit in sludge.joint.misfits if sludge.joint else ():
            if misfit.surprises:
                notes.append(_surprise(sludge, misfit))
            if misfit.contradicts and len(sludge.joint.misfits if sludge.joint else ()) > 1:
                notes.append(
                    f"{sludge.name}: test {misfit.test} contradicts the others "
                    f"(chance {misfit.chance:.2g}); look at it before relying on the law"
                )
    return notes
