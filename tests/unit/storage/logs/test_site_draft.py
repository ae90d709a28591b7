"""A site file drafted from a study."""

from __future__ import annotations

import pytest

from cakewright.jobs.evaluate import evaluate
from cakewright.storage.logs.site_draft import draft_site
from cakewright.storage.logs.site_file import parse_site
from cakewright.storage.studies import demo_text
from cakewright.study import parse_study


def test_draft_holds_what_the_study_promises_and_pays() -> None:
    """The drafted text is a valid site file: promises are the study's own, power and disposal its
    prices, and the polymer's price is per active mass (price as supplied over activity)."""
    found = evaluate(parse_study(demo_text("soy")), with_press=False)
    site = parse_site(draft_site(found, "Europe/Vienna"))
    givens = {given.where: given.value for given in found.givens}
    assert found.decide is not None
    promised = {p.name: (p.asked or p.recommended).value for p in found.decide.guarantee.promises}
    assert dict(site.promise.values) == pytest.approx(promised, rel=1e-3)
    assert site.prices.power == pytest.approx(givens["prices.power"])
    assert site.prices.cake == pytest.approx(givens["prices.disposal"])
    active = givens["prices.polymer"] / givens["polymer.activity"]
    assert site.prices.polymer == pytest.approx(active, rel=1e-3)
    assert site.plan.zone == "Europe/Vienna"
    assert site.invented is True
