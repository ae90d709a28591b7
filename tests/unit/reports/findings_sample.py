"""An invented set of findings of the usual size, for tests of what is made from findings.

The site, the prices and every number are made up; the balance and the calculation lines are
worked out here so that they close.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from tests.unit.line.lines_for_tests import small_line

from cakewright.jobs.findings import (
    Answer,
    Caution,
    Decision,
    Findings,
    FrameFinding,
    OptionFinding,
    Question,
    SludgeFinding,
    Verdict,
)
from cakewright.line import Cake, FeedSludge, design
from cakewright.line.balance import Balance
from cakewright.quantities import Basis, CalculationLine, Figure, Given, Mark, Status, Term

HOUR = 3600.0
DAY = 86400.0
TON_KWH = 3.6e6 / 1000.0

_RANDOM = np.random.default_rng(7)
_DRAWS = _RANDOM.standard_normal(200)


def figure(
    name: str,
    value: float,
    spread: float = 0.08,
    basis: Basis = Basis.PUBLISHED,
    mark: Mark = Mark.NONE,
    source: str | None = "P17",
    note: str = "",
) -> Figure:
    """A figure whose samples spread normally round its point."""
    samples = np.concatenate([[value], value * (1.0 + spread * _DRAWS)]) if spread else [value]
    return Figure(name, np.asarray(samples, dtype=float), basis, mark, source, note)


def option_figures(
    cake: float,
    capture: float,
    dose: float,
    energy_kwh_t: float,
    wash_m3_t: float,
    hours: float,
    mark: Mark = Mark.NONE,
) -> Mapping[str, Figure]:
    """The figures compared side by side for one kind of machine."""
    return {
        "cake_solids": figure("cake_solids", cake, 0.09, mark=mark),
        "capture": figure("capture", capture, 0.015, mark=mark),
        "polymer_dose": figure("polymer_dose", dose / 1000, 0.14, mark=mark),
        "specific_energy": figure("specific_energy", energy_kwh_t * TON_KWH, 0.15, mark=mark),
        "wash_water_specific": figure(
            "wash_water_specific", wash_m3_t / 1000, 0.2, Basis.PRACTICE, mark, "PRACTICE"
        ),
        "run_hours_per_day": figure("run_hours_per_day", hours / 24, 0.06, source="OWN"),
    }


def reason(
    rule: str,
    answer: Answer,
    text: str,
    name: str,
    value: float,
    limit: float,
    basis: Basis = Basis.PRACTICE,
    source: str = "PRACTICE",
    mark: Mark = Mark.NONE,
) -> Verdict:
    """One suitability rule's answer."""
    return Verdict(rule, answer, text, name, value, limit, basis, source, mark)


