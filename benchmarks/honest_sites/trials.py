"""The pilot, the questions put to a site, and the acceptance test that answers each later."""

import numpy as np

from honest_sites.press import FRAMES, respond
from honest_sites.readings import day_effects, heavy, laboratory, read_sample, slip
from honest_sites.sludge import other_batch, other_season
from honest_sites.truth import nominal

HANDLES = ("speed", "plate", "load", "dose")
SPAN = {"speed": (0.7, 1.45), "plate": (0.65, 1.6), "load": (0.7, 1.3), "dose": (0.75, 1.3)}
LIMITS = {"speed": (1.0, 5.0), "plate": (5.0, 150.0), "dose": (2.0, 20.0), "load": (2.0, 216.0)}
BIGGER = {
    "disc 100 x 2": ("disc 150 x 3", "disc 200 x 3", "disc 250 x 3"),
    "disc 150 x 1": ("disc 200 x 3", "disc 250 x 3", "disc 320 x 3"),
    "disc 200 x 1": ("disc 250 x 3", "disc 320 x 2", "disc 320 x 5"),
}


def scaled(setting, factors):
    """A setting with some handles multiplied, kept within what a ring press can be set to."""
    moved = {k: float(np.clip(setting[k] * f, *LIMITS[k])) for k, f in factors.items()}
    return setting | moved


def plan(base, rng):
    """Settings of a pilot: the nominal, handles one at a time, then combinations."""
    runs = [dict(base)]
    for handle in HANDLES:
        low, high = SPAN[handle]
        sides = [low, high] if rng.random() < 0.7 else [float(rng.choice([low, high]))]
        runs += [scaled(base, {handle: f * float(rng.uniform(0.95, 1.05))}) for f in sides]
    for _ in range(int(rng.integers(0, 5))):
        runs.append(scaled(base, {k: float(rng.uniform(*SPAN[k])) for k in HANDLES}))
    if rng.random() < 0.4:
        runs.append(dict(base))
    order = rng.permutation(len(runs))
    keep = int(rng.integers(6, len(runs) + 1))
    runs = [runs[i] for i in sorted(order[:keep])]
    if rng.random() < 0.4:  # the last day's try for the limit, often over it
        push = {"load": float(rng.uniform(1.5, 2.3)), "speed": float(rng.uniform(0.8, 1.0))}
        runs.append(scaled(base, push))
    return runs


def true_mean(found, day, lost):
    """A run's truth under its day: drier or wetter, cleaner or dirtier than the long run."""
    capture = float(np.clip(1.0 - (1.0 - found["capture"]) * lost, 0.3, 0.998))
    return found | {"cake": found["cake"] * day, "capture": capture}


