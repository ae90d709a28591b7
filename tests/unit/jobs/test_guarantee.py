"""Promises against tests played out by chance, budgets against a general library."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from uncertainties import ufloat

from cakewright.errors import StudyError
from cakewright.jobs.evaluate import evaluate
from cakewright.jobs.guarantee import GuaranteeFindings, Promised
from cakewright.jobs.measured import input_errors, quantities
from cakewright.jobs.protocol import protocol_of, rule_words
from cakewright.quantities import FloatArray
from cakewright.storage.studies import demo_text
from cakewright.study import parse_study


@cache
def guarantee(lines: str = "", samples: int = 1024, name: str = "soy") -> GuaranteeFindings:
    """Promises of a demonstration with keys of its [guarantee] table."""
    text = f"{demo_text(name)}\n[guarantee]\n{lines}\n[sampling]\nsamples = {samples}\n"
    found = evaluate(parse_study(text), with_press=False).decide
    assert found is not None
    return found.guarantee


def of(found: GuaranteeFindings, name: str) -> Promised:
    """One promise."""
    return next(item for item in found.promises if item.name == name)


NAMES = ("cake_solids", "capture", "polymer_dose", "specific_energy", "wash_water_specific")


def brute(found: GuaranteeFindings, tests: int) -> dict[str, FloatArray]:
    """Measured means of tests played here from the budgets alone, turned to "at least".

    Every input errs once a run and once a test, as the plan says; quantities share their inputs.
    """
    rng, plan = np.random.default_rng(11), found.plan
    keys = sorted({key for item in found.promises for key in item.measurement.gains})
    means = {item.name: np.zeros(tests) for item in found.promises}
    common = {k: input_errors(k, plan)[1] * rng.standard_normal(tests) for k in keys}
    rows = np.arange(tests) % (found.promises[0].expected.samples.size - 1)
    for _ in range(plan.runs):
        own = {k: input_errors(k, plan)[0] * rng.standard_normal(tests) for k in keys}
        for item in found.promises:
            error = quantities()[item.name]["runs"] * rng.standard_normal(tests)
            error += sum(g * (own[k] + common[k]) for k, g in item.measurement.gains.items())
            true = item.expected.samples[1:][rows]
            means[item.name] += item.sign * true * (1.0 + error) / plan.runs
    return means


def test_the_whole_list_passes_as_often_as_it_says() -> None:
    """Tests played apart from the job: every chance of the list, and of each value alone."""
    # So few samples that the feed window is left out: promise and count are over the same ones.
    found = guarantee("runs = 2\nsamples = 1\nreplicates = 1", samples=64)
    assert found.inside == 64
    means = brute(found, 64_000)
    passes = {p.name: means[p.name] >= p.sign * p.recommended.value for p in found.promises}
    together = np.all(np.stack(list(passes.values())), axis=0)
    assert together.mean() == pytest.approx(found.joint.passed, abs=0.01)
    assert found.joint.passed == pytest.approx(0.9, abs=0.01)
    alone = np.all(np.stack([means[p.name] >= p.sign * p.alone for p in found.promises]), axis=0)
    assert alone.mean() == pytest.approx(found.joint_alone, abs=0.015)
    for item in found.promises:
        assert passes[item.name].mean() == pytest.approx(item.recommended.passed, abs=0.01)
    rows = np.arange(64_000) % 64
    met = np.all(
        np.stack([p.sign * (p.expected.samples[1:][rows] - p.recommended.value) >= 0
                  for p in found.promises]), axis=0,
    )  # fmt: skip
    assert np.mean(met & ~together) == pytest.approx(found.joint.wrong_fail, abs=0.01)
    assert np.mean(~met & together) == pytest.approx(found.joint.wrong_pass, abs=0.01)


def test_each_alone_at_ninety_is_far_from_ninety_together() -> None:
    """Six promises that would each pass nine times in ten pass together about one time in two."""
    found = guarantee()
    assert 0.4 < found.joint_alone < 0.65
    assert found.joint.passed == pytest.approx(0.9, abs=0.005)
    for item in found.promises:
        assert item.sign * item.recommended.value < item.sign * item.alone


@pytest.mark.parametrize("name", [*NAMES, "dry_solids_flow"])
def test_a_safer_list_is_an_easier_one(name: str) -> None:
    """Every value eases as the chance of the list rises; the chance is the supplier's."""
    found = guarantee('supplier_risk = "5 %"')
    assert found.joint.passed == pytest.approx(0.95, abs=0.004)
    at = [item.name for item in found.promises].index(name)
    item = found.promises[at]
    values = [values[at] for _, values in found.ladder]
    assert values == sorted(values, reverse=item.sense == "at least")
    assert dict(found.ladder)[0.95][at] == pytest.approx(item.recommended.value)


