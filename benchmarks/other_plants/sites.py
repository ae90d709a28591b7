"""Draws of invented sites: one row of ranges per set, one site per (set, number)."""

import numpy as np

SETS = {"development": 11, "held_back": 23, "apart": 37}

# name: (development, held back, apart); uniform between the two ends, "log" where it says so
RANGES = {
    "load_shaft_kg_h": ((25, 60), (8, 72), (14, 22)),
    "feed_ts_pct": ((0.9, 2.2), (0.5, 2.9), (0.7, 1.1)),
    "vs_pct": ((62, 78), (55, 86), (80, 86)),
    "temperature_c": ((14, 20), (10, 28), (24, 30)),
    "temperature_swing_c": ((1.5, 4), (0.5, 7), (3, 6)),
    "demand_kg_t": ((6, 10), (4, 12), (9, 12)),
    "colloid_share": ((0.1, 0.3), (0.05, 0.5), (0.3, 0.5)),
    "dose_over_demand": ((1.0, 1.2), (0.88, 1.3), (0.95, 1.1)),
    "cake_pct": ((16, 20), (13, 24), (13, 16)),
    "speed_rpm": ((2.0, 3.5), (1.2, 4.5), (1.4, 2.0)),
    "pressure_kpa": ((35, 70), (20, 110), (60, 90)),
    "pressure_power": ((0.10, 0.20), (0.05, 0.30), (0.2, 0.3)),
    "press_rate": ((1.3, 2.2), (0.9, 3.0), (1.2, 1.8)),
    "floc_scale": ((0.52, 0.68), (0.42, 0.78), (0.5, 0.6)),
    "loss_base": ((0.010, 0.025), (0.005, 0.045), (0.02, 0.04)),
    "loss_floc": ((0.40, 0.65), (0.25, 0.90), (0.5, 0.7)),
    "loss_gap": ((0.02, 0.045), (0.01, 0.06), (0.02, 0.04)),
    "spare_capacity": ((1.25, 1.55), (1.08, 1.8), (1.2, 1.4)),
    "ts_spread": ((0.05, 0.10), (0.03, 0.18), (0.08, 0.14)),
    "sludge_days": ((2.5, 6), (1.0, 12), (2, 4)),
    "day_spread": ((0.015, 0.025), (0.01, 0.035), (0.02, 0.03)),
    "makeup_g_l": ((2, 4), (1, 5), (3, 5)),
    "wash_m3_h": ((0.15, 0.35), (0.05, 0.6), (0.1, 0.2)),
    "wash_every_min": ((10, 20), (5, 40), (12, 18)),
    "power_shaft_kw": ((0.3, 0.8), (0.2, 1.5), (0.4, 0.6)),
    "weekend_age": ((0.0, 0.25), (0.0, 0.5), (0.2, 0.4)),
    "lab_missing": ((0.04, 0.10), (0.02, 0.25), (0.05, 0.15)),
    "lab_hour": ((8.5, 11), (7.5, 13), (9, 10)),
    "flow_bias": ((-0.02, 0.02), (-0.04, 0.04), (-0.02, 0.02)),
    "solids_meter_bias": ((-0.06, 0.06), (-0.12, 0.12), (-0.1, 0.1)),
    "solids_meter_drift": ((0.01, 0.04), (0.0, 0.08), (0.02, 0.06)),
    "gap_share": ((0.002, 0.01), (0.0, 0.03), (0.005, 0.02)),
}


def draw_site(set_name, number):
    """One invented site as a dict of numbers and words; the same for the same arguments."""
    column = list(SETS).index(set_name)
    rng = np.random.default_rng([SETS[set_name], number, 1])
    p = {name: float(rng.uniform(*ends[column])) for name, ends in RANGES.items()}
    apart = set_name == "apart"
    p["shafts"] = 1 if apart else int(rng.integers(1, 4))
    p["shifts"] = 1 if apart else int(rng.integers(1, 3))
    p["days_a_week"] = int(rng.choice([5, 5, 6, 7] if set_name == "held_back" else [5, 5, 6]))
    p["start_hour"] = 6 if p["shifts"] == 2 else int(rng.choice([6, 7]))
    p["season_phase"] = float(rng.uniform(0, 1))
    p["physics"] = "other" if apart else "main"
    p["speed_by_level"] = apart
    p["flow_controlled"] = bool(rng.random() < 0.6)  # the feed pump follows its flow meter
    p["strength_every"] = int(rng.choice([1, 7, 7, 0]))  # days between strength tests; 0 never
    p["log_nights"] = bool(rng.random() < 0.3)
    p["style"] = int(rng.integers(0, 2))  # how the site writes numbers and titles
    p["key"] = f"invented-{set_name.replace('_', '-')}-{number:03d}"
    load = p["load_shaft_kg_h"] * p["shafts"]
    p["load_kg_h"] = load
    p["feed_m3_h"] = load / (10.0 * p["feed_ts_pct"])
    dose = p["demand_kg_t"] * p["dose_over_demand"]
    p["polymer_per_feed"] = dose * p["feed_ts_pct"] / 100.0 / p["makeup_g_l"]  # m3/m3
    return p


def operators(p, rng):
    """Habits of the crews: factors on speed and dose, readiness to act on a bad result."""
    return [
        {
            "speed": float(np.exp(rng.normal(0, 0.03))),
            "dose": float(np.exp(rng.normal(0, 0.03))),
            "acts": float(rng.uniform(0.15, 0.6)),
            "feed": float(np.exp(rng.normal(0, 0.02))),
        }
        for _ in range(2 + p["shifts"])
    ]
