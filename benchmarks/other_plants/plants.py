"""The interface: `plant(set, number)` gives one simulated plant; `numbers(set)` how many."""

import numpy as np

from other_plants.faults import draw_faults, numbers
from other_plants.instruments import laboratory, minute_log, with_nights
from other_plants.plant import simulate
from other_plants.sites import SETS, draw_site

DAYS = 120
__all__ = ["DAYS", "SETS", "effect", "numbers", "plant"]


def plant(set_name, number, instruments="full", days=DAYS, keep_true=False):
    """One plant as plain data; the same for the same arguments.

    The truth (physics, faults, crews) does not depend on the instrument set.
    """
    if set_name not in SETS:
        raise ValueError(f"set {set_name!r}: choose from {', '.join(SETS)}")
    if instruments not in ("full", "typical"):
        raise ValueError(f"instruments {instruments!r}: choose full or typical")
    p = draw_site(set_name, number)
    faults = draw_faults(set_name, number, days)
    rng = np.random.default_rng([SETS[set_name], number, 3])
    true, grabs, changes = simulate(p, faults, days, 0, rng)
    log = minute_log(
        p, faults, true, instruments, np.random.default_rng([SETS[set_name], number, 4])
    )
    if p["log_nights"]:
        log = with_nights(p, log, days)
    found = {
        "key": p["key"],
        "set": set_name,
        "number": number,
        "instruments": instruments,
        "days": days,
        "site": p,
        "faults": [fault.label() for fault in faults],
        "changes": changes,
        "log": log,
        "laboratory": laboratory(p, grabs, np.random.default_rng([SETS[set_name], number, 5])),
    }
    if keep_true:
        found["true"] = true
    return found


def effect(set_name, number, days=DAYS):
    """What the faults did: true means of the grown fault over those of a twin without faults.

    A ratio near 1 everywhere means that there was nothing to see but in the instruments.
    """
    p = draw_site(set_name, number)
    faults = draw_faults(set_name, number, days)
    if not faults:
        return {}
    runs = []
    for some in (faults, []):
        rng = np.random.default_rng([SETS[set_name], number, 3])
        runs.append(simulate(p, some, days, 0, rng)[0])
    labels = [fault.label() for fault in faults]
    first = max(label["half_grown_day"] for label in labels)
    last = min(label["end_day"] for label in labels)
    found = {}
    for name in ("feed", "ts", "cake", "filtrate_ss", "filtrate", "polymer", "level", "torque"):
        means = []
        for true in runs:
            day = true["minute"] / 1440.0
            here = (day >= first) & (day <= last) & (true["feed"] > 0)
            means.append(float(np.mean(true[name][here])) if here.any() else float("nan"))
        found[name] = means[0] / means[1]
    return found
