"""The press of the development and held-back sets: drain, then compress, with losses at the gap.

Every relation is our own; README.md says which observation stands behind which.
"""

import numpy as np


def viscosity_ratio(temperature):
    """Water's viscosity over that at 20 degC (from memory: about 2.4 % per K)."""
    return np.exp(-0.024 * (np.asarray(temperature) - 20.0))


def floc_quality(p, dose_over_demand):
    """0 none to about 1 best; falls steeply under need, gently when overdosed."""
    x = np.maximum(dose_over_demand, 0.0)
    under = 1.0 - np.exp(-((x / p["floc_scale"]) ** 2.4))
    over = 1.0 / (1.0 + (np.maximum(x - 1.4, 0.0) / 1.2) ** 2)
    return under * over


def capacity(p, s, floc):
    """Largest feed flow the rings pass. [m3/h]"""
    speed = (s["speed"] / p["speed_rpm"]) ** 0.3
    open_gap = s["open_gap"] * (1.0 - 0.25 * s["fat"])
    free = p["feed_m3_h"] * p["spare_capacity"] * (0.35 + 0.65 * floc)
    return free * speed * open_gap * viscosity_ratio(s["temperature"]) ** -0.2


def respond(p, s):
    """Cake, loss, torque, level share of the line at rest in the state s (arrays by name)."""
    floc = floc_quality(p, s["dose"] / s["demand"])
    most = capacity(p, s, floc)
    feed = np.minimum(s["feed_wanted"], 0.97 * most)
    load = np.maximum(feed * s["ts"] * 10.0 / p["load_kg_h"], 0.05)
    speed = s["speed"] / p["speed_rpm"]
    pressure = s["pressure"] / p["pressure_kpa"] * s["gap"] ** -0.4
    drained = 0.38 * p["cake_pct"] * (0.55 + 0.45 * floc * s["open_gap"])
    reach = 1.0 - np.exp(-p["press_rate"])
    limit = 0.38 * p["cake_pct"] + (0.62 * p["cake_pct"]) / reach
    limit = limit * pressure ** p["pressure_power"] * (0.72 + 0.28 * floc)
    limit = limit - 0.25 * (s["vs"] - p["vs_pct"]) - 1.8 * s["age"] - 1.2 * s["fat"]
    rate = p["press_rate"] * floc**0.8 * s["open_gap"] ** 0.5
    rate = rate * viscosity_ratio(s["temperature"] - p["temperature_c"] + 20.0) ** -0.45
    stay = speed**-0.7 * load**-0.4
    cake = drained + np.maximum(limit - drained, 1.0) * (1.0 - np.exp(-rate * stay))
    fines = p["loss_floc"] * (1.0 - floc) ** 1.2 * (p["feed_ts_pct"] / s["ts"]) ** 0.3
    through = p["loss_gap"] * s["gap"] ** 1.5 * np.maximum(pressure, 0.05) ** 0.7
    through = through * speed**0.5 * load**0.4
    strain = np.maximum(feed / most - 0.9, 0.0)
    loss = p["loss_base"] * (1 + 1.5 * s["fat"] + 1.2 * s["age"]) + fines + through + 0.6 * strain
    fill = (load / speed) ** 0.5
    shear = (cake / p["cake_pct"]) ** 2.6 * np.maximum(pressure, 0.05) ** 0.5
    torque = 8.0 + 30.0 * shear * fill * (1.0 - 0.25 * s["fat"]) * s["gap"] ** -0.3
    level = 30.0 + 28.0 * (feed / most) ** 2
    return {
        "feed": feed,
        "cake": np.clip(cake, 5.0, 40.0),
        "capture": 1.0 - np.clip(loss, 0.01, 0.6),
        "torque": np.clip(torque, 4.0, 100.0),
        "level": np.clip(level, 5.0, 95.0),
        "floc": floc,
    }
