"""The press's findings: operating point, limits, levers, a shaft out, sensitivities, basis."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from tests.unit.jobs.press_cases import ALONE, narrow_law, with_law

from cakewright.jobs.evaluate import evaluate
from cakewright.jobs.findings import Findings
from cakewright.machines import shipped_catalogue
from cakewright.machines.frames import frame_named
from cakewright.machines.goal import Aim
from cakewright.machines.outcome import filled_figures
from cakewright.machines.press_priors import record_from
from cakewright.machines.pressing_path import PathResult, PathStatus, PressedSludge, PressLoad
from cakewright.machines.screw.case import screw_geometry
from cakewright.machines.screw.path import ScrewOperation, ScrewParameters, screw_sensitivities
from cakewright.machines.screw.prediction import PressFindings
from cakewright.quantities import Basis, Mark
from cakewright.reports.chapters.annex import recomputes
from cakewright.sludge.law import SludgeLaw
from cakewright.storage.studies import demo_text
from cakewright.study import parse_study


def press_of(findings: Findings) -> PressFindings:
    """The screw press's findings."""
    assert findings.press is not None
    return findings.press


@pytest.fixture(scope="module")
def found() -> Findings:
    """The soy works on a tested law."""
    return with_law()


def test_tested_law_takes_the_place_of_the_band(found: Findings) -> None:
    """With a law cake, capture and dose rest on bench tests and keep the mark of the law."""
    press = press_of(found)
    option = next(o for o in found.options if o.machine == press.machine)
    assert press.tested
    for name in ("cake_solids", "capture", "polymer_dose"):
        assert option.figures[name].basis is Basis.BENCH
        assert option.figures[name].mark is Mark.INVENTED
    assert np.array_equal(
        option.figures["cake_solids"].samples, press.figures["cake_solids"].samples
    )


def test_every_kind_is_pressed_by_its_own_path(found: Findings) -> None:
    """Belt, decanter and plate presses stand on the same law, each saying what is envelope."""
    kinds = {kind.machine: kind for kind in found.kinds}
    assert kinds.keys() == {"belt_press", "decanter", "chamber_press", "membrane_press"}
    assert all(kind.envelope for kind in kinds.values())
    for kind in kinds.values():
        option = next(o for o in found.options if o.machine == kind.machine)
        basis = option.figures["cake_solids"].basis
        assert basis is (Basis.BENCH if kind.figures else Basis.ASSUMED)


def test_every_limit_has_its_distance(found: Findings) -> None:
    """Hydraulic, plate, conveying and drive torque: at the setting and at the most it takes."""
    press = press_of(found)
    names = {"hydraulic", "plate", "conveying", "drive torque"}
    assert press.margins.keys() == press.capacity.margins.keys() == names
    frame = next(f for f in shipped_catalogue() if f.name == press.frame)
    torque = press.figures["screw_torque"].point
    assert frame.rated_torque is not None
    assert np.isclose(press.margins["drive torque"], 1.0 - torque / frame.rated_torque)
    assert press.binding == min(press.margins, key=press.margins.__getitem__)
    assert all(name in press.binding_words for name in names)
    # nearer its limits than at the mean load, and at the one that stops more nearly on it
    assert min(press.capacity.margins.values()) < min(press.margins.values())


def test_gradient_point_is_no_worse_than_the_map(found: Findings) -> None:
    """The operating point holds margin and capture and beats or equals the map's best cell."""
    press = press_of(found)
    chart = press.map
    good = (chart.status == 0) & (chart.margin >= 0.10) & (chart.capture >= 0.90)
    rows = chart.back_pressure <= 2e4 * (1.5e5 / 2e4) ** 0.67
    best = np.max(np.where(good & rows[:, None], chart.cake_solids, 0.0))
    assert press.details["cake_solids"] >= best - 1e-6
    assert press.details["capture"] >= 0.90 - 1e-3
    assert min(press.margins.values()) >= 0.10 - 1e-3


def test_sensitivities_agree_with_the_exact_derivative(found: Findings) -> None:
    """Central differences of the quick program against the derivative by JAX of the fine one."""
    press = press_of(found)
    x = {n: np.array([v]) for n, v in press.inputs.items()}
    x |= {"speed": np.array([press.speed]), "back_pressure": np.array([press.back_pressure])}
    exact = screw_sensitivities(
        record_from(PressedSludge, x),
        PressLoad(x["dry_solids_flow"], x["feed_solids"], x["fines_share"]),
        record_from(ScrewOperation, x),
        record_from(ScrewParameters, x),
        screw_geometry(frame_named(press.frame, shipped_catalogue())),
    )["cake_solids"]
    rows = [s for s in press.sensitivities if s.answer == "cake_solids"][:6]
    assert len(rows) == 6
    for row in rows:
        assert row.derivative == pytest.approx(exact[row.input], rel=0.05)


def test_levers_go_the_way_they_must(found: Findings) -> None:
    """A harder plate dries, a faster screw wets, and a dose far off is marked extrapolated."""
    press = press_of(found)
    by = {(lever.words, lever.factor): lever for lever in press.levers}
    base = press.details["cake_solids"]
    harder, faster = by["back pressure", 1.4], by["screw speed", 1.25]
    assert harder.cake_solids is not None
    assert faster.cake_solids is not None
    assert harder.cake_solids > base > faster.cake_solids
    assert not by["polymer dose", 1.25].extrapolated