def _options() -> tuple[OptionFinding, ...]:
    thin = "feed solids {} this kind's window"
    multi = OptionFinding(
        "multi_disc_press",
        "multi-disc screw press",
        Answer.SUITS,
        (
            reason(
                "feed solids",
                Answer.SUITS,
                "thin feed is drained by gravity in the first part of the barrel",
                "total_solids",
                0.0125,
                0.02,
            ),
            reason(
                "oil",
                Answer.SUITS,
                "moving rings renew the drained face, so oil does not blind it",
                "oil_share",
                0.12,
                0.30,
                mark=Mark.JUDGEMENT,
                source="JUDGEMENT P17",
            ),
            reason(
                "ash",
                Answer.SUITS,
                "inorganic share well below the usual limit of this kind",
                "ash_share",
                0.14,
                0.40,
            ),
            reason(
                "chloride",
                Answer.WITH_CARE,
                "brine from the tofu line: ask for the steel grade of rings and screw",
                "chloride",
                0.62,
                0.5,
                Basis.ASSUMED,
                "MEM",
                Mark.FROM_MEMORY,
            ),
        ),
        option_figures(0.182, 0.94, 8.5, 22.0, 0.9, 7.1, Mark.JUDGEMENT),
        (
            FrameFinding(
                "ring 200, one shaft",
                False,
                False,
                3,
                1,
                0,
                "solids load",
                "would run 11.3 h on the peak day; 8 h are manned",
                {"power": figure("power", 800.0, 0.0)},
            ),
            FrameFinding(
                "ring 300, two shafts",
                True,
                True,
                1,
                2,
                0,
                "solids load",
                "smallest frame that fits inside the shift with 15 % to spare",
                {"power": figure("power", 1900.0, 0.0)},
            ),
            FrameFinding(
                "ring 300, three shafts",
                True,
                False,
                1,
                3,
                0,
                "solids load",
                "fits with one shaft out of service; dearer, and not needed with such storage",
                {"power": figure("power", 2600.0, 0.0)},
            ),
        ),
        "Performance comes from screen-drum rows widened by judgement: no trial of this kind "
        "could be read. A pilot day would replace it.",
    )
    drum = OptionFinding(
        "screen_drum_press",
        "screen-drum screw press",
        Answer.WITH_CARE,
        (
            reason(
                "feed solids",
                Answer.WITH_CARE,
                thin.format("below"),
                "total_solids",
                0.0125,
                0.02,
            ),
            reason(
                "oil",
                Answer.WITH_CARE,
                "the screen is only scraped; hot rinsing is needed with this much oil",
                "oil_share",
                0.12,
                0.10,
                mark=Mark.JUDGEMENT,
                source="JUDGEMENT",
            ),
            reason("ash", Answer.SUITS, "well below the limit", "ash_share", 0.14, 0.60),
        ),
        option_figures(0.187, 0.92, 9.5, 25.0, 1.4, 7.4),
        (),
        "",
    )
    belt = OptionFinding(
        "belt_press",
        "belt press",
        Answer.DOES_NOT_SUIT,
        (
            reason(
                "oil",
                Answer.DOES_NOT_SUIT,
                "oil blinds the cloth between washes",
                "oil_share",
                0.12,
                0.06,
                Basis.PUBLISHED,
                "P06",
            ),
            reason(
                "feed solids",
                Answer.WITH_CARE,
                "thin feed asks for a long gravity zone",
                "total_solids",
                0.0125,
                0.015,
                Basis.PUBLISHED,
                "P01",
            ),
        ),
        option_figures(0.165, 0.93, 7.0, 48.0, 14.5, 7.6),
        (),
    )
    decanter = OptionFinding(
        "decanter",
        "decanter",
        Answer.WITH_CARE,
        (
            reason(
                "oil",
                Answer.WITH_CARE,
                "froth floats: light solids leave with the centrate unless dosed well",
                "oil_share",
                0.12,
                0.10,
                Basis.PUBLISHED,
                "P08",
            ),
            reason(
                "unattended",
                Answer.SUITS,
                "runs inside the shift only",
                "unattended_hours",
                0.0,
                0.667,
                source="PRACTICE",
            ),
        ),
        option_figures(0.21, 0.95, 9.0, 152.0, 0.8, 6.2),
        (),
    )
    chamber = OptionFinding(
        "chamber_press",
        "chamber press",
        Answer.DOES_NOT_SUIT,
        (
            reason(
                "oil",
                Answer.DOES_NOT_SUIT,
                "oily cake sticks to the cloth and blinds it within a few cycles",
                "oil_share",
                0.12,
                0.05,
                Basis.PUBLISHED,
                "P05",
            ),
        ),
        {"cake_solids": figure("cake_solids", 0.28, 0.1), "capture": figure("capture", 0.97, 0.01)},
        (),
    )
    return multi, drum, belt, decanter, chamber


def _balance() -> Balance:
    """Streams of a small line: 48 m3/d at 1.25 %, cake of 18.2 %."""
    feed = FeedSludge(volume_flow=48 / DAY, total_solids=0.0125)
    return design(small_line(feed=feed, cake=Cake(0.182, 0.94))).balance


BALANCE = _balance()
# The annex rounds the same cake by hand: 94 % of 112.5 kg/h and 0.9 kg/h of polymer.
CAKE_SOLIDS = 0.94 * 112.5 + 0.9


