"""Laboratory readings -> law parameters with their covariance, judged for quality."""

from cakewright.bench.candidates import NextTest, rank_next_tests
from cakewright.bench.compressibility import Compressibility, fit_compressibility
from cakewright.bench.dose import DoseFit, dose_test_fit, fit_dose_response
from cakewright.bench.drainage import fit_gravity_drainage
from cakewright.bench.filtration import (
    FiltrationSpread,
    fit_filtration_pressure,
    fit_filtration_rate,
)
from cakewright.bench.fit import Axis, Clue, Clues, Curve, Estimate, Learns, TestFit
from cakewright.bench.joint import JointFit, Misfit, fit_law
from cakewright.bench.kinds import BenchField, BenchKind, bench_kind, bench_kinds
from cakewright.bench.law_curves import cake_solids_curve, resistance_curve
from cakewright.bench.pressing import fit_press_course, fit_pressed_cake
from cakewright.bench.ranking import (
    CoagulantOptimum,
    PolymerRank,
    coagulant_optimum,
    rank_polymers,
)
from cakewright.bench.readings import BadTest, BenchTest, Places, by_response, reading_faults
from cakewright.bench.settling import (
    fit_charge_titration,
    fit_settled_volume,
    fit_zone_settling,
)
from cakewright.bench.solids import fit_solids_dish, fit_solids_filter
from cakewright.bench.straight import LineFit, fit_line, straight_part
from cakewright.bench.suction import fit_capillary_suction, fit_time_to_filter

__all__ = [
    "Axis",
    "BadTest",
    "BenchField",
    "BenchKind",
    "BenchTest",
    "Clue",
    "Clues",
    "CoagulantOptimum",
    "Compressibility",
    "Curve",
    "DoseFit",
    "Estimate",
    "FiltrationSpread",
    "JointFit",
    "Learns",
    "LineFit",
    "Misfit",
    "NextTest",
    "Places",
    "PolymerRank",
    "TestFit",
    "bench_kind",
    "bench_kinds",
    "by_response",
    "cake_solids_curve",
    "coagulant_optimum",
    "dose_test_fit",
    "fit_capillary_suction",
    "fit_charge_titration",
    "fit_compressibility",
    "fit_dose_response",
    "fit_filtration_pressure",
    "fit_filtration_rate",
    "fit_gravity_drainage",
    "fit_law",
    "fit_line",
    "fit_press_course",
    "fit_pressed_cake",
    "fit_settled_volume",
    "fit_solids_dish",
    "fit_solids_filter",
    "fit_time_to_filter",
    "fit_zone_settling",
    "rank_next_tests",
    "rank_polymers",
    "reading_faults",
    "resistance_curve",
    "straight_part",
]
