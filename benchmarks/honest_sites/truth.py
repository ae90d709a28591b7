"""Draws the truth of a site; README.md says where the ranges come from."""

import numpy as np

from honest_sites.press import FRAMES, respond
from honest_sites.sludge import equilibrium

SETS = {"development": 101, "held_back": 211}
CLASSES = ("was", "industrial_biological", "ad_mixed", "primary_was", "extended_aeration")

# name: (development, held back); uniform
RANGES = {
    "speed_n": ((2.2, 3.2), (1.6, 3.8)),
    "plate_n": ((35, 60), (25, 75)),
    "feed_ts_n": ((0.8, 1.8), (0.4, 2.4)),
    "load_factor": ((0.6, 0.95), (0.45, 1.1)),
    "fill_n": ((0.4, 0.6), (0.3, 0.7)),
    "slip_speed": ((5, 10), (3.5, 14)),
    "slip_power": ((1.2, 2.0), (1.0, 2.5)),
    "water_spare": ((1.6, 2.9), (1.3, 3.5)),
    "stress_share": ((0.7, 1.3), (0.5, 1.7)),
    "work_n": ((1.0, 2.2), (0.7, 3.0)),
    "stay_power": ((0.6, 1.0), (0.4, 1.2)),
    "fill_power": ((0.3, 0.8), (0.1, 1.1)),
    "feed_power": ((0.0, 0.3), (-0.1, 0.45)),
    "stretch": ((0.7, 1.0), (0.6, 1.2)),
    "drained_share": ((0.3, 0.45), (0.25, 0.5)),
    "depth_power": ((0.0, 0.25), (0.0, 0.4)),
    "reach_log": ((0.9, 1.4), (0.7, 1.8)),
    "cake_wiggle": ((0.01, 0.02), (0.01, 0.03)),
    "loss_wiggle": ((0.06, 0.12), (0.04, 0.18)),
    "extruded": ((0.015, 0.04), (0.005, 0.06)),
    "torque_n": ((0.10, 0.22), (0.06, 0.3)),
    "day_cake": ((0.018, 0.022), (0.012, 0.032)),
    "day_loss": ((0.12, 0.2), (0.1, 0.3)),
    "season_vs_sd": ((2.0, 4.0), (1.0, 5.2)),
}
SLUDGE_RANGES = {
    "gel_pct": ((3, 5), (2, 7)),
    "stress_kpa": ((5, 15), (3, 25)),
    "stress_power": ((0.7, 1.0), (0.55, 1.1)),
    "stress_bend": ((0.0, 0.12), (0.0, 0.2)),
    "cake_50_pct": ((18, 27), (15, 33)),
    "ripple": ((0.0, 0.015), (0.0, 0.03)),
    "ripple_phase": ((0, 6.28), (0, 6.28)),
    "compressibility": ((0.7, 1.0), (0.5, 1.2)),
    "compress_bend": ((-0.05, 0.05), (-0.1, 0.1)),
    "blinding": ((0.0, 0.25), (0.0, 0.6)),
    "best_dose": ((5, 11), (3.5, 14)),
    "under": ((1.2, 2.2), (0.8, 3.0)),
    "over": ((0.2, 0.5), (0.1, 0.8)),
    "fines": ((0.02, 0.06), (0.01, 0.09)),
    "vs_pct": ((64, 78), (55, 84)),
}


def draw(rng, ranges, column):
    """One value per row of a table of ranges."""
    return {name: float(rng.uniform(*ends[column])) for name, ends in ranges.items()}


def plausible(w):
    """A ring press as known: cake 12-25 %, capture 85-98 %, at nominal settings."""
    base = nominal(w)
    found = respond(w, w["sludge"], base)
    firm = equilibrium(w["sludge"], 400.0) < 55.0
    good = 12.5 <= found["cake"] <= 23 and 0.85 <= found["capture"] <= 0.98
    return bool(good and found["ran"] and firm)


def nominal(w):
    """The setting the pilot is planned around."""
    frame = w["pilot_frame"]
    return {
        "speed": w["speed_n"],
        "plate": w["plate_n"],
        "load": FRAMES[frame][2] * w["load_factor"],
        "dose": w["best_dose_n"],
        "feed_ts": w["feed_ts_n"],
        "frame": frame,
    }


def draw_truth(set_name, number):
    """The hidden truth of one site; the same for the same arguments."""
    if set_name not in SETS:
        raise ValueError(f"set {set_name!r}: choose from {', '.join(SETS)}")
    column = list(SETS).index(set_name)
    rng = np.random.default_rng([SETS[set_name], number, 1])
    for _ in range(500):
        w = draw(rng, RANGES, column)
        sludge = draw(rng, SLUDGE_RANGES, column)
        sludge["resistance_50"] = float(np.exp(rng.uniform(np.log(4e10), np.log(8e11))))
        w["sludge"] = sludge
        w["best_dose_n"] = sludge["best_dose"]
        w["mechanism"] = str(rng.choice(["saturating", "surface"]))
        if w["mechanism"] == "saturating":  # slow sludges get less far, loosely
            w["work_n"] *= (sludge["resistance_50"] / 2e11) ** -0.15
        else:
            w["work_n"] = float(rng.uniform(0.6, 0.9))
        slope = np.log(
            equilibrium(sludge, 1.2 * w["plate_n"]) / equilibrium(sludge, w["plate_n"])
        ) / np.log(1.2)
        w["slopes"] = {
            "speed": float(rng.uniform(-0.22, -0.05)),
            "plate": float(slope * rng.uniform(0.5, 1.1)),
            "load": float(rng.uniform(-0.2, -0.05)),
            "feed": float(rng.uniform(0.0, 0.12)),
            "dose": float(rng.uniform(0.15, 0.4)),
            "speed_load": float(rng.normal(0, 0.05)),
            "plate_load": float(rng.normal(0, 0.05)),
        }
        for which in ("cake", "loss"):
            w[f"{which}_waves"] = rng.normal(0, 1.6, (6, 5))
            w[f"{which}_phases"] = rng.uniform(0, 2 * np.pi, 6)
        w["scale_error"] = float(rng.normal(0, 0.04))
        w["scale_loss"] = float(rng.normal(0, 0.04))
        w["pilot_frame"] = str(rng.choice(["disc 100 x 2", "disc 150 x 1", "disc 200 x 1"]))
        w["idle_kw"] = float(rng.uniform(0.004, 0.012))
        w["class"] = str(rng.choice(CLASSES))
        if plausible(w):
            w["cake_n"] = respond(w, sludge, nominal(w))["cake"]
            return w
    raise RuntimeError(f"no plausible site in 500 draws: {set_name} {number}")
