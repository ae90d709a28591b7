"""Offers moved by the sludge law: conditions of the test against the site, and the estimate.

The site's sludge is thickened: of 1.2 % of this class every second draw is squeezed out of the
belt, and where fewer than half have a cake the law is not used, whatever a test then shows.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from cakewright.jobs.offer_carry import How
from cakewright.jobs.offer_law import figure_on_site
from cakewright.jobs.offer_text import Offer, OfferTest, parse_offers
from cakewright.jobs.offers import ComparedOffer, compare_offers
from cakewright.sludge.law import SludgeLaw
from cakewright.sludge.law_prior import prior_of_class
from cakewright.study import Study, parse_study

SITE = """cakewright = 1
title = "t"
[[sludge]]
name = "a"
class = "was"
flow = "100 m3/d"
total_solids = "2.5 %"
temperature = "18 degC"
ash = "25 %"
"""
HERE = OfferTest("pilot", "", 0.025, 0.25, 291.15, 0.006, 0.8, own_sludge=True)


def site(text: str = SITE) -> Study:
    """The study the offers are for."""
    return parse_study(text)


def law() -> SludgeLaw:
    """The usual law of the class as if bench tests had narrowed it to a quarter of its spread."""
    usual = prior_of_class("was")
    return replace(usual, covariance=usual.covariance / 16.0)


def compared(
    test: OfferTest, known: SludgeLaw | None, cake: float = 0.16, text: str = SITE
) -> ComparedOffer:
    """A belt press of 400 kg/h with 16 % cake."""
    figures = {"cake_solids": cake, "capture": 0.93, "polymer": 0.006, "throughput": 400 / 3600}
    offer = Offer("A", "belt_press", 1, figures, "active", test=test)
    return compare_offers(site(text), [offer], law=known).offers[0]


def cake(found: ComparedOffer) -> float:
    """Cake on the site."""
    value = found.figures["cake_solids"].on_site
    assert value is not None
    return value


@pytest.mark.parametrize("spread", [0.0, 0.3])
def test_the_estimate_is_the_conditional_normal(spread: float) -> None:
    """Mean and spread on the logit line agree with the textbook conditional of two normals."""
    rng = np.random.default_rng(5)
    covariance = np.array([[0.09, 0.05], [0.05, 0.06]])
    drawn = rng.multivariate_normal([-1.6, -1.8], covariance, 40_000)
    drawn[0] = (-1.6, -1.8)
    stated, model = 0.20, 0.2
    found, weight = figure_on_site(stated, (drawn[:, 0], drawn[:, 1]), model, spread, 1)
    seen = covariance[0, 0] + model**2 + spread**2
    expected = (covariance[0, 1] + model**2) / seen
    line = np.log(found / (1.0 - found))
    mean = -1.8 + expected * (np.log(stated / (1 - stated)) + 1.6)
    variance = covariance[1, 1] + model**2 - expected * (covariance[0, 1] + model**2)
    assert weight == pytest.approx(expected, rel=0.02)
    assert line[0] == pytest.approx(mean, abs=0.01)
    assert line[1:].mean() == pytest.approx(mean, abs=0.01)
    assert line[1:].var() == pytest.approx(variance, rel=0.03)


def test_under_the_same_conditions_the_figure_stays() -> None:
    """Same sludge, solids, ash, temperature, dose and load: nothing moves but the band."""
    same = replace(HERE, load=None)
    found = compared(same, law())
    figure = found.figures["cake_solids"]
    own = compared(same, law(), cake=0.165)
    assert found.how == How.LAW
    assert figure.weight is not None
    assert figure.weight > 0.7
    assert cake(own) - cake(found) == pytest.approx(0.005 * figure.weight, rel=0.1)
    assert all(c.step in (None, 0.0) for c in found.conditions.values())


@pytest.mark.parametrize(
    ("test", "key"),
    [
        (replace(HERE, load=None, ash=0.35), "ash"),
        (replace(HERE, load=None, temperature=308.15), "temperature"),
        (replace(HERE, load=0.4), "load_share"),
    ],
)
def test_an_easier_test_is_taken_off(test: OfferTest, key: str) -> None:
    """More ash, warmer water or less load pressed drier in the test: the site gets less."""
    plain = replace(HERE, load=None)
    easy = compared(test, law())
    step = easy.conditions[key].step
    assert step is not None
    assert step < -5e-5
    assert cake(easy) < cake(compared(plain, law()))


def test_another_sludge_says_little_beside_the_law() -> None:
    """30 % on digested sludge counts for less than half of what it does on the site's own."""
    other = OfferTest("pilot", "ad_mixed", 0.04, 0.4, 291.15, 0.011)
    there, here = compared(other, law(), 0.30), compared(replace(HERE, load=None), law())
    weights = [o.figures["cake_solids"].weight for o in (there, here)]
    assert weights[0] is not None
    assert weights[1] is not None
    assert weights[0] < 0.5 * weights[1]
    assert cake(there) < 0.25
    assert any("by the law usual for that class" in note for note in there.notes)


def test_without_bench_tests_it_says_what_carries_the_offer() -> None:
    """Own sludge: the law of the class; another: the published bands; both in words."""
    own = compared(HERE, None)
    other = compared(replace(HERE, own_sludge=False, sludge_class="ad_mixed"), None)
    assert own.how == How.PRIOR
    assert any("bench tests would make it this sludge's" in note for note in own.notes)
    assert other.how == How.BAND
    assert other.figures["cake_solids"].weight is None


def test_what_is_not_stated_is_named() -> None:
    """Silent conditions are taken as on the site and asked for."""
    silent = OfferTest("pilot", "", 0.025, own_sludge=True)
    found = compared(silent, law())
    assert any("ash, temperature, load; ask for them" in note for note in found.notes)
    assert found.conditions["ash"].test is None


def test_a_study_with_a_dose_gives_it_to_every_offer() -> None:
    """The conditioning is part of the basis: figures are moved to the dose of the study."""
    study = site(SITE + '[polymer]\ndose = "8 kg/t"\n')
    figures = {"cake_solids": 0.16, "polymer": 0.006, "throughput": 400 / 3600}
    offer = Offer("A", "belt_press", 1, figures, "active", test=replace(HERE, load=None))
    found = compare_offers(study, [offer], law=law()).offers[0]
    polymer = found.figures["polymer"]
    assert polymer.on_site == pytest.approx(0.008)
    assert polymer.how == How.STUDY
    assert found.conditions["dose"].step is not None


TESTED = """[[offer]]
name = "A"
machine = "belt_press"
[offer.test]
kind = "pilot"
sludge = "{sludge}"
total_solids = "1.5 %"
temperature = "70 degF"
dose = "12 lb/ton"
load = "80 %"
"""


def test_conditions_are_read_in_any_unit() -> None:
    """70 degF, 12 lb per short ton and 80 % become SI; own sludge needs no class."""
    (found,) = parse_offers(TESTED.format(sludge="this site's"), "offers.toml", "EUR")
    assert found.test is not None
    assert found.test.own_sludge
    assert found.test.temperature == pytest.approx(294.26, abs=0.01)
    assert found.test.dose == pytest.approx(0.006)
    assert found.test.load == pytest.approx(0.8)