def _givens() -> tuple[Given, ...]:
    return (
        Given(
            "volume_flow",
            48.0 / DAY,
            Basis.MEASURED,
            note="flow meter, mean of six weeks",
            low=41.0 / DAY,
            high=56.0 / DAY,
            where="sludges[0].flow",
            as_written="48 m3/d",
        ),
        Given(
            "total_solids",
            0.0125,
            Basis.MEASURED,
            low=0.010,
            high=0.015,
            where="sludges[0].total_solids",
            as_written="1.25 % ± 0.2 %",
        ),
        Given(
            "oil_share",
            0.12,
            Basis.ASSUMED,
            Mark.JUDGEMENT,
            "JUDGEMENT",
            "froth of a soy works; not analysed",
            0.06,
            0.2,
            where="sludges[0].oil_share",
            as_written="12 %",
        ),
        Given("ash_share", 0.14, Basis.BENCH, source="OWN", where="sludges[1].ash_share"),
        Given(
            "chloride",
            0.62,
            Basis.ASSUMED,
            Mark.FROM_MEMORY,
            "MEM",
            low=0.3,
            high=1.0,
            where="sludges[0].chloride",
        ),
        Given(
            "temperature",
            296.15,
            Basis.ASSUMED,
            Mark.JUDGEMENT,
            "JUDGEMENT",
            default=True,
            where="sludges[0].temperature",
        ),
        Given(
            "capture",
            0.94,
            Basis.PUBLISHED,
            Mark.JUDGEMENT,
            "P17",
            low=0.90,
            high=0.96,
            default=True,
            where="machine.capture",
        ),
        Given(
            "cake_solids",
            0.182,
            Basis.PUBLISHED,
            Mark.JUDGEMENT,
            "P17",
            low=0.16,
            high=0.205,
            default=True,
            where="machine.cake_solids",
        ),
    )


def _lines() -> tuple[CalculationLine, ...]:
    flow = 48.0 / DAY
    daily = flow * 1000.0 * 0.0125
    run = daily / (7.1 / 24.0) * 0.59
    return (
        CalculationLine(
            "feed.dry_solids_flow",
            "What arrives",
            "Dry solids of the froth, mean over the day",
            "m_s",
            "M * TS",
            (
                Term("M", flow * 1000.0, "mass_flow", "measured"),
                Term("TS", 0.0125, "total_solids", "measured"),
            ),
            daily,
            "dry_solids_flow",
            "OWN",
            "any feed thin enough to have the density of water",
            Status.INSIDE,
        ),
        CalculationLine(
            "press.run_hours_per_day",
            "Sizing",
            "Run hours a day",
            "t_d",
            "0.59 * m_s / m_run",
            (
                Term("m_s", daily, "dry_solids_flow"),
                Term("m_run", run, "dry_solids_flow"),
            ),
            0.59 * daily / run,
            "run_hours_per_day",
            "OWN",
        ),
        CalculationLine(
            "balance.cake_solids",
            "Balance",
            "Dry solids leaving in the cake",
            "m_c",
            "η * m_f + m_p",
            (
                Term("η", 0.94, "capture", "published"),
                Term("m_f", 112.5 / HOUR, "dry_solids_flow"),
                Term("m_p", 0.9 / HOUR, "dry_solids_flow"),
            ),
            CAKE_SOLIDS / HOUR,
            "dry_solids_flow",
            "OWN",
            "",
            Status.NO_RANGE,
            "conditioner solids kept apart from the capture",
        ),
        CalculationLine(
            "multi_disc_press.cake_solids",
            "Performance",
            "Cake solids of the multi-disc screw press",
            "TS_c",
            "typical value of the sludge class, thin feed corrected by hand",
            (),
            0.182,
            "cake_solids",
            "P17 JUDGEMENT",
            "0.5 to 2 % feed solids",
            Status.EXTRAPOLATED,
            "no trial of this kind could be read",
            Mark.JUDGEMENT.value,
        ),
        CalculationLine(
            "multi_disc_press.capture",
            "Performance",
            "Capture of the multi-disc screw press",
            "η",
            "(c_f - c_l) * c_c / ((c_c - c_l) * c_f)",
            (
                Term("c_f", 0.0125, "total_solids"),
                Term("c_l", 0.0008, "total_solids"),
                Term("c_c", 0.182, "total_solids"),
            ),
            (0.0125 - 0.0008) * 0.182 / ((0.182 - 0.0008) * 0.0125),
            "capture",
            "P05",
        ),
    )


