"""The press kept apart: other physics, and a controller that turns the screw to hold the level.

Stress grows along the plug by wall drag and sets the cake by a power law; water leaves by flux
through a skin; the floc is a bell over the logarithm of dose, and the paddle breaks it.
"""

import numpy as np

from other_plants.press_main import viscosity_ratio


def floc_quality(p, dose_over_demand):
    """A bell over log dose, skewed: under-dosing costs twice what overdosing does."""
    y = np.log(np.maximum(dose_over_demand, 1e-3) / 1.08)
    width = np.where(y < 0, 0.6, 1.1)
    return np.exp(-0.5 * (y / width) ** 2)


def capacity(p, s, floc):
    """Feed flow the skin passes: flux falls with fines and cold, hardly moves with speed."""
    skin = 1.0 + 2.2 * (1.0 - floc) + 0.7 * s["fat"] + 0.8 * s["age"]
    clean = p["feed_m3_h"] * p["spare_capacity"]
    return (
        clean
        * s["open_gap"] ** 1.3
        * (s["speed"] / p["speed_rpm"]) ** 0.8
        / (skin * viscosity_ratio(s["temperature"] - p["temperature_c"] + 20.0) ** 0.6)
    )


def respond(p, s):
    """As in `press_main`: the line at rest in the state s."""
    floc = floc_quality(p, s["dose"] / s["demand"])
    most = capacity(p, s, floc)
    feed = np.minimum(s["feed_wanted"], 0.99 * most)
    load = np.maximum(feed * s["ts"] * 10.0 / p["load_kg_h"], 0.05)
    speed = s["speed"] / p["speed_rpm"]
    plug = np.clip(load / speed, 0.2, 3.0)
    drag = 1.0 - np.exp(-1.3 * plug)  # share of the plate's stress the plug builds up behind it
    stress = s["pressure"] / p["pressure_kpa"] * drag / (1.0 - np.exp(-1.3)) / s["gap"] ** 0.6
    worth = 0.6 + 0.4 * floc
    sludge = np.exp(-0.016 * (s["vs"] - p["vs_pct"])) * (1 - 0.14 * s["age"]) * (1 - 0.1 * s["fat"])
    cake = p["cake_pct"] * np.maximum(stress, 0.02) ** p["pressure_power"] * worth * sludge
    wet = np.exp(-p["press_rate"] * plug * s["open_gap"] * floc)
    cake = cake * (1.0 - 0.35 * wet) / (1.0 - 0.35 * np.exp(-p["press_rate"]))
    score = 3.1 - 4.0 * (1.0 - floc) - 1.3 * (s["gap"] - 1.0) - 0.5 * (stress - 1.0)
    score = score - 0.8 * s["fat"] - 0.7 * s["age"] + 0.3 * np.log(s["ts"] / p["feed_ts_pct"])
    capture = 1.0 / (1.0 + np.exp(-score))
    torque = 5.0 + 38.0 * np.maximum(stress, 0.02) ** 0.8 * (cake / p["cake_pct"]) ** 4
    torque = torque * (1.0 - 0.35 * s["fat"])
    level = 22.0 + 34.0 * (feed / most) ** 0.67
    return {
        "feed": feed,
        "cake": np.clip(cake, 5.0, 35.0),
        "capture": np.clip(capture, 0.4, 0.99),
        "torque": np.clip(torque, 3.0, 100.0),
        "level": np.clip(level, 5.0, 95.0),
        "floc": floc,
    }
