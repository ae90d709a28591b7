"""What cannot be evaluated is named at `check`, with what to write."""

from __future__ import annotations

from dataclasses import replace

from cakewright.jobs.study_checks import study_faults
from cakewright.machines import shipped_catalogue
from cakewright.storage.studies import demo_text
from cakewright.study import parse_study

SOY = demo_text("soy")
DOLLARS = SOY.replace('"EUR"', '"USD"').replace("EUR/", "USD/")


def test_a_sound_study_has_no_faults() -> None:
    """The demonstration, and the same in dollars with a rate."""
    assert study_faults(parse_study(SOY)) == []
    rated = DOLLARS.replace("[prices]\n", "[prices]\ncatalogue_rate = 1.1\n")
    assert study_faults(parse_study(rated)) == []


def test_a_currency_without_a_rate_is_named() -> None:
    """Machines in EUR, study in USD; with a catalogue in USD the price book still wants a rate."""
    (fault,) = study_faults(parse_study(DOLLARS))
    assert fault.where == "prices.catalogue_rate"
    assert "USD" in fault.got
    frames = [replace(frame, currency="USD") for frame in shipped_catalogue()]
    (fault,) = study_faults(parse_study(DOLLARS), frames)
    assert fault.where == "prices.book_rate"


def test_a_promise_below_the_mean_week_contradicts_the_hours() -> None:
    """118 kg/h come in the hours given: 100 kg/h promised leave sludge in the mean week."""
    (fault,) = study_faults(parse_study(SOY + '\n[guarantee]\nthroughput = "100 kg/h"\n'))
    assert fault.where == "guarantee.throughput"
    assert fault.line is not None
    assert study_faults(parse_study(SOY + '\n[guarantee]\nthroughput = "130 kg/h"\n')) == []
