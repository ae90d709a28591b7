"""What comes to the line, hour by hour: correlated, with season, week and faults of the sludge."""

import numpy as np

from other_plants.faults import severities


def wander(rng, steps, sd, scale):
    """First-order Markov noise of standard deviation sd, correlated over `scale` steps."""
    keep = float(np.exp(-1.0 / scale))
    kicks = rng.normal(0, sd * np.sqrt(1 - keep**2), steps)
    out = np.empty(steps)
    value = float(rng.normal(0, sd))
    for i in range(steps):
        value = keep * value + kicks[i]
        out[i] = value
    return out


def sludge_hours(p, faults, days, first_weekday, rng):
    """Feed solids, volatile solids, temperature, age, fat and demand at each hour of the log."""
    hours = np.arange(days * 24 + 1)
    day = hours / 24.0
    n = len(hours)
    bad = severities(faults, day)
    year = np.cos(2 * np.pi * (day / 365.0 + p["season_phase"]))
    weekday = (np.floor(day).astype(int) + first_weekday) % 7
    since = np.where(weekday == 0, 1.0, np.where(weekday == 1, 0.35, 0.0))  # stock of the weekend
    slow = wander(rng, n, p["ts_spread"], 24 * p["sludge_days"])
    fast = wander(rng, n, 0.4 * p["ts_spread"], 5.0)
    ts = p["feed_ts_pct"] * np.exp(slow + fast + 0.04 * year + 0.05 * since)
    ts = ts * (1.0 - bad["thin_feed"])
    vs = p["vs_pct"] + 1.2 * year + wander(rng, n, 1.0, 24 * p["sludge_days"])
    vs = vs + 9.0 * bad["season_change"]
    temperature = p["temperature_c"] - p["temperature_swing_c"] * year
    temperature = temperature + wander(rng, n, 0.6, 30.0) - 9.0 * bad["season_change"]
    age = np.clip(p["weekend_age"] * since + np.abs(wander(rng, n, 0.05, 48.0)), 0, 1)
    age = np.clip(age + bad["septic_sludge"], 0, 1.2)
    fat = np.clip(np.abs(wander(rng, n, 0.04, 36.0)) + bad["oil_surge"], 0, 1.2)
    own = np.exp(wander(rng, n, 0.05, 24 * p["sludge_days"]))
    solid = p["demand_kg_t"] * (1.0 - p["colloid_share"])
    colloid = p["demand_kg_t"] * p["colloid_share"] * p["feed_ts_pct"]  # per volume, not per solid
    kind = 1.0 + 0.015 * (vs - p["vs_pct"]) + 0.35 * age + 0.2 * fat
    demand = own * kind * (solid + colloid / np.maximum(ts, 0.1))
    return {
        "day": day,
        "ts": np.clip(ts, 0.15, 6.0),
        "vs": np.clip(vs, 40, 95),
        "temperature": np.clip(temperature, 3, 40),
        "age": age,
        "fat": fat,
        "demand": demand,
    }
