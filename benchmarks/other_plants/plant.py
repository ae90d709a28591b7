"""Run a plant day by day: crews, shifts, wash, laboratory; true minutes and what was labelled."""

import numpy as np

from other_plants import press_main, press_other
from other_plants.faults import severities
from other_plants.sites import operators
from other_plants.sludge import sludge_hours, wander

BURST_MIN = 2  # a rinse lasts this long
RUN_ON_MIN = 20  # screw turns on without feed at the end of the day
LAG_MIN = {"cake": 25.0, "capture": 12.0, "torque": 6.0, "level": 4.0}
COLD_START = {"cake": 0.72, "capture": 0.78, "torque": 0.45, "level": 0.5}


def lagged(values, minutes, start):
    """First-order lag of a minute series from a starting value."""
    out = np.empty_like(values)
    keep = np.exp(-1.0 / minutes)
    now = start
    for i, value in enumerate(values.tolist()):
        now = keep * now + (1.0 - keep) * value
        out[i] = now
    return out


def blinding_hour(p, state, bad, floc, fat):
    """One running hour of deposit and rinse on rinsed and unrinsed rings; share shut."""
    deposit = 0.02 * (1.0 + 6.0 * fat + 2.5 * (1.0 - floc))
    for place, rinse in ((0, 0.35), (1, 0.0)):
        shut = state[place]
        state[place] = min(0.85, shut + deposit * (1 - shut) - (0.03 + rinse) * shut)
    dry = bad["blocked_nozzle"]
    shut = (1 - dry) * state[0] + dry * max(state[1], state[0])
    return min(0.9, max(shut, 0.0) + bad["blinded_gaps"])


def simulate(p, faults, days, first_weekday, rng):
    """True minutes of a plant and its daily grabs before any instrument or laboratory error."""
    model = press_other if p["physics"] == "other" else press_main
    sludge = sludge_hours(p, faults, days, first_weekday, rng)
    crews = operators(p, rng)
    seed = int(rng.integers(0, 2**31))
    sets = {"speed": 1.0, "dose": 1.0, "feed": 1.0, "pressure": 1.0}
    gaps = [0.05, 0.05]
    minutes, grabs, changes = [], [], []
    auto_speed = 1.0
    usual = usual_results(p, model)
    length = 480 * p["shifts"]
    for d in range(days):
        if (d + first_weekday) % 7 >= p["days_a_week"]:
            gaps[1] *= 0.6  # hosed down by hand over the weekend
            continue
        rng = np.random.default_rng([seed, d])  # so that a twin without faults has the same days
        m = np.arange(p["start_hour"] * 60, p["start_hour"] * 60 + length)
        n = len(m)
        t = d + m / 1440.0
        bad = severities(faults, t)
        now = {name: np.interp(t, sludge["day"], sludge[name]) for name in sludge if name != "day"}
        shift = (m - m[0]) // 480
        order = [int(rng.integers(0, len(crews))) for _ in range(p["shifts"])]
        crew = {k: np.array([crews[i][k] for i in order])[shift] for k in ("speed", "dose", "feed")}
        meter = 1.0 + p["flow_bias"] + bad["feed_meter_drift"]
        wanted = p["feed_m3_h"] * sets["feed"] * crew["feed"]
        if p["flow_controlled"]:
            wanted = wanted / meter
        strength = p["makeup_g_l"] * np.exp(rng.normal(0, 0.03)) * (1.0 - bad["thin_makeup"])
        ratio = p["polymer_per_feed"] * sets["dose"] * crew["dose"] * meter  # paced on the meter
        ratio = ratio * (1.0 - bad["polymer_pump_wear"])
        acts = strength * (1 - bad["aged_polymer"]) * (1 - bad["dilution_failure"])
        s = now | {
            "dose": 100.0 * acts * ratio / now["ts"],
            "speed": p["speed_rpm"] * sets["speed"] * crew["speed"],
            "pressure": p["pressure_kpa"] * sets["pressure"] * (1.0 - bad["slack_spring"]),
            "gap": 1.0 + bad["worn_discs"],
            "feed_wanted": wanted,
            "open_gap": np.ones(n),
        }
        for h in range(0, n, 60):
            here = {k: v[h] for k, v in s.items()}
            floc = float(model.floc_quality(p, here["dose"] / here["demand"]))
            worst = {k: float(v[h]) for k, v in bad.items()}
            shut = blinding_hour(p, gaps, worst, floc, float(here["fat"]))
            s["open_gap"][h : h + 60] = here["open_gap"] = (1.0 - shut) / 0.95
            if p["speed_by_level"]:
                s["speed"][h : h + 60] = here["speed"] = p["speed_rpm"] * auto_speed
                level = float(model.respond(p, here)["level"]) + worst["level_wrong"]
                auto_speed = float(np.clip(auto_speed * (1 + 0.6 * (level / 51.0 - 1)), 0.6, 1.8))
        r = model.respond(p, s)
        day_cake = float(np.clip(rng.standard_t(3) / 3**0.5, -4, 4)) * p["day_spread"]
        r["cake"] = r["cake"] * np.exp(day_cake) + wander(rng, n, 0.2, 30)
        lost = (1.0 - r["capture"]) * np.exp(rng.normal(0, 0.12) + wander(rng, n, 0.08, 40))
        r["capture"] = 1.0 - np.clip(lost, 0.004, 0.6)
        r["level"] = r["level"] + wander(rng, n, 1.0, 15)
        for name, lag in LAG_MIN.items():
            r[name] = lagged(r[name], lag, COLD_START[name] * float(r[name][0]))
        feeding = np.arange(n) < n - RUN_ON_MIN
        row = flows(p, s, r, ratio, strength, bad, feeding, m)
        minutes.append(row | {"minute": d * 1440 + m, "shift": shift})
        grab = grab_at(p, row, s, strength, d, m, rng)
        if grab is not None:
            grabs.append(grab)
            acted = crew_reacts(p, sets, grab, crews[order[-1]], usual, rng)
            if acted:
                changes.append({"day": d + 1, "what": acted, "sets": dict(sets)})
    joined = {k: np.concatenate([np.asarray(row[k]) for row in minutes]) for k in minutes[0]}
    return joined, grabs, changes


