"""What the plant's instruments and laboratory make of the truth."""

import numpy as np

from other_plants.faults import severities
from other_plants.sludge import wander

# signal: (true name, relative noise, noise in its unit, rounding)
SIGNALS = {
    "feed_flow": ("feed", 0.008, 0.0, 0.01),
    "feed_solids": ("ts", 0.025, 0.0, 0.01),
    "polymer_flow": ("polymer", 0.01, 0.0, 1.0),
    "wash_flow": ("wash", 0.02, 0.0, 0.01),
    "screw_speed": ("speed", 0.002, 0.0, 0.01),
    "screw_torque": ("torque", 0.02, 0.5, 0.5),
    "floc_level": ("level", 0.0, 0.8, 0.5),
    "drive_power": ("power", 0.01, 0.0, 0.01),
    "feed_temperature": ("temperature", 0.0, 0.1, 0.1),
    "filtrate_flow": ("filtrate", 0.012, 0.0, 0.01),
    "cake_flow": ("cake_flow", 0.03, 0.0, 1.0),
    "plate_pressure": ("pressure", 0.01, 0.3, 0.5),
}
FULL_ONLY = ("filtrate_flow", "cake_flow", "plate_pressure")
UNITS = {
    "feed_flow": "m3/h",
    "feed_solids": "%",
    "polymer_flow": "L/h",
    "wash_flow": "m3/h",
    "screw_speed": "1/min",
    "screw_torque": "percent",
    "floc_level": "cm",
    "drive_power": "kW",
    "feed_temperature": "degC",
    "filtrate_flow": "m3/h",
    "cake_flow": "kg/h",
    "plate_pressure": "kPa",
    "machine_on": "1",
}


def minute_log(p, faults, true, instruments, rng):
    """Columns of the minute log by signal name; NaN where nothing was written."""
    n = len(true["minute"])
    day = true["minute"] / 1440.0
    bad = severities(faults, day)
    out = {"minute": true["minute"], "machine_on": true["on"].copy()}
    for k in range(p["shafts"]):
        out[f"shaft_{k + 1}_on"] = true["on"].copy()
    for signal, (name, relative, absolute, step) in SIGNALS.items():
        if instruments == "typical" and signal in FULL_ONLY:
            continue
        value = np.asarray(true[name], float)
        if signal == "polymer_flow":  # typical lines know the pump's speed, not what it delivers
            value = 1000.0 * (true["polymer_pumped"] if instruments == "typical" else value)
        value = value * (1.0 + rng.normal(0, 1, n) * relative) + rng.normal(0, 1, n) * absolute
        value = value * (1.0 + wander(rng, n, 0.01, 12000.0))  # every instrument strays a little
        if signal == "feed_flow":
            value = value * (1.0 + p["flow_bias"] + bad["feed_meter_drift"])
        if signal == "feed_solids":
            drift = wander(rng, n, p["solids_meter_drift"], 8000.0)
            value = value * (1.0 + p["solids_meter_bias"] + drift)
            value = frozen(value, bad["frozen_solids_meter"] > 0)
        if signal == "screw_torque":
            value = value * (1.0 + bad["torque_wrong"])
        if signal == "floc_level":
            value = value + bad["level_wrong"]
        value = np.where(rng.random(n) < 1e-4, value * rng.uniform(0, 3, n), value)  # spikes
        value = np.maximum(np.round(value / step) * step, 0.0)
        out[signal] = blanks(value, p["gap_share"], rng)
    keep = np.ones(n, bool)
    for _ in range(int(rng.poisson(n / 60000.0 * 3))):  # the whole log stops for a while
        at = int(rng.integers(0, n))
        keep[at : at + int(rng.exponential(120)) + 5] = False
    return {name: values[keep] for name, values in out.items()}


def frozen(value, stuck):
    """The value at the first stuck minute, held from there on."""
    if not stuck.any():
        return value
    first = int(np.argmax(stuck))
    return np.where(stuck, value[first], value)


def blanks(value, share, rng):
    """Stretches of missing readings, together about `share` of the log."""
    value = np.asarray(value, float).copy()
    n = len(value)
    for _ in range(int(rng.poisson(share * n / 25.0))):
        at = int(rng.integers(0, n))
        value[at : at + int(rng.exponential(25)) + 1] = np.nan
    return value


def with_nights(p, log, days):
    """The same log with the standing hours written as zeros, every ten minutes."""
    grid = np.arange(0, days * 1440, 10)
    idle = grid[~np.isin(grid // 10, np.unique(log["minute"] // 10))]
    order = np.argsort(np.concatenate([log["minute"], idle]), kind="stable")
    out = {}
    for name, values in log.items():
        fill = idle if name == "minute" else np.zeros(len(idle))
        if name == "feed_temperature":
            fill = np.full(len(idle), round(p["temperature_c"], 1))
        out[name] = np.concatenate([values, fill])[order]
    return out


def laboratory(p, grabs, rng):
    """The daily table: cake SD 0.4 points, filtrate CV 15 %, feed CV 4 %, 2 % gross slips."""
    bias = {name: float(rng.normal(0, 0.015)) for name in ("ts", "cake", "filtrate_ss")}
    rows = []
    for grab in grabs:
        row = {
            "minute": grab["minute"],
            "feed_solids": grab["ts"] * (1 + bias["ts"]) * np.exp(rng.normal(0, 0.04)),
            "cake_solids": grab["cake"] * (1 + bias["cake"]) + rng.normal(0, 0.4),
            "filtrate_solids": grab["filtrate_ss"]
            * (1 + bias["filtrate_ss"])
            * np.exp(rng.normal(0, 0.15)),
            "polymer_strength": None
            if grab["strength"] is None
            else 0.1 * grab["strength"] * np.exp(rng.normal(0, 0.04)),
        }
        if rng.random() < 0.02:
            name = str(rng.choice(["feed_solids", "cake_solids", "filtrate_solids"]))
            row[name] = row[name] * float(rng.choice([0.1, 0.7, 1.4, 10.0]))
        rows.append(row)
    return rows
