"""Promises against tests played out by chance, budgets against a general library."""

from __future__ import annotations

import numpy as np
import pytest
from uncertainties import ufloat

from cakewright.errors import StudyError
from cakewright.jobs.evaluate import evaluate
from cakewright.jobs.guarantee import GuaranteeFindings, Promised
from cakewright.jobs.protocol import protocol_of, rule_words
from cakewright.storage.studies import demo_text
from cakewright.study import parse_study


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


@pytest.mark.parametrize("name", NAMES)
def test_promise_passes_as_often_as_it_says(name: str) -> None:
    """Play the test: a true value from the samples, a normal error, the pass rule; count."""
    # So few samples that the feed window is left out: promise and count are over the same ones.
    # One run of one sample: the test is poor enough that wrong verdicts are worth counting.
    found = guarantee("runs = 1\nsamples = 1\nreplicates = 1", samples=64)
    assert found.inside == 64
    item = of(found, name)
    random = np.random.default_rng(11)
    true = np.tile(item.expected.samples[1:], 100_000)
    read = true + item.measurement.deviation * random.standard_normal(true.size)
    better = 1.0 if item.sense == "at least" else -1.0
    passes = better * (read - item.recommended.value) >= 0
    met = better * (true - item.recommended.value) >= 0
    assert passes.mean() == pytest.approx(item.recommended.passed, rel=0.002)
    assert (met & ~passes).mean() == pytest.approx(item.recommended.wrong_fail, rel=0.1)
    assert (~met & passes).mean() == pytest.approx(item.recommended.wrong_pass, rel=0.1)


@pytest.mark.parametrize("name", [*NAMES, "dry_solids_flow"])
def test_recommended_value_carries_the_suppliers_risk(name: str) -> None:
    """The chance to pass is what the study asks for; a safer promise is an easier one."""
    item = of(guarantee('supplier_risk = "5 %"'), name)
    assert item.recommended.passed == pytest.approx(0.95, abs=1e-6)
    values = [value for _, value in item.ladder]
    assert values == sorted(values, reverse=item.sense == "at least")
    assert dict(item.ladder)[0.95] == pytest.approx(item.recommended.value)


def test_what_the_buyer_may_count_on_holds_after_a_pass() -> None:
    """Of machines that passed, all but the buyer's risk are at least that good."""
    found = guarantee('buyer_risk = "20 %"')
    item = of(found, "cake_solids")
    random = np.random.default_rng(3)
    true = random.choice(item.expected.samples[1:], 400_000)
    read = true + item.measurement.deviation * random.standard_normal(true.size)
    passed = true[read >= item.recommended.value]
    assert np.mean(passed < item.relied_on) == pytest.approx(0.20, abs=0.015)


def test_guard_band_moves_risk_from_buyer_to_supplier() -> None:
    """The same machine, the same chance to pass: with a guard band less is promised, and fewer
    machines that miss it pass."""
    plain, guarded = (
        of(guarantee(f'rule = "{rule}"'), "cake_solids") for rule in ("as read", "guard band")
    )
    assert guarded.guard == pytest.approx(1.2816 * guarded.measurement.deviation, rel=1e-4)
    assert guarded.recommended.value == pytest.approx(plain.recommended.value - guarded.guard)
    assert guarded.recommended.wrong_pass < plain.recommended.wrong_pass


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


@pytest.mark.parametrize("name", ["cake_solids", "capture", "specific_energy"])
def test_number_of_runs_proves_it_at_both_risks(name: str) -> None:
    """Play tests of that many runs: one better by the margin passes, one on the promise fails."""
    found = guarantee('supplier_risk = "10 %"\nbuyer_risk = "10 %"')
    item = of(found, name)
    share, runs = next((s, n) for s, n in item.proof if n is not None and n > 0)
    margin = share * item.recommended.value
    m = item.measurement
    error = np.hypot(m.one_run / np.sqrt(runs), m.systematic)
    random = np.random.default_rng(2)
    read = error * random.standard_normal(400_000)
    cut = 1.2816 * error
    assert np.mean(read > cut) == pytest.approx(0.10, abs=0.005)
    assert np.mean(margin + read < cut) < 0.105
    if runs > 1:
        fewer = np.hypot(m.one_run / np.sqrt(runs - 1), m.systematic)
        assert np.mean(margin + fewer / error * read < 1.2816 * fewer) > 0.10


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
    assert np.interp(item.recommended.value, true, chance) == pytest.approx(0.5)


def test_protocol_carries_the_studys_numbers_and_its_marks() -> None:
    """Runs, length, samples and interval stand in the clauses; recalled practice says so."""
    found = guarantee('runs = 2\nrun_time = "6 h"\nsamples = 12\nlaboratories = 2', 0)
    parts = {part.title: part for part in protocol_of(found)}
    runs = " ".join(parts["Runs and samples"].items)
    for words in ("2 runs", "6 h", "12 samples", "every 30 min", "2 laboratories"):
        assert words in runs
    assert parts["Runs and samples"].mark.value == "from memory"
    assert parts["When a run counts as steady"].mark.value == "judgement"
    assert "Rotating screws" in parts["Cautions"].items[0]
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
