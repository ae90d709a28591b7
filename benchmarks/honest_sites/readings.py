"""How a site reads: laboratories, meters, days, slips. Levels with their source in README.md."""

import numpy as np


def heavy(rng, sd):
    """Student t with three degrees of freedom, scaled to that standard deviation."""
    return float(np.clip(rng.standard_t(3) / np.sqrt(3.0), -8, 8) * sd)


def laboratory(rng):
    """One laboratory's lasting errors and repeatability."""
    return {
        "cake": float(rng.normal(0, 0.015)),
        "feed": float(rng.normal(0, 0.015)),
        "filtrate": float(rng.normal(0, 0.05)),
        "cake_sd": float(rng.uniform(0.25, 0.55)),
        "filtrate_cv": float(rng.uniform(0.08, 0.25)),
        "feed_cv": float(rng.uniform(0.02, 0.04)),
    }


def slip(rng, share=0.05):
    """Factor of a gross misreading, 1 most of the time: 15 % either way or a plain blunder."""
    if rng.random() >= share:
        return 1.0
    return float(rng.choice([0.85, 1.15, 0.85, 1.15, 0.5, 2.0]))


def day_effects(w, rng, days):
    """What a day does to the cake and to what is lost, as factors."""
    cake = [float(np.exp(heavy(rng, w["day_cake"]))) for _ in range(days)]
    lost = [float(np.exp(heavy(rng, w["day_loss"]))) for _ in range(days)]
    return {"cake": cake, "lost": lost}


def filtrate_mg_l(capture, feed_ts, dose, cake):
    """Suspended solids of the filtrate that a capture means. [mg/L]"""
    solids = feed_ts / 100.0
    water = 1.0 + solids * dose / 3.0 - solids * capture / (cake / 100.0)  # 3 kg/m3 make-up
    return (1.0 - capture) * solids / max(water, 0.05) * 1e6


def capture_from(feed_ts, cake, filtrate_ss, dose):
    """The same read backwards, as a person reckons it. [1]"""
    solids, f = feed_ts / 100.0, filtrate_ss * 1e-6
    made = 1.0 + solids * dose / 3.0
    return float(np.clip((solids - f * made) / solids / (1.0 - f / (cake / 100.0)), 0.0, 1.0))


def read_sample(rng, found, setting, lab, gross=0.05):
    """One laboratory's reading of one run: cake, filtrate, feed, and the capture they give."""
    cake = found["cake"] * (1 + lab["cake"]) + heavy(rng, lab["cake_sd"])
    cake = max(cake * slip(rng, gross), 2.0)
    ss = filtrate_mg_l(found["capture"], setting["feed_ts"], setting["dose"], found["cake"])
    ss *= (1 + lab["filtrate"]) * np.exp(heavy(rng, lab["filtrate_cv"])) * slip(rng, gross)
    feed = setting["feed_ts"] * (1 + lab["feed"]) * np.exp(heavy(rng, lab["feed_cv"]))
    return {
        "cake": float(cake),
        "filtrate_ss": float(ss),
        "feed_ts": float(feed),
        "capture": capture_from(feed, cake, ss, setting["dose"]),
    }