def _decision(options: tuple[OptionFinding, ...]) -> Decision:
    chosen = options[0]
    return Decision(
        "multi_disc_press",
        "multi-disc screw press",
        "ring 300, two shafts",
        1,
        2,
        0,
        "One multi-disc screw press with two shafts (frame “ring 300, two shafts”), running "
        "7.1 hours on five days a week.",
        (
            "The sludge is thin (1.25 %) and oily (12 % of the dry solids): the moving rings keep "
            "the drained face open where cloths blind.",
            "It fits inside the eight-hour shift with 15 % to spare; one shaft alone still "
            "handles 58 % of the week.",
            "It uses about half the power of a belt press and a seventh of a decanter's.",
        ),
        (
            "Belt press: oil blinds the cloth between washes (12 % against a limit of 6 %).",
            "Chamber press: the oily cake sticks and the cloths blind within a few cycles.",
            "Decanter: suits with care, but needs seven times the power for 2.8 points of cake.",
        ),
        tuple(chosen.figures.values()),
        (
            "Feed between 0.8 and 1.8 % total solids, 10 to 35 °C.",
            "Polymer solution aged at least 45 minutes and used within a day.",
            "One pilot day before the order: no published trial of this kind stands behind the "
            "cake solids.",
        ),
    )


def _sludge(
    name: str, kind: str, label: str, origin: str, solids: float, oil: float
) -> SludgeFinding:
    return SludgeFinding(
        name,
        kind,
        label,
        origin,
        {
            "volume_flow": figure("volume_flow", 24.0 / DAY, 0.1, Basis.MEASURED, source=None),
            "total_solids": figure("total_solids", solids, 0.1, Basis.MEASURED, source=None),
            "oil_share": figure("oil_share", oil, 0.25, Basis.ASSUMED, Mark.JUDGEMENT, "JUDGEMENT"),
            "ash_share": figure("ash_share", 0.14, 0.1, Basis.BENCH, source=None),
        },
    )


def sample_findings() -> Findings:
    """Findings of an invented soy works."""
    options = _options()
    return Findings(
        "Dewatering of froth and excess sludge",
        "Invented soy-drink and tofu works",
        True,
        "The works, its figures, the machine sizes and all prices are made up.",
        1,
        "0.1.0",
        1,
        200,
        "EUR",
        2024,
        _decision(options),
        (
            _sludge(
                "flotation froth",
                "oily_froth",
                "flotation froth with fat",
                "from solids and oil removed",
                0.035,
                0.21,
            ),
            _sludge(
                "excess sludge",
                "was",
                "excess biological sludge",
                "net yield with decay",
                0.008,
                0.02,
            ),
        ),
        _sludge("blend", "oily_froth", "blend as it is fed", "mass-weighted blend", 0.0125, 0.12),
        options,
        BALANCE,
        _givens(),
        (
            Question(
                1,
                "oil_share",
                "sludges[0].oil_share",
                "Have the oil and fat of the froth analysed (three grab samples over one week).",
                "It is assumed, and decides between the screw presses and the decanter.",
                "cake_solids",
                0.46,
            ),
            Question(
                2,
                "total_solids",
                "sludges[0].total_solids",
                "Sample the feed solids hourly for two days.",
                "Run hours follow it in step.",
                "run_hours_per_day",
                0.31,
            ),
            Question(
                3,
                "chloride",
                "sludges[0].chloride",
                "Ask for the chloride of the waste water.",
                "It sets the steel grade, not the size.",
                "cake_solids",
                0.04,
            ),
        ),
        (
            Caution(
                "Screws and conveyors",
                "Turning screws crush even when slow: fixed guards, interlocked covers, and a "
                "personal lock on the isolator before reaching in.",
                "L108",
            ),
            Caution(
                "Polymer",
                "Spilt polymer grows slicker under a hose: absorb and sweep first, then wash.",
                "L110 L41",
            ),
            Caution(
                "Tanks",
                "Stirring stored sludge frees hydrogen sulphide; the nose tires and is no alarm. "
                "Entry by permit only.",
                "L103",
            ),
        ),
        ("Money and carbon are not worked out: the study gives no prices.",),
        _lines(),
        ("What arrives", "Sizing", "Performance", "Balance"),
        study_text='title = "Dewatering of froth and excess sludge"\n',
    )
