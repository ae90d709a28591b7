"""The true press: two mechanisms of our own, one drawn for each site.

`saturating`: stay time and channel fill carry the cake towards its rest under the plate's stress.
`surface`: a smooth random surface with signed slopes, interactions and saturation at the ends.
A setting is a dict: speed [1/min], plate [kPa], load [kg/h], dose [kg/t], feed_ts [%], frame.
"""

import numpy as np

from honest_sites.sludge import equilibrium, quality, viscosity

# frame: shafts, diameter mm, solids limit on excess sludge kg/h (the shipped invented catalogue)
FRAMES = {
    "disc 100 x 2": (2, 100, 7.54),
    "disc 150 x 1": (1, 150, 8.48),
    "disc 200 x 1": (1, 200, 15.1),
    "disc 150 x 3": (3, 150, 25.4),
    "disc 200 x 3": (3, 200, 45.2),
    "disc 250 x 3": (3, 250, 70.7),
    "disc 320 x 2": (2, 320, 77.2),
    "disc 320 x 3": (3, 320, 116.0),
    "disc 320 x 5": (5, 320, 193.0),
}
TORQUE_200 = 610.0  # N m, rated torque of one 200 mm shaft in that catalogue


def conveying(w, speed):
    """Conveyed volume per time against nominal: slip grows with speed."""
    rate = speed / (1.0 + (speed / w["slip_speed"]) ** w["slip_power"])
    best = w["speed_n"] / (1.0 + (w["speed_n"] / w["slip_speed"]) ** w["slip_power"])
    return rate / best


def relative_load(w, setting):
    """Load against the site's nominal load of that frame."""
    return setting["load"] / (FRAMES[setting["frame"]][2] * w["load_factor"])


def fill(w, setting):
    """Share of the channel filled; above 1 the press floods."""
    dense = (setting["feed_ts"] / w["feed_ts_n"]) ** -0.15
    return w["fill_n"] * relative_load(w, setting) * dense / conveying(w, setting["speed"])


def throughput(w, sludge, setting):
    """Most dry solids the press takes at these settings: channel or drainage. [kg/h]"""
    rated = FRAMES[setting["frame"]][2] * w["load_factor"]
    good = quality(sludge, setting["dose"])
    channel = conveying(w, setting["speed"]) / w["fill_n"]
    channel *= (setting["feed_ts"] / w["feed_ts_n"]) ** 0.15
    channel *= (setting["plate"] / w["plate_n"]) ** -0.12
    water = w["water_spare"] * good**0.5 * (setting["feed_ts"] / w["feed_ts_n"]) ** 0.8
    water *= (setting["speed"] / w["speed_n"]) ** 0.2
    return float(rated * min(channel, water))


def logs(w, setting):
    """Logarithms of the setting over nominal, saturating towards the ends."""
    z = {
        "speed": np.log(setting["speed"] / w["speed_n"]),
        "plate": np.log(setting["plate"] / w["plate_n"]),
        "load": np.log(relative_load(w, setting)),
        "feed": np.log(setting["feed_ts"] / w["feed_ts_n"]),
    }
    return {k: w["reach_log"] * np.tanh(v / w["reach_log"]) for k, v in z.items()}


def wiggle(w, setting, which):
    """Smooth departure from any law: random waves over the settings, SD as drawn."""
    x = np.log(setting["dose"] / w["best_dose_n"])
    point = np.array([*logs(w, setting).values(), x])
    waves = np.cos(w[f"{which}_waves"] @ point + w[f"{which}_phases"])
    start = np.cos(w[f"{which}_phases"])  # nothing at nominal
    return float(w[f"{which}_wiggle"] * np.sum(waves - start) / np.sqrt(len(waves) / 2))


def respond(w, sludge, setting):
    """True steady cake [%], capture [1], power [kW], most throughput [kg/h]; whether it can run."""
    shafts, diameter, _ = FRAMES[setting["frame"]]
    full = fill(w, setting)
    most = throughput(w, sludge, setting)
    good = quality(sludge, setting["dose"])
    held = 1.0 - np.exp(-full / 0.12)  # an empty channel holds no plug
    stress = setting["plate"] * held
    rest = float(equilibrium(sludge, w["stress_share"] * stress))
    bigger = diameter / FRAMES[w["pilot_frame"]][1]
    deep = bigger ** w["depth_power"]
    slow = sludge["resistance_50"] / w["sludge"]["resistance_50"]
    cold = viscosity(setting.get("temperature", 18.0)) / viscosity(18.0)
    if w["mechanism"] == "saturating":
        stay = 1.0 / conveying(w, setting["speed"])
        work = w["work_n"] * stay ** w["stay_power"] * (full / w["fill_n"]) ** -w["fill_power"]
        work *= good**0.8 * (setting["feed_ts"] / w["feed_ts_n"]) ** w["feed_power"]
        work *= (slow * cold) ** -0.4 / deep
        drained = w["drained_share"] * rest
        cake = drained + (rest - drained) * (1.0 - np.exp(-(work ** w["stretch"])))
    else:
        z = logs(w, setting)
        b = w["slopes"]
        line = sum(b[k] * z[k] for k in z)
        cross = b["speed_load"] * z["speed"] * z["load"] + b["plate_load"] * z["plate"] * z["load"]
        rest_n = float(equilibrium(sludge, w["stress_share"] * w["plate_n"]))
        cake = w["work_n"] * rest_n * np.exp(line + cross) * good ** b["dose"]
        cake *= (slow * cold) ** -0.08 * deep**-0.25 * held / (1.0 - np.exp(-w["fill_n"] / 0.12))
    cake = float(cake * np.exp(wiggle(w, setting, "cake")))
    if setting["frame"] != w["pilot_frame"]:
        cake *= np.exp(w["scale_error"])
    lost = sludge["fines"] * good**-1.3 * (setting["feed_ts"] / w["feed_ts_n"]) ** -0.35
    push = (setting["plate"] / w["plate_n"]) ** 0.7 * (setting["speed"] / w["speed_n"]) ** 0.9
    lost += w["extruded"] * push * max(full / w["fill_n"], 0.05) ** 0.5
    lost *= float(np.exp(wiggle(w, setting, "loss")))
    if setting["frame"] != w["pilot_frame"]:
        lost *= np.exp(3.0 * w["scale_loss"])
    torque = TORQUE_200 * (diameter / 200.0) ** 2.0 * w["torque_n"]
    stiff = (cake / w["cake_n"]) ** 2.0 if "cake_n" in w else 1.0
    torque *= 0.25 + 0.75 * (setting["plate"] / w["plate_n"]) ** 0.6 * stiff * full / w["fill_n"]
    power = shafts * (w["idle_kw"] * bigger**2 + 2 * np.pi * setting["speed"] / 60 * torque / 1000)
    return {
        "cake": float(np.clip(cake, 4.0, 45.0)),
        "capture": float(np.clip(1.0 - lost, 0.4, 0.995)),
        "power": float(power),
        "throughput": most,
        "fill": float(full),
        "ran": bool(setting["load"] <= most),
    }
