"""Offers on one basis: what carries over, what does not, and every fault of a file at once."""

from __future__ import annotations

import pytest

from cakewright.errors import StudyError
from cakewright.jobs.offer_text import Offer, OfferTest, parse_offers, study_name
from cakewright.jobs.offers import compare_offers
from cakewright.reports.offers_page import offers_text
from cakewright.storage.studies import demo_text
from cakewright.study import Study, parse_study

# One sludge, so that an offer tested on it was tested on the site's own.
SITE = """cakewright = 1
title = "t"
[[sludge]]
name = "a"
class = "was"
flow = "200 m3/d"
total_solids = "1.2 %"
"""


def site(text: str = SITE) -> Study:
    """The study the offers are for."""
    return parse_study(text)


def offer(name: str = "A", test: OfferTest | None = None, **figures: float) -> Offer:
    """A belt press with figures in SI."""
    return Offer(name, "belt_press", 1, figures, polymer_counts="active", test=test)


PILOT = OfferTest("pilot", "was", 0.012, None)


def test_an_offer_tested_on_the_sites_sludge_stays_as_it_is() -> None:
    """Same class, same solids: what was found there is what is expected here."""
    found = compare_offers(site(), [offer(test=PILOT, cake_solids=0.17, capture=0.93)]).offers[0]
    for key, stated in (("cake_solids", 0.17), ("capture", 0.93)):
        figure = found.figures[key]
        assert figure.on_site == pytest.approx(stated, rel=0.01)
        assert figure.low is not None
        assert figure.high is not None
        assert figure.low < stated < figure.high


def test_an_easier_sludge_is_taken_off_the_offer() -> None:
    """Cake promised on digested sludge is worth less on excess biological sludge."""
    easy = OfferTest("pilot", "ad_mixed", 0.03, 0.35)
    found = compare_offers(site(), [offer(test=easy, cake_solids=0.24)]).offers[0]
    assert found.figures["cake_solids"].on_site is not None
    assert found.figures["cake_solids"].on_site < 0.21
    assert any("by the published bands" in note for note in found.notes)
    assert any("more ash presses drier" in note for note in found.notes)


def test_a_full_scale_test_leaves_a_narrower_band_than_the_bench() -> None:
    """How far the test carries over is in the band."""
    widths = []
    for kind in ("full scale", "pilot", "bench"):
        test = OfferTest(kind, "was", 0.012)
        figure = compare_offers(site(), [offer(test=test, cake_solids=0.17)]).offers[0].figures
        low, high = figure["cake_solids"].low, figure["cake_solids"].high
        assert low is not None
        assert high is not None
        widths.append(high - low)
    assert widths == sorted(widths)
    assert widths[0] < 0.6 * widths[2]


def test_product_becomes_active_matter_or_is_refused() -> None:
    """10 kg of a 45 % product are 4.5 kg active; without the share, or the basis, no figure."""
    whole = {"polymer": 0.010, "polymer_activity": 0.45}
    product = Offer("A", "belt_press", 1, whole, "product", test=PILOT)
    active = Offer("B", "belt_press", 1, {"polymer": 0.0045}, "active", test=PILOT)
    silent = Offer("C", "belt_press", 1, {"polymer": 0.0045}, "", test=PILOT)
    bare = Offer("D", "belt_press", 1, {"polymer": 0.010}, "product", test=PILOT)
    found = {o.name: o for o in compare_offers(site(), [product, active, silent, bare]).offers}
    one, other = found["A"].figures["polymer"], found["B"].figures["polymer"]
    assert one.on_site == pytest.approx(other.on_site)
    for name in ("C", "D"):
        assert found[name].figures["polymer"].on_site is None
        assert found[name].figures["polymer"].why


def test_without_test_conditions_nothing_is_computed() -> None:
    """Listed, not comparable, with why; last in the list; no figure, no cost."""
    with_test = offer("A", PILOT, cake_solids=0.17)
    without = offer("B", None, cake_solids=0.30, price=1.0)
    found = compare_offers(site(), [without, with_test])
    assert [o.name for o in found.offers] == ["A", "B"]
    last = found.offers[-1]
    assert not last.comparable
    assert last.cost_specific is None
    assert all(figure.on_site is None for figure in last.figures.values())
    assert "no test conditions" in last.notes[0]


