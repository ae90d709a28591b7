"""What the sludge law says a test should have found: one prediction per kind of clue."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np

from cakewright.bench.fit import Clue, Learns
from cakewright.physics.dose_response import dose_bowl, fines_share_dose
from cakewright.physics.filtration_resistance import specific_resistance_average
from cakewright.physics.water import water_viscosity_iapws
from cakewright.quantities import FloatArray
from cakewright.sludge.law import LAW_PARAMETERS, Space

__all__ = ["MODEL_SPREAD", "SHAPE_SHARE", "cake_solids_at", "predictor", "values_of"]

_WATER = 998.2

#: How far apart two tests of one sludge are beyond their own scatter, on the clue's line:
#: sampling and conditioning, common to all readings of one test. Cake: pooled replicates of one
#: sludge, 1.23 of 29 points (an open data set of centrifuged faecal sludge); others JUDGEMENT.
MODEL_SPREAD: Mapping[Learns, float] = {
    Learns.SOLIDS_DENSITY: 0.01,
    Learns.RESISTANCE: 0.15,
    Learns.MEDIUM: 0.3,
    Learns.CAKE_SOLIDS: 0.04,
    Learns.CONSOLIDATION: 0.5,
    Learns.CREEP_SHARE: 0.3,
    Learns.CREEP_RATE: 0.3,
    Learns.OPTIMUM_DOSE: 0.05,
    Learns.DOSE_CURVATURE: 0.3,
    Learns.DOSE_GAIN: 0.3,
    Learns.FINES: 0.2,
    Learns.FINES_CURVATURE: 0.3,
}

#: Share of that spread by which single readings of a test leave the law's own shape (JUDGEMENT):
#: the coarseness of the law, which more readings of one test do average out.
SHAPE_SHARE = 0.5

Values = Mapping[str, float]
Arrays = Mapping[str, float | FloatArray]


def values_of(theta: FloatArray) -> dict[str, float]:
    """Parameters from their positions on their lines, in the order of `LAW_PARAMETERS`."""
    return {
        name: float(np.exp(x)) if space is Space.LOG else float(1 / (1 + np.exp(-x)))
        for (name, space), x in zip(LAW_PARAMETERS.items(), theta, strict=True)
    }


def cake_fraction(law: Arrays, stress: float | FloatArray) -> FloatArray:
    """Equilibrium solids volume share under a stress: the yield stress read backwards."""
    ratio = np.asarray(stress) / np.asarray(law["yield_scale"])
    growth = (1 + ratio) ** (1 / np.asarray(law["yield_exponent"]))
    return np.asarray(np.minimum(np.asarray(law["gel_point"]) * growth, 0.95))


def cake_solids_at(law: Arrays, stress: float | FloatArray) -> FloatArray:
    """Equilibrium cake solids by mass under a stress."""
    phi, density = cake_fraction(law, stress), np.asarray(law["solids_density"])
    return np.asarray(phi * density / (phi * density + (1 - phi) * _WATER))


At = Mapping[str, FloatArray]


def _resistance(law: Values, at: At) -> FloatArray:
    alpha = specific_resistance_average(
        at["pressure"], law["local_resistance"], law["resistance_exponent"], law["yield_scale"]
    )
    # No dose given means the best dose.
    dose = np.where(np.isnan(at["dose"]), law["optimum_dose"], at["dose"])
    rise = dose_bowl(dose, law["optimum_dose"], law["dose_curvature"], law["dose_gain"])
    return np.asarray(np.log(alpha) + np.asarray(rise))


def _fines(law: Values, at: At) -> FloatArray:
    dose = np.where(np.isnan(at["dose"]), law["optimum_dose"], at["dose"])
    share = fines_share_dose(dose, law["optimum_dose"], law["fines_share"], law["fines_curvature"])
    held = np.clip(np.asarray(share), 1e-9, 1 - 1e-9)
    return np.asarray(np.log(held / (1 - held)))


def _consolidation(law: Values, at: At) -> FloatArray:
    """ln C_e = ln 1/(mu alpha rho_s a_E): the elastic share (1 - B) of the cake's softness."""
    stress = at["pressure"] / 2
    phi = cake_fraction(law, stress)
    softness = 1 / (phi * law["yield_exponent"] * (stress + law["yield_scale"]))
    growth = (1 + stress / law["yield_scale"]) ** law["resistance_exponent"]
    local = law["local_resistance"] * growth
    elastic = softness * (1 - law["creep_share"])
    viscosity = np.asarray(water_viscosity_iapws(at["temperature"]))
    # C_e was found with an assumed density; it goes with the inverse square of that.
    shift = 2 * np.log(law["solids_density"] / at["assumed_density"])
    return np.asarray(shift - np.log(viscosity * local * law["solids_density"] * elastic))


def _creep_share(law: Values, at: At) -> FloatArray:
    return np.asarray(np.log(law["creep_share"] / (1 - law["creep_share"])))


def _log(name: str) -> Callable[[Values, At], FloatArray]:
    return lambda law, at: np.asarray(np.log(law[name]))


_PREDICTIONS: Mapping[Learns, Callable[[Values, At], FloatArray]] = {
    Learns.SOLIDS_DENSITY: _log("solids_density"),
    Learns.RESISTANCE: _resistance,
    Learns.MEDIUM: _log("medium_resistance"),
    Learns.CAKE_SOLIDS: lambda law, at: np.log(cake_solids_at(law, at["pressure"])),
    Learns.CONSOLIDATION: _consolidation,
    Learns.CREEP_SHARE: _creep_share,
    Learns.CREEP_RATE: _log("creep_rate"),
    Learns.OPTIMUM_DOSE: _log("optimum_dose"),
    Learns.DOSE_CURVATURE: _log("dose_curvature"),
    Learns.DOSE_GAIN: _log("dose_gain"),
    Learns.FINES: _fines,
    Learns.FINES_CURVATURE: _log("fines_curvature"),
}

_CONDITIONS = ("pressure", "dose", "temperature", "assumed_density")


def predictor(clues: Sequence[Clue]) -> Callable[[Values], FloatArray]:
    """Function from a law to what each clue should read, clues of one kind worked out at once."""
    groups = []
    for learns in dict.fromkeys(clue.learns for clue in clues):
        rows = [i for i, clue in enumerate(clues) if clue.learns is learns]
        at = {key: np.array([clues[i].at.get(key, np.nan) for i in rows]) for key in _CONDITIONS}
        groups.append((np.array(rows), at, _PREDICTIONS[learns]))

    def predict(law: Values) -> FloatArray:
        found = np.empty(len(clues))
        for rows, at, formula in groups:
            found[rows] = formula(law, at)
        return found

    return predict