def pilot(w, rng):
    """Runs as read, with the true setting and the true result of each."""
    base = nominal(w)
    settings = plan(base, rng)
    a_day = int(rng.integers(2, 5))
    days = day_effects(w, rng, -(-len(settings) // a_day))
    feeds = [float(np.exp(heavy(rng, 0.07))) for _ in days["cake"]]
    lab = laboratory(rng)
    flow_bias, dose_bias, plate_bias, power_bias = (
        float(rng.normal(0, s)) for s in (0.015, 0.03, 0.04, 0.02)
    )
    runs = []
    for i, wanted in enumerate(settings):
        day = i // a_day
        true = wanted | {
            "load": wanted["load"] * float(np.exp(rng.normal(0, 0.03))),
            "dose": wanted["dose"] * float(np.exp(rng.normal(0, 0.03))),
            "feed_ts": float(np.clip(wanted["feed_ts"] * feeds[day], 0.3, 3.0)),
        }
        found = true_mean(respond(w, w["sludge"], true), days["cake"][day], days["lost"][day])
        read = read_sample(rng, found, true, lab)
        flow = true["load"] / (10.0 * true["feed_ts"])
        row = {
            "run": f"R{i + 1}",
            "day": day + 1,
            "speed": true["speed"],
            "plate": true["plate"] * (1 + plate_bias) * float(np.exp(rng.normal(0, 0.02))),
            "feed_flow": flow * (1 + flow_bias) * float(np.exp(rng.normal(0, 0.01))),
            "feed_ts": read["feed_ts"],
            "dose": true["dose"] * (1 + dose_bias) * true["feed_ts"] / read["feed_ts"],
            "ran": found["ran"],
        }
        if found["ran"]:
            power = found["power"] * (1 + power_bias) * float(np.exp(rng.normal(0, 0.02)))
            row |= {k: read[k] for k in ("cake", "capture", "filtrate_ss")}
            row["power"] = power * slip(rng, 0.02)
        runs.append({"read": row, "setting": true, "true": found})
    return runs


def tried_range(runs):
    """Least and greatest of each handle among the runs that could be held."""
    held = [r["setting"] for r in runs if r["true"]["ran"]]
    return {k: (min(s[k] for s in held), max(s[k] for s in held)) for k in HANDLES}


def setting_for(kind, w, tried, rng):
    """One setting of a kind: inside, edge, beyond, frame."""
    base = nominal(w)
    inner = {}
    for k, (low, high) in tried.items():
        at = float(rng.uniform(0.25, 0.75))
        inner[k] = float(np.exp((1 - at) * np.log(low) + at * np.log(high)))
    setting = base | inner
    if kind in ("edge", "beyond"):
        for handle in rng.permutation(HANDLES)[: int(rng.integers(1, 3))]:
            low, high = tried[str(handle)]
            up = rng.random() < 0.5
            further = float(rng.uniform(1.15, 1.45)) if kind == "beyond" else 1.0
            value = high * further if up else low / further
            setting[str(handle)] = float(np.clip(value, *LIMITS[str(handle)]))
    if kind == "frame":
        frame = str(rng.choice(BIGGER[w["pilot_frame"]]))
        load = setting["load"] * FRAMES[frame][2] / FRAMES[w["pilot_frame"]][2]
        setting["load"] = float(min(load, LIMITS["load"][1]))
        setting["frame"] = frame
    return setting


def outside(kind, setting, tried):
    """Whether a "beyond" setting truly lies beyond after the press's own limits."""
    if kind != "beyond":
        return True
    return any(not 0.93 * a <= setting[k] <= 1.07 * b for k, (a, b) in tried.items())


def questions(w, runs, rng, each=2):
    """Settings to foresee, with the truth today and later and the acceptance test of each."""
    tried = tried_range(runs)
    asked = []
    for kind in ("inside", "edge", "beyond", "frame"):
        for place in range(each):
            for _ in range(60):
                setting = setting_for(kind, w, tried, rng)
                found = respond(w, w["sludge"], setting)
                if found["ran"] and outside(kind, setting, tried):
                    break
            else:
                continue  # the site has no such setting that can be held
            vs = float(np.clip(rng.normal(0, w["season_vs_sd"]), -8, 8))
            soon = other_batch(w["sludge"], rng)
            later = other_season(soon, vs)
            asked.append(
                {
                    "name": f"{kind} {place + 1}",
                    "kind": kind,
                    "setting": setting,
                    "today": found,
                    "vs_shift": vs,
                    "soon": respond(w, soon, setting),
                    "later": respond(w, later, setting),
                    "test_soon": acceptance(w, soon, setting, rng),
                    "test": acceptance(w, later, setting, rng),
                }
            )
    return asked


def acceptance(w, sludge, setting, rng):
    """Several runs on days of their own, sampled by two laboratories; what they found."""
    count = int(rng.integers(3, 6))
    days = day_effects(w, rng, count)
    labs = [laboratory(rng), laboratory(rng)]
    power_bias, flow_bias = float(rng.normal(0, 0.02)), float(rng.normal(0, 0.015))
    runs = []
    for i in range(count):
        here = setting | {"feed_ts": setting["feed_ts"] * float(np.exp(heavy(rng, 0.06)))}
        here["feed_ts"] = float(np.clip(here["feed_ts"], 0.25, 3.3))
        here["dose"] = setting["dose"] * float(np.exp(rng.normal(0, 0.03)))
        found = true_mean(respond(w, sludge, here), days["cake"][i], days["lost"][i])
        samples = [[read_sample(rng, found, here, lab, 0.01) for _ in range(6)] for lab in labs]
        each = {
            k: [float(np.mean([s[k] for s in part])) for part in samples] for k in samples[0][0]
        }
        runs.append(
            {
                "laboratories": each,
                "samples": samples,
                "cake": float(np.mean(each["cake"])),
                "capture": float(np.mean(each["capture"])),
                "feed_ts": float(np.mean(each["feed_ts"])),
                "power": found["power"] * (1 + power_bias) * float(np.exp(rng.normal(0, 0.01))),
                "load": setting["load"] * (1 + flow_bias),
                "true": found,
            }
        )
    mean = {k: float(np.mean([r[k] for r in runs])) for k in ("cake", "capture", "power", "load")}
    return {"runs": runs, "mean": mean}