def test_what_the_buyer_may_count_on_holds_after_a_pass() -> None:
    """Of machines whose whole test passed, all but the buyer's risk are at least that good."""
    found = guarantee('buyer_risk = "20 %"', samples=64)
    means = brute(found, 64_000)
    passed = np.all(
        np.stack([means[p.name] >= p.sign * p.recommended.value for p in found.promises]), axis=0
    )
    rows = np.arange(64_000) % 64
    short = np.any(
        np.stack([p.sign * (p.expected.samples[1:][rows] - p.relied_on) < 0
                  for p in found.promises]), axis=0,
    )  # fmt: skip
    assert np.mean(short[passed]) == pytest.approx(0.20, abs=0.04)


def test_giving_way_on_the_worst_buys_most() -> None:
    """A cake asked for far too high stops the test; easing it frees the list, others do not."""
    found = guarantee('cake_solids = "20 %"')
    first = found.easing[0]
    assert first.name == "cake_solids"
    assert first.blamed > 0.9
    assert first.passed > 0.85
    assert found.joint.passed < 0.3
    assert all(one.passed < 0.35 for one in found.easing[1:])


def test_guard_band_and_sequential_move_risk_to_the_supplier() -> None:
    """The same machine, the same chance to pass: with a band less is promised, and fewer
    machines that miss it pass."""
    plain, *others = (
        of(guarantee(f'rule = "{rule}"'), "cake_solids")
        for rule in ("as read", "guard band", "sequential")
    )
    for other in others:
        assert other.recommended.value < plain.recommended.value
        assert other.recommended.wrong_pass < plain.recommended.wrong_pass
    # three runs: t of their freedom, not the normal quantile
    assert others[0].guard > 1.2816 * 0.9 * others[0].measurement.deviation


@pytest.mark.parametrize("rule", ["guard band", "sequential"])
def test_a_machine_on_its_promise_passes_as_agreed(rule: str) -> None:
    """Played by the rule that judges: the buyer's risk at the promise, with common errors in it."""
    item = of(guarantee(f'rule = "{rule}"\nbuyer_risk = "10 %"'), "capture")
    true, chance = item.curve
    at = float(np.interp(item.recommended.value, true, chance))
    assert at == pytest.approx(0.10, abs=0.02)


def test_damages_are_money() -> None:
    """The payment by hand: points short times their price, capped; a point less saves money."""
    lines = 'cake_solids = "16 %"\ndamages_cake_solids = "20000 EUR"\ndamages_cap = "30000 EUR"'
    found = guarantee(lines, samples=64)
    paid = found.damages
    assert paid is not None
    short = np.maximum(0.16 - brute(found, 64_000)["cake_solids"], 0.0) / 0.01 * 20000
    capped = np.minimum(short, 30000)
    assert paid.expected == pytest.approx(capped.mean(), rel=0.03)
    eased = np.minimum(np.maximum(short - 20000, 0.0), 30000)
    assert paid.steps[0].saved == pytest.approx(capped.mean() - eased.mean(), rel=0.05)
    assert guarantee(samples=64).damages is None