def flows(p, s, r, ratio, strength, bad, feeding, m):
    """Flows and solids of each minute, closed as a balance."""
    feed = r["feed"] * feeding
    polymer = feed * ratio
    dilution = polymer * np.where(bad["dilution_failure"] > 0, 0.05, 1.0)
    rinse = (m % max(round(p["wash_every_min"]), BURST_MIN + 1)) < BURST_MIN
    wash = rinse * p["wash_m3_h"] * p["wash_every_min"] / BURST_MIN
    wash = wash * (1.0 - 0.7 * bad["blocked_nozzle"])
    solids = feed * s["ts"] * 10.0 + polymer * strength
    cake_solids = solids * r["capture"]
    cake = cake_solids / (r["cake"] / 100.0)
    filtrate = np.maximum(feed + polymer + dilution + wash - cake / 1000.0, 1e-6)
    rest = np.where(feeding, 1.0, 0.6)
    work = r["torque"] * rest / 38.0 * s["speed"] / p["speed_rpm"]
    return {
        "on": np.ones(len(m)),
        "feed": feed,
        "ts": s["ts"],
        "polymer": polymer,
        "polymer_pumped": polymer / np.maximum(1.0 - bad["polymer_pump_wear"], 0.1),
        "wash": wash,
        "filtrate": filtrate,
        "cake_flow": cake,
        "cake": r["cake"],
        "capture": r["capture"],
        "filtrate_ss": (solids - cake_solids) / filtrate * 1000.0,
        "solids_in": solids,
        "dose": 100.0 * strength * ratio / s["ts"],
        "dose_over_demand": s["dose"] / s["demand"],
        "open_gap": s["open_gap"],
        "speed": s["speed"],
        "pressure": s["pressure"] * np.ones(len(m)),
        "torque": r["torque"] * rest,
        "level": r["level"] * rest,
        "power": p["shafts"] * p["power_shaft_kw"] * (0.25 + 0.75 * work) + 0.2,
        "temperature": s["temperature"],
    }


def grab_at(p, row, s, strength, d, m, rng):
    """The day's grab: feed, cake, filtrate, now and then polymer strength; None if not taken."""
    if rng.random() < p["lab_missing"]:
        return None
    at = int(np.clip(p["lab_hour"] * 60 + rng.normal(0, 25), m[0] + 70, m[-1] - RUN_ON_MIN - 5))
    i = at - int(m[0])
    told = p["strength_every"] and d % p["strength_every"] == 0
    return {
        "minute": d * 1440 + at,
        "ts": float(s["ts"][i]),
        "cake": float(row["cake"][i]),
        "filtrate_ss": float(np.mean(row["filtrate_ss"][max(i - 5, 0) : i + 1])),
        "strength": float(strength[i]) if told else None,
    }


def crew_reacts(p, sets, grab, crew, usual, rng):
    """What a crew does about the result, if anything; at most one knob a day."""
    if rng.random() < 0.01:
        sets["pressure"] = float(np.clip(sets["pressure"] * rng.choice([0.93, 1.08]), 0.7, 1.4))
        return "pressure"
    wet = grab["cake"] < usual["cake"] - 1.2
    dirty = grab["filtrate_ss"] > 1.6 * usual["filtrate_ss"]
    if not (wet or dirty):
        if rng.random() < 0.12:  # good results: back towards the usual setting, to save polymer
            for knob in ("dose", "speed", "feed"):
                sets[knob] = sets[knob] ** 0.6
            return "back"
        return None
    if rng.random() > crew["acts"]:
        return None
    if dirty or rng.random() < 0.4:
        more = sets["dose"] < 1.15 or rng.random() < 0.3  # much already, and no help: less
        factor = rng.uniform(1.03, 1.12) if more else rng.uniform(0.9, 0.97)
        sets["dose"] = float(np.clip(sets["dose"] * factor, 0.75, 1.4))
        return "dose"
    if p["speed_by_level"] or rng.random() < 0.3:
        sets["feed"] = float(np.clip(sets["feed"] * rng.uniform(0.92, 0.98), 0.7, 1.15))
        return "feed"
    sets["speed"] = float(np.clip(sets["speed"] * rng.uniform(0.9, 0.97), 0.65, 1.3))
    return "speed"


def usual_results(p, model):
    """What crews are used to: the line at its usual settings on its usual sludge."""
    s = {"ts": p["feed_ts_pct"], "vs": p["vs_pct"], "temperature": p["temperature_c"]}
    s |= {"age": 0.05, "fat": 0.03, "demand": p["demand_kg_t"], "open_gap": 1.0, "gap": 1.0}
    s |= {"dose": p["demand_kg_t"] * p["dose_over_demand"], "feed_wanted": p["feed_m3_h"]}
    r = model.respond(p, s | {"speed": p["speed_rpm"], "pressure": p["pressure_kpa"]})
    lost = float(1.0 - r["capture"]) * p["feed_ts_pct"] * 1e4
    return {"cake": float(r["cake"]), "filtrate_ss": lost}
