"""A file of offers with the study it names beside it."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

from cakewright.jobs.offer_text import parse_offers, study_name
from cakewright.jobs.offers import OffersFindings, compare_offers
from cakewright.storage.evaluation import beside, frames_of, law_of
from cakewright.storage.studies import demo_text, read_study
from cakewright.storage.texts import read_text
from cakewright.study import parse_study

__all__ = ["compared_file", "demo_offers"]


def compared_file(path: Path) -> OffersFindings:
    """Offers of a file on the study it names."""
    text = read_text(path)
    folder = path.resolve().parent
    study = read_study(beside(folder, study_name(text, path.name), "study"))
    offers = parse_offers(text, path.name, study.word("currency"))
    return compare_offers(study, offers, frames_of(study, folder), law_of(study, folder))


def demo_offers() -> OffersFindings:
    """The invented offers of the soy demonstration."""
    text = files("cakewright.storage").joinpath("data/offers_soy.toml").read_text("utf-8")
    study = parse_study(demo_text("soy"), "soy.toml")
    return compare_offers(study, parse_offers(text, "offers_soy.toml", study.word("currency")))