def test_a_claim_beyond_all_that_is_published_is_said_to_be_one() -> None:
    """40 % cake from a belt press on biological sludge is taken at the end of the band."""
    found = compare_offers(site(), [offer(test=PILOT, cake_solids=0.40)]).offers[0]
    assert "above everything published" in found.figures["cake_solids"].why
    assert found.figures["cake_solids"].on_site is not None
    assert found.figures["cake_solids"].on_site < 0.30


def test_too_small_is_said() -> None:
    """Throughput below the design week's load is named with both figures."""
    found = compare_offers(site(), [offer(test=PILOT, cake_solids=0.17, throughput=0.001)])
    assert any("too small: 4 kg/h" in note for note in found.offers[0].notes)


def test_cost_follows_the_offered_price() -> None:
    """Twice the price raises the cost by the capital part alone; cheaper stands first."""
    figures = {
        "cake_solids": 0.17,
        "capture": 0.93,
        "polymer": 0.006,
        "power": 1.5e5,
        "wash_water": 0.02,
    }
    study = parse_study(demo_text("valley"))
    test = OfferTest("pilot", "was", 0.01)
    offers = [
        Offer(name, "belt_press", 1, {**figures, "price": price}, "active", test=test)
        for name, price in (("dear", 4e5), ("middle", 2e5), ("cheap", 1e5))
    ]
    found = compare_offers(study, offers).offers
    assert [o.name for o in found] == ["cheap", "middle", "dear"]
    cheap, middle, dear = (o.cost_specific for o in found)
    assert cheap is not None
    assert middle is not None
    assert dear is not None
    assert (dear - middle) == pytest.approx(2.0 * (middle - cheap), rel=1e-9)


BAD = """cakewright_offers = 1
study = "s.toml"
[[offer]]
name = "A"
machine = "mangle"
cake_solids = 0.2
capture = "140 %"
price = "100 USD"
colour = "red"
[offer.test]
kind = "hearsay"
sludge_class = "was"
[[offer]]
name = "A"
machine = "decanter"
machines = 0
"""


def test_an_unlikely_price_is_asked_about_on_the_first_line() -> None:
    """A price with digits lost is kept, named in a note, and never the last word."""
    whole = {"cake_solids": 0.17, "capture": 0.95, "polymer": 0.006, "power": 1.5e5,
             "wash_water": 0.03, "throughput": 0.05}  # fmt: skip
    usual = offer("A", test=PILOT, price=150_000.0, **whole)
    found = compare_offers(site(), [usual, offer("B", test=PILOT, price=240.0, **whole)])
    cheap, other = found.offers
    assert (cheap.name, cheap.price_asked) == ("B", True)
    (asked,) = [note for note in cheap.notes if "a digit was lost" in note]
    assert "the invented catalogue" in asked
    assert not other.price_asked
    lead = offers_text(found).splitlines()[1]
    assert lead.startswith("Offer B")
    assert "asked about first" in lead


def test_what_a_bid_does_not_say_is_told() -> None:
    """The first line says why an offer has no place in the order."""
    found = compare_offers(site(), [offer("A", test=PILOT, cake_solids=0.17)])
    (one,) = found.offers
    assert {"capture", "polymer_dose", "money"} <= set(one.left_out)
    assert "No offer can be named yet" in offers_text(found)


def test_every_fault_of_a_file_is_named_at_once() -> None:
    """Machine, unit, range, currency, unknown key, kind of test, missing solids, doubled name."""
    with pytest.raises(StudyError) as caught:
        parse_offers(BAD, "offers.toml", "EUR")
    text = str(caught.value)
    for words in (
        "offer.0.machine: got 'mangle'",
        "0.2 is out of range",
        "140 % is out of range",
        "USD without a rate",
        "offer.0.colour: got unknown key",
        "'hearsay'",
        "offer.0.test.total_solids: got nothing",
        "'A' twice",
        "offer.1.machines: got 0",
    ):
        assert words in text


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("study = 'x.toml'", "cakewright_offers: got 'nothing'"),
        ("cakewright_offers = 1", "study: got None"),
        ("cakewright_offers = [", "the file"),
    ],
)
def test_a_file_that_is_no_list_of_offers(text: str, words: str) -> None:
    """The head of the file is checked before anything else."""
    with pytest.raises(StudyError, match=words):
        study_name(text, "offers.toml")


def test_a_file_without_offers() -> None:
    """No [[offer]] at all is a fault, not an empty comparison."""
    with pytest.raises(StudyError, match="one or more"):
        parse_offers("cakewright_offers = 1\n", "offers.toml", "EUR")
