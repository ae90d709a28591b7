"""The interface: `plant(set, number)` gives one simulated plant; `numbers(set)` how many."""

import numpy as np

from other_plants.faults import draw_faults, numbers
from other_plants.instruments import laboratory, minute_log, with_nights
from other_plants.plant import simulate
from other_plants.sites import SETS, draw_site

DAYS = 120
__all__ = ["DAYS", "SETS", "numbers", "plant"]


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
