"""A day at the bench with the true sludge: filtration, pressed cakes, a pressing, jars, dishes."""

import numpy as np

from honest_sites.readings import heavy, laboratory
from honest_sites.sludge import equilibrium, other_batch, quality, resistance, viscosity

SOLID_DENSITY = 1450.0
WATER = 998.0


def filtration(w, sludge, rng, kpa, area_cm2=63.6, temperature=18.0, feed_pct=1.5):
    """Time and filtrate volume at constant pressure; resistance grows as fines blind the medium."""
    area = area_cm2 * 1e-4
    alpha = float(resistance(sludge, kpa)) * float(np.exp(rng.normal(0, 0.06)))
    medium = float(rng.uniform(2e9, 8e9)) * (1 + sludge["blinding"])
    mu = float(viscosity(temperature))
    cake = 0.45 * float(equilibrium(sludge, kpa)) / 100.0
    solids = feed_pct / 100.0
    per_volume = WATER * solids / (1.0 - solids / cake)  # kg of solids per m3 of filtrate
    last = 0.75 * 5.0e-4 * (1.0 - solids / cake)
    volume = np.linspace(0, last, 241)
    blind = 1.0 + sludge["blinding"] * (volume / last) ** 2
    free = 1.0 - 0.35 * np.exp(-volume / (0.12 * last))  # the first cake is looser
    through = alpha * per_volume * volume / area * blind * free + medium
    slope = mu * through / (area * kpa * 1e3)
    time = np.concatenate([[0.0], np.cumsum(0.5 * (slope[1:] + slope[:-1]) * np.diff(volume))])
    at = np.linspace(16, 240, 14).astype(int)
    seconds = time[at] * np.exp(rng.normal(0, 0.012, len(at))) + rng.normal(0, 0.25, len(at))
    kept, last_s = [], 0.0
    for i, t in zip(at, seconds, strict=True):  # nobody writes two readings within a second
        if t >= last_s + 0.9:
            kept.append((round(float(t), 1), float(volume[i] * 1e6)))
            last_s = t
    return {
        "pressure": float(kpa),
        "area": area_cm2,
        "temperature": temperature,
        "feed_ts": feed_pct,
        "cake": 100.0 * cake * (1 + heavy(rng, 0.03)),
        "time": [t for t, _ in kept],
        "volume": [v for _, v in kept],
    }


def pressed(sludge, rng, lab, pressures):
    """Cakes at rest, two at each pressure; the highest are not quite at rest when taken out."""
    rows = []
    for kpa in pressures:
        short = 1.0 - 0.03 * np.log10(max(kpa, 20.0) / 20.0)
        for _ in range(2):
            cake = float(equilibrium(sludge, kpa)) * short * (1 + lab["cake"])
            rows.append((float(kpa), cake + heavy(rng, lab["cake_sd"])))
    return rows


def course(sludge, rng, kpa=200.0, area_cm2=20.0, dry_g=6.0):
    """Height of a pressed cake against time: a stretched exponential, not a textbook one."""
    end = float(equilibrium(sludge, kpa)) / 100.0
    begin = 0.55 * end

    def height(solids):
        volume = dry_g * (1e-3 / SOLID_DENSITY + (1 - solids) / solids * 1e-3 / WATER)
        return 1000.0 * volume / (area_cm2 * 1e-4)

    slow = 90.0 * (sludge["resistance_50"] / 2e11) ** 0.5 * float(np.exp(rng.normal(0, 0.1)))
    times = np.concatenate([[0.0], np.geomspace(2, 1800, 18)])
    left = np.exp(-((times / slow) ** 0.75))
    mm = height(end) + (height(begin) - height(end)) * left
    return {
        "pressure": kpa,
        "area": area_cm2,
        "dry_mass": dry_g,
        "time": np.round(times, 1).tolist(),
        "height": (mm + rng.normal(0, 0.03, len(mm))).tolist(),
    }


def jars(sludge, rng, lab, feed_pct):
    """Suction time and filtrate solids over doses from none to past the best, two jars each."""
    best = sludge["best_dose"]
    doses = [0.0, *(round(best * f, 1) for f in (0.35, 0.55, 0.75, 0.95, 1.2, 1.5, 2.0))]
    clean = 7.4 + 6.0 * feed_pct * (sludge["resistance_50"] / 2e11) ** 0.4
    rows = []
    for dose in doses:
        good = float(quality(sludge, dose))
        for _ in range(2):
            suction = clean * good**-1.1 * float(np.exp(heavy(rng, 0.06)))
            lost = min(sludge["fines"] * good**-1.3, 0.9) * (1 + lab["filtrate"])
            filtrate = 1e4 * feed_pct * lost * float(np.exp(heavy(rng, lab["filtrate_cv"])))
            rows.append((dose, suction, filtrate))
    return rows


def dishes(rng, feed_pct, vs_pct):
    """Three drying dishes: empty, with sludge, dried, ignited. [g]"""
    rows = []
    for _ in range(3):
        empty, wet = float(rng.uniform(21, 24)), float(rng.uniform(48, 52))
        dry = wet * feed_pct / 100.0 * float(np.exp(rng.normal(0, 0.012)))
        ash = dry * (1 - vs_pct / 100.0) * float(np.exp(rng.normal(0, 0.01)))
        rows.append((empty, empty + wet, empty + dry, empty + ash))
    return rows


def bench(w, rng):
    """All tests of the bench day, on a batch like the pilot's but not the same."""
    sludge = other_batch(w["sludge"], rng)
    lab = laboratory(rng)
    feed = float(np.clip(w["feed_ts_n"] * np.exp(rng.normal(0, 0.08)), 0.3, 3.0))
    pressures = [25.0, 50.0, 150.0, 500.0][: int(rng.integers(3, 5))]
    return {
        "feed_ts": feed,
        "dose": round(float(w["sludge"]["best_dose"]), 1),
        "filtration": [
            filtration(w, sludge, rng, kpa, feed_pct=feed) for kpa in pressures for _ in range(2)
        ],
        "pressed": pressed(sludge, rng, lab, [20.0, 50.0, 100.0, 200.0, 400.0]),
        "course": course(sludge, rng),
        "jars": jars(sludge, rng, lab, feed),
        "dishes": dishes(rng, feed, sludge["vs_pct"]),
    }