def test_dose_outside_the_tested_range_is_marked() -> None:
    """A dose beyond the tested ones is told in the notes and in the lines' status."""
    text = demo_text("soy").replace("[polymer]", '[polymer]\ndose = "18 kg/t"')
    study = parse_study(f"{text}\n{ALONE}\n[sampling]\nsamples = 16\n")
    found = evaluate(study, law=narrow_law(), with_decision=False)
    press = press_of(found)
    assert any("outside the tested" in note for note in press.notes)
    lines = [line for line in found.lines if line.chapter == "press"]
    assert {line.status.value for line in lines} == {"extrapolated"}
    more, less = (
        next(v for v in press.levers if (v.words, v.factor) == ("polymer dose", factor))
        for factor in (1.25, 0.75)
    )
    assert more.extrapolated
    assert not less.extrapolated  # 13.5 kg/t was tested


def test_one_shaft_out_is_told(found: Findings) -> None:
    """With several shafts the rest take a share of the load, named with the setting for it."""
    out = press_of(found).shaft_out
    assert out is not None
    assert (out.left, out.of) == (found.decision.shafts - 1, found.decision.shafts)
    assert 0.0 < out.load_share <= 1.0
    assert out.cake_solids is not None


def test_press_lines_recompute(found: Findings) -> None:
    """Every press line gives its result again from the numbers printed with it."""
    lines = [line for line in found.lines if line.chapter == "press"]
    assert len(lines) == 5
    assert all(recomputes(line) for line in lines)


def test_aims_pull_where_they_should() -> None:
    """Least polymer takes less polymer than driest cake; both keep the capture wanted."""
    dry = press_of(with_law('[press]\naim = "driest cake"'))
    spare = press_of(with_law('[press]\naim = "least polymer"'))
    assert spare.setting.aim is Aim.LEAST_POLYMER
    assert spare.dose < dry.dose
    assert spare.details["capture"] >= 0.90 - 2e-3
    cheap = press_of(with_law('[press]\naim = "lowest cost"'))
    assert cheap.setting.worth <= cheap.setting.map_worth


def stiff_law() -> SludgeLaw:
    """The narrow law with ten thousand times the resistance: no press takes the load."""
    law = narrow_law()
    parameters = tuple(
        dataclasses.replace(p, value=1e4 * p.value) if p.name == "local_resistance" else p
        for p in law.parameters
    )
    return dataclasses.replace(law, parameters=parameters)


def test_load_beyond_capacity_gives_no_cake() -> None:
    """The press has no figures, the nearest answer names cause and change, and claims no test.

    Where nothing suits the nearest kind is told: what is shown of it is its published band.
    """
    study = parse_study(f"{demo_text('soy')}\n{ALONE}\n[sampling]\nsamples = 16\n")
    found = evaluate(study, law=stiff_law(), with_decision=False)
    assert not found.decision.meets
    assert press_of(found).figures == {}
    assert "no cake at this load" in found.decision.because[0]
    assert "more drained area" in found.decision.because[0]
    assert found.decision.headline[0].basis is Basis.ASSUMED
    told = " ".join(found.decision.conditions)
    assert "by the bench tests it has no cake here" in told
    assert "rest on the bench tests" not in told
    assert "extrapolated" not in told


def test_prior_alone_stands_beside_the_band() -> None:
    """Without a law the figures stay with the published band and the press says so."""
    study = parse_study(demo_text("soy") + "\n[sampling]\nsamples = 32\n")
    found = evaluate(study, with_decision=False)
    press = press_of(found)
    option = next(o for o in found.options if o.machine == press.machine)
    assert not press.tested
    assert option.figures["cake_solids"].basis is Basis.ASSUMED
    assert found.kinds == ()
    assert "judgement" in press.parameters


def test_dose_beyond_the_tests_is_said_on_the_first_page() -> None:
    """Tests covered 8 to 15 kg/t: at 18 the answer stands, marked extrapolated; at 12 it is not."""
    told = {}
    for dose in (12, 18):
        text = demo_text("soy").replace("[polymer]", f'[polymer]\ndose = "{dose} kg/t"')
        study = parse_study(f"{text}\n{ALONE}\n[sampling]\nsamples = 0\n")
        found = evaluate(study, law=narrow_law(), with_decision=False)
        told[dose] = " ".join(found.decision.conditions)
    assert "at 18 kg/t cake and capture are extrapolated" in told[18]
    assert "extrapolated" not in told[12]


def test_a_sample_beyond_a_limit_counts_as_wet_but_not_as_wetter_than_its_feed() -> None:
    """Filled in: the wettest cake that stands, or the feed where that is thicker still."""
    cake = np.array([0.20, 0.04, np.nan, np.nan])
    status = np.where(np.isfinite(cake), PathStatus.ANSWER, PathStatus.PLATE)
    result = PathResult(status, cake, cake + 0.7, cake, cake, {}, {})
    found, told = filled_figures(result, np.array([0.02, 0.02, 0.02, 0.06]))
    assert found["cake_solids"][:2].tolist() == [0.20, 0.04]
    assert found["cake_solids"][2] == pytest.approx(0.04, abs=0.005)
    assert found["cake_solids"][3] == 0.06
    assert told == "50 % of samples lie beyond a limit of the press"


def test_a_law_that_creeps_as_much_as_a_path_takes_is_evaluated() -> None:
    """A thousandth more, as the sensitivities ask, is still allowed."""
    law = narrow_law()
    most = [p.name == "creep_share" for p in law.parameters].index(True)
    parameters = list(law.parameters)
    parameters[most] = dataclasses.replace(parameters[most], value=0.97)
    creeping = dataclasses.replace(law, parameters=tuple(parameters))
    text = f"{demo_text('soy')}\n{ALONE}\n[sampling]\nsamples = 64\n"
    found = evaluate(parse_study(text), law=creeping, with_decision=False)
    assert any(row.input == "creep_share" for row in press_of(found).sensitivities)