def test_capture_budget_agrees_with_a_general_library() -> None:
    """Three concentrations and the change from run to run, propagated by `uncertainties`."""
    plan_samples, runs, replicates = 3 * 8, 3, 2
    item = of(guarantee(samples=0), "capture")
    cake = of(guarantee(samples=0), "cake_solids").expected.point
    feed = next(line.value for line in item.measurement.lines if line.symbol == "c_f")
    filtrate = next(line.value for line in item.measurement.lines if line.symbol == "c_e")

    def error(between: float, lab: float, bias: float) -> float:
        random = np.hypot(between, lab / np.sqrt(replicates)) / np.sqrt(plan_samples)
        return float(np.hypot(random, bias))

    f = ufloat(feed, feed * error(0.04, 0.015, 0.015))
    c = ufloat(cake, cake * error(0.03, 0.01, 0.01))
    e = ufloat(filtrate, filtrate * error(0.15, 0.05, 0.05))
    result = c * (f - e) / (f * (c - e)) * ufloat(1.0, 0.01 / np.sqrt(runs))
    assert item.measurement.value == pytest.approx(result.nominal_value, rel=1e-9)
    assert item.measurement.deviation == pytest.approx(result.std_dev, rel=1e-4)


def test_more_runs_help_and_what_is_common_stays() -> None:
    """Sixteen runs halve the random part of four; the part common to all runs is untouched."""
    few, many = (of(guarantee(f"runs = {n}", 0), "cake_solids").measurement for n in (4, 16))
    left = many.deviation**2 - many.systematic**2
    assert left == pytest.approx((few.deviation**2 - few.systematic**2) / 4.0)
    assert many.systematic == pytest.approx(few.systematic)


def test_a_margin_inside_the_common_error_cannot_be_proved() -> None:
    """Two percent of cake solids lie inside the error that all runs have in common."""
    item = of(guarantee(), "cake_solids")
    assert item.proof[0] == (0.02, None)


def test_values_asked_for_are_judged() -> None:
    """A value at the median passes half the time; one far below nearly always."""
    found = guarantee('cake_solids = "10 %"\npolymer = "7.8 kg/t"')
    easy, even = of(found, "cake_solids").asked, of(found, "polymer_dose").asked
    assert easy is not None
    assert even is not None
    assert easy.passed > 0.97
    assert even.passed == pytest.approx(0.5, rel=0.1)
    assert of(found, "capture").asked is None


def test_window_and_curve_are_stated() -> None:
    """Feed window rises; the curve passes one half at the promise when read as it is."""
    found = guarantee()
    assert all(w.low < w.typical < w.high for w in found.window[:2])
    assert 64 <= found.inside < 1024
    item = of(found, "capture")
    true, chance = item.curve
    assert np.interp(item.recommended.value, true, chance) == pytest.approx(0.5, abs=0.03)


def test_protocol_carries_the_studys_numbers_and_its_marks() -> None:
    """Runs, length, samples and interval stand in the clauses; recalled practice says so."""
    found = guarantee('runs = 2\nrun_time = "6 h"\nsamples = 12\nlaboratories = 2', 0)
    parts = {part.title: part for part in protocol_of(found)}
    runs = " ".join(parts["Runs and samples"].items)
    for words in ("2 runs", "6 h", "12 samples", "every 30 min", "2 laboratories"):
        assert words in runs
    assert parts["Runs and samples"].mark.value == "from memory"
    assert parts["When a run counts as steady"].mark.value == "judgement"
    assert "Moving rings, screws" in parts["Cautions"].items[0]
    assert "one time in two" in rule_words(found)


@pytest.mark.parametrize(
    ("line", "text"),
    [
        ('supplier_risk = "60 %"', r"guarantee\.supplier_risk: .*too high"),
        ('buyer_risk = "0 %"', r"guarantee\.buyer_risk: .*too low"),
        ("runs = 0", r"guarantee\.runs: got 0"),
        ('rule = "as hoped"', r"guarantee\.rule: got 'as hoped'"),
        ('polymer = "9 kg"', r"guarantee\.polymer"),
    ],
)
def test_bad_terms_are_named(line: str, text: str) -> None:
    """Risks, runs, rules and units that make no sense: place and what is allowed."""
    with pytest.raises(StudyError, match=text):
        guarantee(line, 0)
