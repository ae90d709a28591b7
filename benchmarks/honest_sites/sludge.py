"""The true sludge: what pressing, filtering and dosing would show without any error."""

import numpy as np


def equilibrium(w, kpa):
    """Cake solids at rest under a stress; a saturating logarithm with a ripple. [%]"""
    p = np.maximum(np.asarray(kpa, float), 0.05)
    u = np.log1p((p / w["stress_kpa"]) ** w["stress_power"])
    u50 = np.log1p((50.0 / w["stress_kpa"]) ** w["stress_power"])
    rise = (u / (1 + w["stress_bend"] * u)) / (u50 / (1 + w["stress_bend"] * u50))
    cake = w["gel_pct"] + (w["cake_50_pct"] - w["gel_pct"]) * rise
    return cake * (1.0 + w["ripple"] * np.sin(1.7 * np.log(p / 50.0) + w["ripple_phase"]))


def resistance(w, kpa, quality=1.0):
    """Specific resistance at a pressure and floc quality, bent in the logarithm. [m/kg]"""
    x = np.log(np.asarray(kpa, float) / 50.0)
    bent = w["compressibility"] * x + w["compress_bend"] * x**2
    return w["resistance_50"] * np.exp(bent) * np.maximum(quality, 0.02) ** -1.5


def quality(w, dose):
    """Floc quality: 1 at the best dose, falling steeply below and gently above; 0.02 at none."""
    x = np.log(np.maximum(np.asarray(dose, float), 1e-3) / w["best_dose"])
    under = np.exp(-w["under"] * np.minimum(x, 0.0) ** 2)
    over = np.exp(-w["over"] * np.maximum(x - 0.15, 0.0) ** 2)
    return np.maximum(under * over, 0.02)


def viscosity(temperature):
    """Water, Pa s; about 2.4 % per K about 20 degC (from memory)."""
    return 1.0e-3 * np.exp(-0.024 * (np.asarray(temperature, float) - 20.0))


def other_batch(w, rng, size=1.0):
    """The sludge and polymer of another day: like, not the same."""
    return w | {
        "cake_50_pct": w["cake_50_pct"] * np.exp(rng.normal(0, 0.02 * size)),
        "resistance_50": w["resistance_50"] * np.exp(rng.normal(0, 0.15 * size)),
        "best_dose": w["best_dose"] * np.exp(rng.normal(0, 0.06 * size)),
        "fines": w["fines"] * np.exp(rng.normal(0, 0.08 * size)),
    }


def other_season(w, vs_points):
    """More volatile by so many points: wetter (-0.25 a point), slower, hungrier."""
    return w | {
        "cake_50_pct": w["cake_50_pct"] - 0.25 * vs_points,
        "resistance_50": w["resistance_50"] * np.exp(0.03 * vs_points),
        "best_dose": w["best_dose"] * np.exp(0.012 * vs_points),
        "vs_pct": w["vs_pct"] + vs_points,
    }
