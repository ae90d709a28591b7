"""What a study cannot be evaluated with, found before anything is worked out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from cakewright.economics.price_book import price_book
from cakewright.errors import Fault
from cakewright.jobs.draws import study_draws
from cakewright.jobs.streams import feed_of
from cakewright.machines import Frame, shipped_catalogue
from cakewright.sludge import load_cases
from cakewright.study import Study

__all__ = ["study_faults"]


def study_faults(study: Study, frames: Sequence[Frame] | None = None) -> list[Fault]:
    """Currencies without a rate, and cases that contradict each other; all of them."""
    found = [*_currencies(study, frames or shipped_catalogue()), *_cases(study)]
    return [replace(fault, line=study.lines.get(fault.where)) for fault in found]


def _currencies(study: Study, frames: Sequence[Frame]) -> Iterator[Fault]:
    mine, book = study.word("currency"), price_book()["book"]["currency"]
    rated = study.given("prices.catalogue_rate") is not None
    priced = dict.fromkeys(frame.currency for frame in frames)
    foreign = [currency for currency in priced if currency != mine]
    if foreign and not rated:
        yield Fault(
            "prices.catalogue_rate",
            f"machines priced in {', '.join(foreign)}, the study in {mine}, and no rate",
            f"a rate: {mine} for one {foreign[0]}",
            f"write [prices] catalogue_rate = ..., or give a catalogue in {mine}",
        )
    if mine != book and book not in priced and study.given("prices.book_rate") is None:
        yield Fault(
            "prices.book_rate",
            f"tanks, pumps, pipes and room priced in {book}, the study in {mine}, and no rate",
            f"a rate: {mine} for one {book}",
            "write [prices] book_rate = ...",
        )


def _cases(study: Study) -> Iterator[Fault]:
    """A promised throughput that does not even take the mean week in the hours given."""
    asked = study.given("guarantee.throughput")
    if asked is None:
        return
    point = replace(study, words={**study.words, "sampling.samples": 0})
    mix = feed_of(point, study_draws(point, (), ())).mix
    hours, days = study.value("duty.hours_per_day"), study.value("duty.days_per_week")
    mean = load_cases(mix.dry_solids_flow, mix.volume_flow, hours, days).running
    need = float(mean.dry_solids_flow[0])
    if asked.value < need * (1 - 1e-9):
        yield Fault(
            "guarantee.throughput",
            f"{3600 * asked.value:.4g} kg/h of dry solids promised; the mean week then takes "
            f"{24 * hours * need / asked.value:.3g} h on an operating day",
            f"at least {3600 * need:.4g} kg/h, the mean week in {24 * hours:.3g} h on {days:g} d",
            "raise the throughput, or give more hours or days in [duty]",
        )
